"""What the session holds is of its kind, or it is forgotten before the page is drawn.

A sauce that is forgotten so comes back from the address, which holds it too.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import streamlit as st

from balancer.catalogue import Catalogue
from balancer.dashboard.handing import Wanted
from balancer.dashboard.making import Making
from balancer.dashboard.pasting import Paste
from balancer.dashboard.session import Solved
from balancer.dashboard.work import Work
from balancer.kitchen import Kitchen
from balancer.pot import Correction

_NONE = type(None)
#: Key of the model to the kinds of value that it may hold.
KINDS: Mapping[str, tuple[type, ...]] = MappingProxyType(
    {
        "work": (Work, _NONE),
        "solved": (Solved, _NONE),
        "kitchen": (Kitchen,),
        "foods": (Catalogue,),
        "making": (Making,),
        "pasted": (Paste,),
        "wanted": (Wanted,),
        "corrected": (Correction, _NONE),
        "errand": (tuple, _NONE),
        "taken": (tuple, _NONE),
        "own chosen": (tuple, _NONE),
        "in view": (tuple,),
        **dict.fromkeys(("results", "found", "notes", "seen", "typed"), (dict,)),
        **dict.fromkeys(("page", "stove_token", "stove_until"), (str,)),
        "turns": (int,),
    }
)


def forget_unsound() -> None:
    """Forget every value that is not of its kind."""
    for key, kinds in KINDS.items():
        if key in st.session_state and not isinstance(st.session_state[key], kinds):
            del st.session_state[key]
