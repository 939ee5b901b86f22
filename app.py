"""Entry of the dashboard: ``streamlit run app.py``, or ``balancer open``."""

import streamlit as st

from balancer.dashboard import page
from balancer.errors import BalancerError

st.set_page_config(page_title="balancer", layout="wide", initial_sidebar_state="collapsed")

try:
    page.draw()
except BalancerError as error:  # a damaged table or a locked book: one sentence, no traceback
    st.error(str(error))
