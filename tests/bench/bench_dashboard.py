"""Speed of the dashboard in Chromium, as ratios: `python tests/bench/bench_dashboard.py`.

From the press on a nudge to the last new quantity painted, with 20 ingredients and every part of
the page as a cook finds it. References, in the same browser and the same run: the rerun of an empty
Streamlit app (one button, one number), and of one that draws as many elements and widgets of the
same kinds as our page, without any work behind them.
"""

from __future__ import annotations

import shutil
import statistics
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from playwright.sync_api import sync_playwright

sys.path.append(str(Path(__file__).parent.parent / "dashboard"))

from browsing import FLAGS, served

from balancer.dashboard import address
from balancer.dashboard.work import as_it_is, begun, solved
from balancer.demo import house_sauces
from balancer.kitchen import Kitchen

NUDGES, WARM, PAINTS = 50, 4, 7
AIM_P95_MS, AIM_RATIO, AIM_PAINT_RATIO = 400.0, 3.0, 2.0
MORE = (
    "lime juice", "tomato paste", "honey", "apple cider vinegar", "onions", "carrots", "cinnamon",
    "black pepper", "olive oil", "fish sauce", "orange juice", "cumin seed", "mustard seed",
)  # fmt: skip

EMPTY = """
import streamlit as st
st.html("<h1>an empty page</h1>")
count = st.session_state.setdefault("count", 0)
def press():
    st.session_state["count"] += 1
BUTTONS, NUMBERS, TEXTS, TOGGLES, HTML = {counts!r}
st.button("less", on_click=press)
for i in range(BUTTONS):
    st.button(f"button {{i}}", key=f"b{{i}}")
for i in range(NUMBERS):
    st.number_input(f"number {{i}} (g)", key=f"n{{i}}", value=None)
for i in range(TEXTS):
    st.text_input(f"text {{i}}", key=f"t{{i}}")
for i in range(TOGGLES):
    st.toggle(f"toggle {{i}}", key=f"s{{i}}")
for i in range(HTML):
    st.html(f"<b>line {{i}}: {{st.session_state['count']}} g</b>")
st.html(f"<div class='number'>{{st.session_state['count']}} g</div>")
"""

#: Presses a button and gives the time until the last watched number was painted [ms].
PRESS = """
async ({name, watched}) => {
  const text = () => [...document.querySelectorAll(watched)].map(e => e.textContent).join('|');
  const app = document.querySelector('[data-testid=stApp]');
  const running = () => app.dataset.testScriptState === 'running';
  const button = [...document.querySelectorAll('button')].find(b => b.innerText.trim() === name);
  const before = text();
  let seen = before, last = 0;
  const look = () => { const now = text(); if (now !== seen) { seen = now; last = 1; return true; }
                       return false; };
  const start = performance.now();
  let painted = 0;
  return await new Promise((done, fail) => {
    const eye = new MutationObserver(() => {
      if (look()) requestAnimationFrame(() => setTimeout(() => { painted = performance.now(); }));
    });
    eye.observe(document.body, {subtree: true, childList: true, characterData: true,
                                attributes: true});
    button.click();
    let calm = 0;
    const check = setInterval(() => {
      if (performance.now() - start > 20000) { clearInterval(check); fail('no new number'); }
      calm = last && painted && !running() ? calm + 1 : 0;
      if (calm > 6) { clearInterval(check); eye.disconnect(); done(painted - start); }
    }, 50);
  });
}
"""
COUNT = """
() => {
  const n = s => document.querySelectorAll(s).length;
  return [n('[data-testid=stButton], [data-testid=stDownloadButton]'),
          n('[data-testid=stNumberInput]'),
          n('[data-testid=stTextInput], [data-testid=stTextArea], [data-testid=stSelectbox]'),
          n('[data-testid=stCheckbox]'),
          n('[data-testid=stHtml], [data-testid=stMarkdown], [data-testid=stCaptionContainer]')];
}
"""


def sauce_of(count: int) -> str:
    """The plum and ginger dip with further ingredients, as letters for the address."""
    kitchen, first = Kitchen(), house_sauces()["plum-ginger-dip"]
    here = [dict(e) for e in first["ingredients"]]
    for name in MORE:
        if len(here) == count:
            break
        try:
            trial = {**first, "ingredients": [*here, {"name": name, "draft_g": 4.0}], "limits": {}}
            kitchen.solve({k: v for k, v in trial.items() if k != "ratios"})
        except Exception as error:
            print(f"left out {name}: {error}")
            continue
        here.append({"name": name, "draft_g": 4.0})
    assert len(here) == count, len(here)
    document = {"name": "bench", "yield_g": 500.0, "ingredients": here}
    return address.written(begun(as_it_is(document, solved(kitchen, document))))


def settled(page: Any) -> None:
    """Wait until nothing runs and nothing moves."""
    page.get_by_role("heading", level=1).first.wait_for()
    page.wait_for_timeout(800)
    page.wait_for_function(
        "document.querySelector('[data-testid=stApp]').dataset.testScriptState !== 'running'"
    )
    page.wait_for_timeout(400)


def pressed(page: Any, names: Sequence[str], watched: str) -> list[float]:
    """Times of the presses, the first few left out [ms]."""
    times = []
    for i in range(WARM + NUDGES):
        name = names[i % len(names)]
        took = page.evaluate(PRESS, {"name": name, "watched": watched})
        if i >= WARM:
            times.append(float(took))
    return times


def painted(browser: Any, url: str) -> float:
    """Median time from asking for a page to its first heading [ms]."""
    times = []
    for _ in range(PAINTS):
        page = browser.new_page()
        start = time.perf_counter()
        page.goto(url, wait_until="commit")
        page.get_by_role("heading", level=1).first.wait_for()
        times.append(1e3 * (time.perf_counter() - start))
        settled(page)
        page.close()
    return statistics.median(times[1:])


def told(what: str, times: Sequence[float]) -> tuple[float, float]:
    """Print and give the median and the 95th percentile [ms]."""
    middle, high = statistics.median(times), sorted(times)[int(0.95 * len(times))]
    print(f"{what:52} median {middle:6.0f} ms, 95th percentile {high:6.0f} ms")
    return middle, high


def main() -> None:
    """Measure and print."""
    chromium = shutil.which("chromium") or sys.exit("no chromium here")
    letters = sauce_of(20)
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as playwright:
        home = Path(folder)
        browser = playwright.chromium.launch(executable_path=chromium, args=FLAGS)
        size = {"width": 1440, "height": 900}
        with served(home) as url:
            page = browser.new_page(viewport=size)
            page.goto(f"{url}?draft={letters}")
            settled(page)
            counts = page.evaluate(COUNT)
            ours = pressed(
                page, ("less sour", "more sweet", "more sour", "less sweet"), ".b-grams, .b-axis"
            )
            page.close()
            first = painted(browser, url)
        bare, full = home / "bare.py", home / "full.py"
        bare.write_text(EMPTY.format(counts=[0, 0, 0, 0, 0]), encoding="utf-8")
        full.write_text(EMPTY.format(counts=counts), encoding="utf-8")
        others, paints = [], []
        for app in (bare, full):
            with served(home, app) as url:
                page = browser.new_page(viewport=size)
                page.goto(url)
                settled(page)
                others.append(pressed(page, ("less",), ".number"))
                page.close()
                paints.append(painted(browser, url))
        browser.close()
    print("our page: {} buttons, {} numbers, {} texts, {} toggles, {} lines".format(*counts))
    middle, high = told("a nudge, 20 ingredients, to the numbers painted", ours)
    bare_ms, _ = told("rerun of an empty app", others[0])
    full_ms, full_high = told("rerun of an empty app with as many elements", others[1])
    print(
        f"against as many elements: {middle / full_ms:.2f} (95th: {high / full_high:.2f}),"
        f" aim at most {AIM_RATIO:g}; against one button: {middle / bare_ms:.2f}"
    )
    print(f"95th percentile {high:.0f} ms, aim under {AIM_P95_MS:g} ms")
    print(
        f"first paint {first:.0f} ms, empty app {paints[0]:.0f} ms: ratio"
        f" {first / paints[0]:.2f}, aim at most {AIM_PAINT_RATIO:g}"
    )


if __name__ == "__main__":
    main()
