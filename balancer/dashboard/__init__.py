"""The pages of the dashboard: thin over :mod:`balancer.kitchen`.

:mod:`work` is the sauce in hand and every way to change it, :mod:`address` carries it in the
page's address, :mod:`session` ties it to the browser session, :mod:`look` draws it. The rest are
the parts of the two pages.
"""
