"""To the stove: the address of this kitchen on its network, and a code that lets a device in."""

from __future__ import annotations

import time
from html import escape

import streamlit as st

from balancer.cli.serve import MEANING
from balancer.dashboard import address, gate, session
from balancer.door import SESSION_SECONDS, TOKEN_SECONDS, Standing, link
from balancer.qr import picture

START = "balancer open --kitchen"
LEFT = {
    Standing.USED: "This code has let a device in. Make another for the next one.",
    Standing.EXPIRED: "This code has expired. Make another.",
    Standing.UNKNOWN: "This code has ended. Make another.",
}


def draw() -> None:
    """Show how a phone or a tablet on this network opens the same sauces."""
    st.html('<h1 class="b-name">To the stove</h1>')
    kitchen = gate.served()
    if kitchen is None:
        _how_to_start()
        return
    begins = "" if session.work() is None else ", and begins with the sauce in hand"
    st.write(
        f"A phone or a tablet on this network can open the same kitchen book{begins}. Make a code"
        " and scan it there."
    )
    made = str(st.session_state.get("stove_token", ""))
    standing = kitchen.door.standing(made)
    if made and standing is Standing.GOOD:
        _code(kitchen, made)
    elif made:
        st.info(LEFT[standing])
    st.button(
        "Make a new code" if made else "Make a code",
        key="_stove_code",
        type="secondary" if standing is Standing.GOOD else "primary",
        on_click=_make,
        args=(kitchen,),
    )
    st.write(MEANING)
    _let_in(kitchen)


def _how_to_start() -> None:
    st.write(
        "The dashboard is served to this machine only. To use it on a phone or a tablet at the"
        " stove, end it with Ctrl+C where it was started, and start it with"
    )
    st.code(START, language=None)
    st.write("It then shows a code to scan. The sauce in hand stays in this page's address.")
    st.write(MEANING)


def _make(kitchen: gate.Kitchen) -> None:
    work = session.work()
    onward = "" if work is None else f"{session.DRAFT}={address.written(work)}"
    st.session_state["stove_token"] = kitchen.door.issue(onward)
    until = time.localtime(time.time() + TOKEN_SECONDS)
    st.session_state["stove_until"] = time.strftime("%H:%M", until)


def _code(kitchen: gate.Kitchen, token: str) -> None:
    links = [link(address, kitchen.port, token) for address in kitchen.addresses]
    named = escape(" or ".join(links))
    st.html(
        f'<img src="{picture(links[0])}" alt="QR code that lets one device in at'
        f' {escape(links[0], quote=True)}" style="width:17rem;max-width:100%;'
        'image-rendering:pixelated">'
        f'<div>or open there: <b style="overflow-wrap:anywhere">{named}</b></div>'
        f'<div class="b-small">Lets one device in, until'
        f" {st.session_state['stove_until']} by this machine's clock, for"
        f" {SESSION_SECONDS / 3600:.0f} hours.</div>"
    )


def _let_in(kitchen: gate.Kitchen) -> None:
    """How many are in, and a way to send all of them away, for a phone that is lost."""
    devices = kitchen.door.devices()
    if not devices:
        return
    st.write(
        "1 device is let in from the network."
        if devices == 1
        else f"{devices} devices are let in from the network."
    )
    st.button("Send all of them away", key="_stove_away", on_click=kitchen.door.send_away)
    st.caption("The machine that serves stays in; a phone needs a new code.")
