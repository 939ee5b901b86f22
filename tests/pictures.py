"""Pictures of the real dashboard for the README: ``python tests/pictures.py [DIRECTORY]``.

Starts a server with an empty kitchen book, begins the plum and ginger dip in a browser, and writes
the sauce page at the width of a phone and of a desk, what may be missing in it, the recipe page,
and the recipe as it is printed on A4. The printed page needs ``pdftoppm`` (poppler-utils).
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path
from typing import Any

from PIL import Image

HERE = Path(__file__).resolve().parent
sys.path.insert(0, str(HERE / "dashboard"))

from browsing import browsing, pressed, served, settled  # noqa: E402

SAUCE = "plum and ginger dip"
PHONE, DESK = (390, 1500), (1280, 900)
#: Dots per inch of the printed page, colours of a picture, and its largest size [bytes].
PRINT_DPI, COLOURS, MOST_BYTES = 90, 64, 200_000


def small(path: Path) -> None:
    """Reduce a picture to few colours."""
    with Image.open(path) as picture:
        picture.convert("RGB").quantize(COLOURS, dither=Image.Dither.NONE).save(path, optimize=True)
    size = path.stat().st_size
    assert size <= MOST_BYTES, f"{path.name} has {size} bytes, over {MOST_BYTES}"
    print(f"{path.name}: {size / 1000:.0f} kB")


def shot(page: Any, path: Path, size: tuple[int, int]) -> None:
    """A picture of the page in a window of this size."""
    page.set_viewport_size({"width": size[0], "height": size[1]})
    settled(page)
    page.screenshot(path=str(path))
    small(path)


def printed(content: bytes, path: Path) -> None:
    """A picture of the first page of a PDF."""
    with tempfile.TemporaryDirectory() as directory:
        source = Path(directory) / "page.pdf"
        source.write_bytes(content)
        subprocess.run(
            ["pdftoppm", "-r", str(PRINT_DPI), "-png", "-f", "1", "-l", "1", "-singlefile",
             str(source), str(path.with_suffix(""))],
            check=True,
        )  # fmt: skip
    small(path)


def main(into: Path) -> None:
    """Write all pictures into a directory."""
    into.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as directory:
        home = Path(directory)
        with served(home / "book") as url, browsing(home / "profile") as browser:
            page = browser.new_page()
            page.set_viewport_size({"width": DESK[0], "height": DESK[1]})
            page.goto(url)
            pressed(page, SAUCE)
            page.get_by_role("heading", name="The bowl").wait_for()
            pressed(page, "less sour")
            settled(page)
            shot(page, into / "sauce_desk.png", DESK)
            shot(page, into / "sauce_phone.png", PHONE)
            page.set_viewport_size({"width": DESK[0], "height": DESK[1]})
            if page.get_by_role("button", name="What is missing?", exact=True).count():
                pressed(page, "What is missing?")
                shot(page, into / "missing_desk.png", DESK)
            pressed(page, "The recipe")
            page.get_by_text("Measured like this").wait_for()
            settled(page)
            shot(page, into / "recipe_desk.png", DESK)
            printed(page.pdf(format="A4"), into / "recipe_printed.png")
            with page.expect_download() as waiting:
                page.get_by_role("button", name="Page as PDF (.pdf)", exact=True).click()
            content = Path(waiting.value.path()).read_bytes()
            printed(content, into / "recipe_exported.png")


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else HERE / "pictures")
