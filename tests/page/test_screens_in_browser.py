"""The screens as a phone and a desk show them: in a real Chromium, under the server's policy."""

from __future__ import annotations

from collections.abc import Iterator
from importlib import resources
from pathlib import Path
from typing import Any
from urllib.parse import quote, unquote

import pytest

from buildlog.page.server.answers_sent import POLICY
from tests.page.drawn_screens import Drawn, everything, shop_of
from tests.page.served import PNG

ORIGIN = "http://bl-shop.localhost:8137"
STATIC = Path(__file__).parents[2] / "buildlog/page/static"
FONTS = STATIC.parents[1] / "report/pictures/fonts"
FEW = ("/", "/car/demo/", "/car/demo/lists/before-dyno", "/car/demo/record", "/car/hostile/",
       "/car/demo/dyno/20*", "/car/hostile/limits", "/car/one-entry/")  # fmt: skip
# What can be tapped is 44 px high at least; a word within a sentence is excepted (W3C, WCAG 2.2,
# 2.5.8 "inline"), and so is what is not shown.
TOO_SMALL = """() => [...document.querySelectorAll("a, button, input, select, textarea, summary")]
  .filter(e => e.checkVisibility() && !e.matches(".word, .skip, .unseen, .file, [type=hidden]"))
  .filter(e => !e.closest("p:not(.side), .lead, td") || e.closest(".put"))
  .map(e => [e.outerHTML.slice(0, 90), (e.closest("label.tick") || e).getBoundingClientRect(),
             getComputedStyle(e, "::after").position])
  .filter(([, box, after]) => box.height && box.height < 43.5 && after !== "absolute")
  .map(([html, box]) => [html, Math.round(box.height)])"""
# Nothing that one reads or taps stands under the bar at the foot once one has scrolled down.
COVERED = """() => { const bar = document.querySelector(".acts");
  window.scrollTo(0, document.documentElement.scrollHeight);
  const last = [...document.querySelectorAll("main *")].reverse().find(e => e.checkVisibility());
  const [foot, top] = [last, bar].map(one => one && one.getBoundingClientRect());
  return foot && top ? foot.bottom - top.top : 0; }"""


@pytest.fixture(scope="module", params=["few", pytest.param("all", marks=pytest.mark.long)])
def pages(
    demo: Path, tmp_path_factory: pytest.TempPathFactory, request: pytest.FixtureRequest
) -> dict[str, Drawn]:
    shop = shop_of(tmp_path_factory.mktemp("page"), demo)
    found = {one.place: one for one in everything(shop, FEW if request.param == "few" else ())}
    assert len(found) >= len(FEW)
    return found


@pytest.fixture
def shown(chromium: Any, pages: dict[str, Drawn]) -> Iterator[Any]:
    """A tab to which every screen is served, with what it complained of in `told`."""
    context = chromium.new_context()
    tab = context.new_page()
    tab.told = []
    tab.on("console", lambda message: tab.told.append(message.text))

    def serve(route: Any) -> None:
        path = route.request.url.removeprefix(ORIGIN)
        if path.startswith("/static/"):
            name = path.rpartition("/")[2]
            file = next((one / name for one in (STATIC, FONTS) if (one / name).is_file()), None)
            route.fulfill(path=file) if file else route.fulfill(status=404)
        elif path == "/favicon.ico":
            route.fulfill(status=204)
        elif path.endswith("/state"):  # asked for by a screen that is looked at for long
            route.fulfill(json={})
        elif "/file/" in path:  # a photo: each is cut to the same size
            route.fulfill(body=PNG, content_type="image/png")
        else:
            policy = {"Content-Security-Policy": POLICY, "Content-Type": "text/html"}
            route.fulfill(body=pages[unquote(path)].html, headers=policy)

    tab.route("**/*", serve)
    yield tab
    context.close()


def looked_at(tab: Any, place: str, width: int, scheme: str) -> list[object]:
    """What is wrong with a screen at a width, on a light or a dark ground."""
    tab.set_viewport_size({"width": width, "height": 844})
    tab.emulate_media(color_scheme=scheme)
    tab.goto(f"{ORIGIN}{quote(place, safe='/?=&')}")
    wide = tab.evaluate("document.documentElement.scrollWidth")
    found: list[object] = [f"{wide} px wide"] if wide > width else []
    found += tab.evaluate(TOO_SMALL)
    found += [f"{round(under)} px under the bar"] if (under := tab.evaluate(COVERED)) > 1 else []
    return found


def violations(tab: Any) -> list[object]:
    """axe-core (opened: its own package), every rule it has but those it calls experimental."""
    tab.evaluate(resources.files("axe_core_python").joinpath("axe.min.js").read_text("utf-8"))
    found: list[object] = tab.evaluate(
        """() => axe.run({resultTypes: ["violations"]}).then(r => r.violations.map(
            v => [v.id, v.nodes.length, v.nodes[0].html.slice(0, 160)]))"""
    )
    return found


def test_nothing_is_too_wide_too_small_or_hidden(shown: Any, pages: dict[str, Drawn]) -> None:
    found = {
        (place, width): looked_at(shown, place, width, "light")
        for place in pages
        for width in (360, 390, 768, 1280)
    }
    assert {key: wrong for key, wrong in found.items() if wrong} == {}


def test_the_accessibility_checker_finds_nothing(shown: Any, pages: dict[str, Drawn]) -> None:
    found = {}
    looks = [(390, "light"), (1280, "dark")]
    looks += [(360, "dark"), (768, "light"), (1280, "light")] if len(pages) > len(FEW) else []
    for place in pages:
        for width, scheme in looks:
            looked_at(shown, place, width, scheme)
            found[place, width, scheme] = violations(shown)
    assert {key: wrong for key, wrong in found.items() if wrong} == {}


def test_the_policy_lets_everything_through_and_the_letters_are_ours(
    shown: Any, pages: dict[str, Drawn]
) -> None:
    asked: set[str] = set()
    shown.on("request", lambda request: asked.add(request.url))
    for place in pages:
        looked_at(shown, place, 390, "dark")
        assert shown.evaluate("document.fonts.ready.then(f => [...f].filter("
                              "one => one.status === 'loaded').length)") == 2  # fmt: skip
    assert [one for one in shown.told if "page.js" not in one and "404" not in one] == []
    assert {one for one in asked if not one.startswith(f"{ORIGIN}/")} == set(), "from outside"


def test_a_value_is_told_where_one_points(shown: Any, pages: dict[str, Drawn]) -> None:
    looked_at(shown, next(one for one in pages if "/dyno/20" in one), 390, "light")
    one = shown.locator("svg .at").nth(9)
    assert one.locator(".told").evaluate("e => getComputedStyle(e).visibility") == "hidden"
    one.scroll_into_view_if_needed()
    one.locator("path").first.hover(force=True)
    assert one.locator(".told").evaluate("e => getComputedStyle(e).visibility") == "visible"
    said = one.locator("text").all_text_contents()
    assert said[0].endswith(" rpm")
    assert said[1].endswith(" hp")
