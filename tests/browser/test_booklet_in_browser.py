"""The booklet as a reader sees it: opened from the disk in a real browser, without a network."""

from __future__ import annotations

import base64
import io
import os
from collections.abc import Iterator
from importlib import resources
from pathlib import Path

import numpy as np
import pytest
import zxingcpp
from PIL import Image

from buildlog.desk.give.booklet_content import content
from buildlog.desk.snapshot.opening import recorded
from buildlog.report.booklet.assemble import booklet
from buildlog.report.booklet.html import html
from buildlog.report.numbers import Display
from buildlog.store.ledger.fingerprint import fingerprint
from buildlog.store.ledger.ledger import Ledger
from tests.browser.chromium import Browser, opened, program
from tests.odd_cars import CARS, made


@pytest.fixture(scope="module")
def page(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("page") / "booklet.html"
    with Ledger.open(demo) as ledger:
        document = booklet(content(recorded(ledger), "Dunmarrow Works"), Display("us"))
    out.write_text(html(document), encoding="utf-8")
    return out


@pytest.fixture(scope="module")
def browser(page: Path) -> Iterator[Browser]:
    if program() is None:
        if os.environ.get("CI") == "true":
            pytest.fail("CI has to bring a browser: the package chromium")
        pytest.skip("no browser of the Chromium family is on this computer")
    with opened(page) as found:
        yield found


def test_nothing_is_asked_of_any_network_and_nothing_is_complained_of(browser: Browser) -> None:
    sent = [event["params"]["request"]["url"] for event in browser.events
            if event.get("method") == "Network.requestWillBeSent"]  # fmt: skip
    outside = [url for url in sent if not url.startswith(("data:", "about:"))]
    assert outside == [browser.value("location.href")], "only the file itself"
    told = [event for event in browser.events
            if event.get("method") in ("Log.entryAdded", "Runtime.consoleAPICalled",
                                       "Runtime.exceptionThrown")]  # fmt: skip
    assert told == []


def test_every_picture_is_there(browser: Browser) -> None:
    script = "[...document.images].map(i => [i.alt.length, i.naturalWidth, i.complete])"
    pictures = browser.value(script)
    assert len(pictures) == 4, "the code of the fingerprint, and the demo's cards"
    assert all(alt > 20 and width > 0 and complete for alt, width, complete in pictures)
    drawn = browser.value("""[...document.querySelectorAll("svg")].map(s => [
        s.querySelector("title").textContent.length,
        s.querySelector("desc").textContent.length])""")
    assert len(drawn) >= 10
    assert all(title > 5 and described > 20 for title, described in drawn)


def test_every_link_leads_somewhere_in_the_file(browser: Browser) -> None:
    script = """[...document.links].map(a => [a.getAttribute("href"),
        document.getElementById(a.hash.slice(1)) !== null])"""
    links = browser.value(script)
    assert len(links) >= 4
    assert [href for href, there in links if not (there and href.startswith("#"))] == []
    browser.value('document.querySelector("a[href=\\"#how-to-check\\"]").click()')
    assert browser.value("Math.abs(document.getElementById('how-to-check')"
                         ".getBoundingClientRect().top) < 900")  # fmt: skip


def violations(browser: Browser) -> object:
    """axe-core (opened: its own package), every rule it has but those it calls experimental."""
    source = resources.files("axe_core_python").joinpath("axe.min.js").read_text("utf-8")
    browser.value(f"{source}; 0")
    script = """axe.run({resultTypes: ["violations"]}).then(r => r.violations.map(
        v => [v.id, v.impact, v.nodes.length, v.nodes[0].html.slice(0, 160)]))"""
    return browser.value(script)


def test_the_accessibility_checker_finds_nothing(browser: Browser) -> None:
    assert violations(browser) == []


@pytest.mark.parametrize(
    "name", ["one-entry", *(pytest.param(n, marks=pytest.mark.long) for n in CARS)]
)
def test_nor_in_the_booklet_of_an_odd_car(name: str, tmp_path: Path, browser: Browser) -> None:
    """On a telephone; `browser` is asked for so that a missing one is told in one place."""
    out = tmp_path / "booklet.html"
    with made(tmp_path / "car", name) as ledger:
        document = booklet(content(recorded(ledger), "Quarry Lane"), Display("metric"))
    out.write_text(html(document), encoding="utf-8")
    with opened(out) as found:
        assert violations(found) == []
        found.call("Emulation.setDeviceMetricsOverride", width=390, height=800,
                   deviceScaleFactor=1, mobile=False)  # fmt: skip
        assert found.value("document.documentElement.scrollWidth") <= 390


def test_a_dark_system_darkens_page_and_pictures_but_not_the_code(browser: Browser) -> None:
    script = """(s => [s.backgroundColor,
        getComputedStyle(document.querySelector("svg .f-ink")).fill,
        getComputedStyle(document.querySelector(".qr")).backgroundColor])(
        getComputedStyle(document.body))"""
    assert browser.value(script) == ["rgb(255, 255, 255)", "rgb(22, 25, 28)", "rgb(255, 255, 255)"]
    dark = [{"name": "prefers-color-scheme", "value": "dark"}]
    browser.call("Emulation.setEmulatedMedia", features=dark)
    assert browser.value(script) == ["rgb(21, 24, 27)", "rgb(236, 233, 228)", "rgb(255, 255, 255)"]
    assert violations(browser) == []
    browser.call("Emulation.setEmulatedMedia", features=[])


@pytest.mark.parametrize("dark", [False, True])
@pytest.mark.parametrize("media", ["screen", "print"])
def test_a_decoder_reads_the_fingerprint_off_the_page(
    demo: Path, browser: Browser, media: str, dark: bool
) -> None:
    """As a telephone's camera would: out of a picture of the whole page."""
    scheme = {"name": "prefers-color-scheme", "value": "dark" if dark else "light"}
    browser.call("Emulation.setEmulatedMedia", media=media, features=[scheme])
    browser.call("Emulation.setDeviceMetricsOverride", width=800, height=1400,
                 deviceScaleFactor=2, mobile=False)  # fmt: skip
    browser.value("scrollTo(0, 0)")
    shot = browser.call("Page.captureScreenshot")["data"]
    browser.call("Emulation.setEmulatedMedia", media="", features=[])
    browser.call("Emulation.clearDeviceMetricsOverride")
    with Image.open(io.BytesIO(base64.b64decode(shot))) as picture:
        found = zxingcpp.read_barcodes(np.asarray(picture.convert("L")))
    with Ledger.open(demo) as ledger:
        state = fingerprint(ledger)
    assert [one.text for one in found] == [f"buildlog:1:{state.replace('-', '')}"]


@pytest.mark.parametrize("width", [360, 390, 768, 1280])
def test_no_text_runs_out_of_the_page(page: Path, browser: Browser, width: int) -> None:
    """On a telephone as on a desk: nothing scrolls sideways."""
    browser.call("Emulation.setDeviceMetricsOverride", width=width, height=900,
                 deviceScaleFactor=1, mobile=False)  # fmt: skip
    wide = browser.value("document.documentElement.scrollWidth")
    browser.call("Emulation.clearDeviceMetricsOverride")
    assert wide <= width


BROKEN = """(pattern => { const found = [];
    const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
    for (let node; node = walk.nextNode();) for (const hit of node.data.matchAll(pattern)) {
        const range = document.createRange();
        range.setStart(node, hit.index); range.setEnd(node, hit.index + hit[0].length);
        const tops = [...range.getClientRects()].filter(r => r.width > 1).map(r => r.top);
        if (tops.length) found.push([hit[0], new Set(tops.map(Math.round)).size]);
    } return found; })(/%s/g)"""


@pytest.fixture(scope="module")
def by_many_hands(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> str:
    """The demo's booklet, with codes of letters too, and long ones, in the places of its own."""
    with Ledger.open(demo) as ledger:
        document = booklet(content(recorded(ledger), "Dunmarrow Works"), Display("us"))
    text = html(document)
    for old, new in (("D-03", "KB-MA"), ("D-07", "WERK-2"), ("D-01", "B-R")):
        text = text.replace(old, new)
    return text


# Screens; then letter and A4 between the margins of 19 mm, at 96 px an inch, as print is laid out.
WIDTHS = [
    *(("screen", width) for width in (320, 360, 390, 768, 1280)),
    *(("print", round((sheet - 2 * 19) / 25.4 * 96)) for sheet in (215.9, 210)),
]


@pytest.mark.parametrize(("media", "width"), WIDTHS)
def test_a_staff_code_never_breaks_in_two(
    by_many_hands: str, tmp_path: Path, browser: Browser, media: str, width: int
) -> None:
    """On every screen and sheet; `browser` is asked for so that a missing one is told once."""
    out = tmp_path / "booklet.html"
    out.write_text(by_many_hands, encoding="utf-8")
    with opened(out) as found:
        found.call("Emulation.setDeviceMetricsOverride", width=width, height=900,
                   deviceScaleFactor=1, mobile=False)  # fmt: skip
        found.call("Emulation.setEmulatedMedia", media=media)
        codes = found.value(BROKEN % "KB-MA|WERK-2|B-R|[DK]-0[0-9]")
    assert len(codes) > 20
    assert {code for code, _ in codes} >= {"KB-MA", "WERK-2", "B-R"}
    assert [code for code, lines in codes if lines > 1] == []
