"""An hour at the dashboard, and two tabs beside other programs: in a real browser, one server.

A session begins each sauce from the house sauces, nudges it up and down, says how it tasted, saves
it and opens the next one; the memory of the server and the time of each nudge are read all along.
"""

from __future__ import annotations

import random
import re
import sys
import time
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import numpy as np
from hard_crashes import ended, faults, new_book, refusals, saved, started
from numpy.typing import NDArray
from tally import Row

from balancer.demo import house_sauces
from balancer.store import Store

HERE = Path(__file__).parent
sys.path.append(str(HERE.parent / "dashboard"))

from browsing import browsing, served, settled  # noqa: E402

AXES = ("sweet", "sour", "salt")
#: A later third of the session may take so much more than the one before [1].
MOST_GROWTH = 1.25
#: Growth is judged from so many nudges on: a short session only shows that nothing is lost [1].
LEAST_JUDGED = 100
#: From a press until the page stands still with another number on it [ms].
NUDGE = """
async (key) => {
  const app = document.querySelector('[data-testid=stApp]');
  const text = () => document.querySelector('[data-testid=stMain]').innerText;
  const before = text(), start = performance.now();
  document.querySelector(`.st-key-${key} button`).click();
  return await new Promise((done, fail) => {
    let changed = 0;
    const look = setInterval(() => {
      const now = performance.now();
      if (now - start > 30000) { clearInterval(look); fail('nothing moved'); }
      if (!changed && text() !== before) changed = now - start;
      const still = app.dataset.testScriptState !== 'running';
      if (changed && still) { clearInterval(look); done(changed); }
    }, 10);
  });
}
"""


def memory_mb(url: str) -> float:
    """Memory of the server that listens at an address [MB]."""
    port = f"--port={urlsplit(url).port}"
    total = 0.0
    for folder in Path("/proc").glob("[0-9]*"):
        try:
            words = (folder / "cmdline").read_bytes().split(b"\0")
            if any(port.encode() in word for word in words):
                found = re.search(r"VmRSS:\s+(\d+) kB", (folder / "status").read_text())
                total += 0.0 if found is None else float(found[1]) / 1024.0
        except OSError:  # it has ended meanwhile
            continue
    return total


def press(page: Any, key: str) -> None:
    """Press the button with a key, and wait."""
    page.locator(f".st-key-{key} button").first.click()
    settled(page)


def keep(page: Any, name: str) -> None:
    """Save the sauce in hand under a name."""
    field = page.locator(".st-key-_save_name input")
    field.fill(name)
    field.press("Tab")
    settled(page)
    press(page, "_save")


def hour(folder: Path, sauces: int, nudges: int, tastings: int) -> Row:
    """One sitting after another in one browser; each sauce is saved and its tastings are kept.

    Parameters
    ----------
    folder : Path
    sauces : int
        Number of sauces [1].
    nudges, tastings : int
        Of each sauce [1].
    """
    rng, keys = random.Random(1), sorted(house_sauces())
    took: list[float] = []
    held: list[float] = []
    lost: list[str] = []
    begun = time.perf_counter()
    with served(folder) as url, browsing(folder / "profile") as context:
        for number in range(sauces):
            page = context.new_page()
            page.goto(url)
            page.locator(".st-key-_begin").wait_for()
            settled(page)
            press(page, f"_house_{keys[number % len(keys)]}")
            keep(page, f"sauce {number}")
            for k in range(nudges):
                way = ("_less_", "_more_")[k % 2]
                took.append(float(page.evaluate(NUDGE, way + rng.choice(AXES))))
                held.append(memory_mb(url))
            keep(page, f"sauce {number}")
            for _ in range(tastings):
                press(page, "_too_" + rng.choice(AXES))
                press(page, "_keep_round")
            if page.locator("[data-testid=stException]").count():
                lost.append(f"sauce {number}: the page shows an error of the program")
            page.close()
    store = Store(folder / "kitchen_book.db")
    kept = {r.name: len(store.rounds(r.name)) for r in store.recipes()}
    lost += [f"sauce {n} is not there" for n in range(sauces) if f"sauce {n}" not in kept]
    lost += [f"{name} has {k} rounds" for name, k in kept.items() if k != tastings]
    if len(took) >= LEAST_JUDGED:
        lost += growth("memory", held) + growth("time of a nudge", took)
    return Row(
        "an hour at the dashboard",
        f"{sauces} sauces, {len(took)} nudges, {sauces * tastings} tastings",
        tuple(lost),
        f"{time.perf_counter() - begun:.0f} s; memory {held[0]:.0f} MB, half-way"
        f" {held[len(held) // 2]:.0f} MB, at the end {held[-1]:.0f} MB; a nudge"
        f" {np.median(took):.0f} ms; in the second half {slope(held):+.2f} MB and"
        f" {slope(took):+.1f} ms for 100 nudges",
    )


def slope(values: Sequence[float]) -> float:
    """Growth for 100 steps by the medians of all pairs, Theil and Sen, in the second half.

    In the first half what is kept for later fills up.
    """
    from scipy.stats import theilslopes

    rest: NDArray[np.float64] = np.asarray(values[len(values) // 2 :])
    return 100.0 * float(theilslopes(rest).slope)


def growth(what: str, values: Sequence[float]) -> list[str]:
    """A sentence if the last third takes much more than the one before it."""
    third = len(values) // 3
    before, after = np.median(values[third : 2 * third]), np.median(values[2 * third :])
    if after <= MOST_GROWTH * before:
        return []
    return [f"{what} grew from {before:.0f} to {after:.0f} in the last third of the session"]


def tabs(folder: Path, seconds: float, hands: int = 8) -> Row:
    """Two tabs save one sauce in turn while other programs write the same book.

    A tab that is told that another was faster saves as the next revision, as its button offers.
    """
    book = new_book(folder / "kitchen_book.db")
    children = []
    told = savings = 0
    lost: list[str] = []
    with served(folder) as url, browsing(folder / "profile") as context:
        pages = [context.new_page() for _ in range(2)]
        for page in pages:
            page.goto(url)
            page.locator(".st-key-_begin").wait_for()
            settled(page)
            press(page, f"_house_{sorted(house_sauces())[0]}")
        children = [started(book, f"hand {i}", "--seconds", str(seconds), "--pause", "0.05")
                    for i in range(hands)]  # fmt: skip
        end, turn = time.monotonic() + seconds, 0
        revisions: dict[int, str] = {}
        while time.monotonic() < end:
            page, turn = pages[turn % 2], turn + 1
            page.evaluate(NUDGE, ("_less_", "_more_")[turn // 2 % 2] + "sour")
            keep(page, "two tabs")
            if page.locator(".st-key-_save_over_save button").count():
                told += 1
                press(page, "_save_over_save")
            number = _said(page)
            if number is None:
                lost.append(f"turn {turn}: neither saved nor told why")
            elif number in revisions:
                lost.append(f"revision {number} was reported twice")
            else:
                revisions[number] = f"tab {turn % 2}"
                savings += 1
        each = [ended(child, kill=False) for child in children]
    said = [s for one in each for s in one]
    lost += faults(book, said)
    number, bad = refusals(said)
    lost += bad
    last = Store(book).recipe("two tabs").revision
    lost += [f"revision {n} is there and no tab said so" for n in range(1, last + 1)
             if n not in revisions]  # fmt: skip
    lost += [f"revision {n} was reported and is not there" for n in revisions if n > last]
    return Row(
        f"two tabs and {hands} processes write one book",
        f"{seconds:g} s, {savings} and {saved(said)} savings",
        tuple(lost),
        f"a tab was told {told} times that the other was faster; {number} refused elsewhere",
    )


def _said(page: Any) -> int | None:
    """The revision that the page says it saved."""
    text = page.locator("[data-testid=stAlert]").all_inner_texts()
    found = [re.search(r"revision (\d+)", t) for t in text]
    numbers = [int(f[1]) for f in found if f]
    return numbers[-1] if numbers else None


def rows(long: bool) -> Mapping[str, Any]:
    """The trials by name, in their long or their short form."""
    size: tuple[int, int, int] = (20, 25, 3) if long else (2, 6, 1)
    return {
        "session hour": lambda folder: hour(folder, *size),
        "session tabs": lambda folder: tabs(folder, 60.0 if long else 8.0, 8 if long else 2),
    }
