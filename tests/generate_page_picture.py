"""Draw the README's picture of the page anew: `python -m tests.generate_page_picture DEMO-LEDGER`.

Three screens of the demo as a phone shows them, by a Chromium; the picture keeps the sentences
on them, by which a test sees that it is of the demo of today.
"""

from __future__ import annotations

import io
import re
import sys
from contextlib import closing
from html import unescape
from pathlib import Path

from buildlog.page.asked import Asked
from buildlog.page.cars import Cars
from buildlog.page.screens import SCREENS, screen
from tests.browser.chromium import program

ROOT = Path(__file__).parents[1]
TARGET = ROOT / "shared" / "pictures" / "page.png"
STATIC = (ROOT / "buildlog/page/static", ROOT / "buildlog/report/pictures/fonts")
ORIGIN = "http://page.localhost"
WIDE, TALL, BETWEEN = 390, 844, 12


def sheets(ledger: Path) -> list[str]:
    """The car's page, the list before the dyno, and the session that sags, else the newest."""
    with closing(Cars(ledger)) as cars:
        slug, place = next(iter(cars.places().items()))
        book = cars.open(place)
        sagging = [name for name in book.session_places if name.endswith("stage-2")]
        wanted = ("", None), ("lists/*", "before-dyno"), (
            "dyno/*", (sagging or [*book.session_places])[-1])  # fmt: skip
        return [
            screen(SCREENS[key][0])(
                Asked(cars, f"/car/{slug}/", slug=slug, name=name, person="D-07", right="write")
            )
            for key, name in wanted
        ]


def sentences(ledger: Path) -> str:
    """What stands on top of each."""
    found = (re.search(r"<h1>(.*?)</h1>", one, re.DOTALL) for one in sheets(ledger))
    return "\n".join(unescape(re.sub(r"<.*?>", "", one[1])) for one in found if one)


def draw(ledger: Path, out: Path) -> None:
    """Side by side, with the sentences in the file."""
    from PIL import Image
    from PIL.PngImagePlugin import PngInfo
    from playwright.sync_api import sync_playwright

    shots = []
    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=program(), args=["--no-sandbox"])
        tab = browser.new_page(viewport={"width": WIDE, "height": TALL}, color_scheme="light")
        pages = dict(enumerate(sheets(ledger)))
        tab.route("**/*", lambda route: _serve(route, pages))
        for number in pages:
            tab.goto(f"{ORIGIN}/{number}")
            tab.evaluate("document.fonts.ready")
            shots.append(Image.open(io.BytesIO(tab.screenshot())))
        browser.close()
    whole = Image.new("RGB", (len(shots) * (WIDE + BETWEEN) - BETWEEN, TALL), "#8b9299")
    for number, shot in enumerate(shots):
        whole.paste(shot, (number * (WIDE + BETWEEN), 0))
    kept = PngInfo()
    kept.add_itxt("Description", sentences(ledger))
    whole.save(out, pnginfo=kept, optimize=True)


def _serve(route, pages: dict[int, str]) -> None:  # type: ignore[no-untyped-def]
    path = route.request.url.removeprefix(f"{ORIGIN}/")
    file = next((one / path[7:] for one in STATIC if (one / path[7:]).is_file()), None)
    if path.isdecimal():
        route.fulfill(body=pages[int(path)], content_type="text/html")
    elif path.startswith("static/") and file:
        route.fulfill(path=file)
    else:
        route.fulfill(status=404)


if __name__ == "__main__":
    draw(Path(sys.argv[1]), TARGET)
