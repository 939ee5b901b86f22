"""A dashboard and a browser for the tests that need both: chromium, a server, a watched context."""

from __future__ import annotations

import os
import shutil
import socket
import subprocess
import time
import urllib.error
import urllib.request
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest

from balancer.cli.serve import app_file, command
from balancer.dashboard.page import BRING, OF_A_SAUCE, PAGES, SELDOM

FLAGS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]
LOOPBACK = ("127.0.0.1", "localhost")
LEAST_TOUCH_PX = 44
WAIT_MS = 30_000
#: A directory for pictures of the pages; none are made without it.
PICTURE_FOLDER = os.environ.get("BALANCER_PICTURES", "")


def missing(what: str) -> Any:
    """Skip with a reason; where CI asks for the browser tests, fail."""
    if os.environ.get("CI"):
        pytest.fail(f"{what} is missing, and CI asks for the browser tests")
    pytest.skip(f"{what} is missing; install it to run the browser tests")


def chromium() -> str:
    """Where Chromium is."""
    found = shutil.which("chromium") or shutil.which("chromium-browser")
    return str(found or missing("chromium"))


@contextmanager
def served(home: Path, app: Path | None = None) -> Iterator[str]:
    """A server of the dashboard, or of another app with the same options; gives its address."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    words = [str(app) if app and word == str(app_file()) else word for word in command(port)]
    server = subprocess.Popen(
        words,
        env={**os.environ, "BALANCER_HOME": str(home)},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    url = f"http://127.0.0.1:{port}/"
    try:
        until = time.monotonic() + 60
        while True:
            try:
                urllib.request.urlopen(f"{url}_stcore/health", timeout=5).close()
                break
            except (urllib.error.URLError, OSError):
                assert server.poll() is None, "the server ended before it answered"
                assert time.monotonic() < until, "the server did not answer within a minute"
                time.sleep(0.2)
        yield url
    finally:
        server.terminate()
        server.wait(timeout=20)


@contextmanager
def browsing(profile: Path, also: Sequence[str] = (), **options: Any) -> Iterator[Any]:
    """A browser with a new, empty profile; fails where a request leaves the machine.

    ``also`` names further addresses of this machine that it may ask.
    """
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        missing("playwright")
    program = chromium()  # where there is none, playwright itself may not start either
    with sync_playwright() as playwright:
        context = playwright.chromium.launch_persistent_context(
            str(profile), executable_path=program, args=FLAGS, accept_downloads=True, **options
        )
        context.set_default_timeout(WAIT_MS)
        hosts: set[str] = set()
        context.on("request", lambda request: hosts.add(urlsplit(request.url).hostname or ""))
        try:
            yield context
        finally:
            context.close()
        assert hosts - {""}, "no request was recorded, so nothing was watched"
        away = hosts - {"", *LOOPBACK, *also}
        assert not away, f"requests left the machine, to {away}"


def settled(page: Any) -> None:
    """Wait until the page has drawn what was asked for."""
    page.wait_for_timeout(350)
    page.wait_for_function("!document.querySelector('[data-test-script-state=running]')")
    page.wait_for_timeout(250)


def picture(page: Any, name: str) -> None:
    """Keep a picture of the whole page, where ``BALANCER_PICTURES`` names a directory."""
    if PICTURE_FOLDER:
        size = page.viewport_size
        high = page.evaluate("document.querySelector('[data-testid=stMain]').scrollHeight")
        page.set_viewport_size({"width": size["width"], "height": high + 80})
        settled(page)
        page.screenshot(path=f"{PICTURE_FOLDER}/{name}_{size['width']}.png")
        page.set_viewport_size(size)


def page_at(browser: Any, url: str, width: int = 390) -> Any:
    """A page at an address, once its name stands there."""
    page = browser.new_page()
    page.set_viewport_size({"width": width, "height": 900})
    page.goto(url)
    page.get_by_role("heading", level=1).first.wait_for()
    settled(page)
    return page


def doors_at_first() -> list[str]:
    """Words of the doors to other pages before a sauce is in hand."""
    return [*(words for name, (words, _) in PAGES.items() if name not in OF_A_SAUCE), BRING]


def pressed(page: Any, name: str) -> None:
    """Press a button by its words, and wait; a seldom page's stands behind "Other work"."""
    if name in ("Another sauce", BRING, *(PAGES[seldom][0] for seldom in SELDOM)):
        page.get_by_role("button", name="Other work").click()
    page.get_by_role("button", name=name, exact=True).click()
    settled(page)


def small_targets(page: Any) -> Sequence[str]:
    """What a thumb would miss: buttons, folds, switches and fields below 44 px."""
    found = page.evaluate(
        f"""[...document.querySelectorAll(
              'button, summary, [role=button], a[href], textarea, input:not([type=checkbox])'
              + ':not([type=file]):not([type=radio])')]
        .filter(b => b.offsetParent && !b.closest('header') && b.offsetWidth > 1)
        .map(b => [b, b.closest('[data-baseweb=input], [data-baseweb=select]') || b])
        .filter(([b, box]) => Math.min(box.offsetWidth, box.offsetHeight) < {LEAST_TOUCH_PX})
        .map(([b, box]) => `${{b.tagName}} ${{b.innerText || b.ariaLabel}}`
                           + ` ${{box.offsetWidth}}x${{box.offsetHeight}}`)"""
    )
    return [str(line) for line in found]


def too_wide(page: Any) -> str:
    """By how much the page is wider than its window; empty where it fits."""
    inside, wide = page.evaluate(
        "[document.querySelector('[data-testid=stMain]').scrollWidth, window.innerWidth]"
    )
    return "" if inside <= wide else f"the page is {inside} px wide in a window of {wide} px"


def fits(page: Any) -> None:
    """No scrolling to the side, and nothing to press that a thumb would miss."""
    assert not too_wide(page)
    small = small_targets(page)
    assert not small, f"under {LEAST_TOUCH_PX} px: {small}"
