"""The booklet's HTML: no text of a user's becomes markup, corrections stay readable, and what is
missing is not spoken of."""

from __future__ import annotations

import base64
import dataclasses
import importlib
import re
from collections import Counter
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from buildlog.desk.give.booklet_content import content
from buildlog.desk.snapshot.opening import recorded
from buildlog.report.booklet.assemble import booklet
from buildlog.report.booklet.content import BookletContent
from buildlog.report.booklet.document import (
    Document,
    PageFigure,
    PageHeading,
    Para,
    Section,
    Span,
    bullets,
    facts,
    flat,
    para,
    plain,
    table,
)
from buildlog.report.booklet.html import html
from buildlog.report.booklet.text import text
from buildlog.report.numbers import Display
from buildlog.store.ledger.ledger import Ledger

PAYLOADS = (
    "<script>alert(1)</script>",
    "</script><script>alert(1)</script>",
    "<img src=x onerror=alert(1)>",
    '"><svg onload=alert(1)>',
    "'><svg onload=alert(1)>",
    "<svg><script>alert(1)</script></svg>",
    "</title><script>alert(1)</script>",
    "</style><script>alert(1)</script>",
    "javascript:alert(1)",
    "data:text/html,<script>alert(1)</script>",
    '" onmouseover="alert(1)',
    "' onfocus='alert(1)",
    "` onclick=alert(1) `",
    "<a href=javascript:alert(1)>x</a>",
    "<iframe src=//example.org>",
    "<object data=x>",
    "<embed src=x>",
    "<base href=//example.org/>",
    "<link rel=stylesheet href=//x>",
    "<meta http-equiv=refresh content=0>",
    "<form action=//example.org><input name=x>",
    "<style>*{background:url(//example.org)}</style>",
    "<p style=background:url(//example.org)>",
    "{{ 7 * 7 }}",
    "{% raw %}",
    "{{ ''.__class__ }}",
    "${7*7}",
    "#{7*7}",
    "<!--",
    "-->",
    "<![CDATA[x]]>",
    "&lt;script&gt;",
    "&#60;script&#62;",
    "<math><mtext><script>alert(1)</script>",
    "<table><td>",
    "<details open ontoggle=alert(1)>",
    "<video><source onerror=alert(1)>",
    "<marquee onstart=alert(1)>",
    "</table></div></section></main>",
    "<template><script>alert(1)</script></template>",
)


class Seen(HTMLParser):
    """Counts the elements with the names of their attributes, and keeps the text."""

    def __init__(self, markup: str) -> None:
        super().__init__(convert_charrefs=True)
        self.elements: Counter[tuple[str, ...]] = Counter()
        self.said: list[str] = []
        self.feed(markup)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.elements[(tag, *(name for name, _ in attrs))] += 1

    def handle_data(self, data: str) -> None:
        self.said.append(data)

    def handle_comment(self, data: str) -> None:
        self.elements[("comment",)] += 1


def filled(value: object, payload: str) -> object:
    """The content with every text that a person wrote replaced, however deep it lies."""
    if isinstance(value, str):
        return payload
    if isinstance(value, tuple):
        return tuple(filled(one, payload) for one in value)
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        kept = {"mark", "tone", "kind", "level", "svg", "name", "qr"}
        return dataclasses.replace(
            value,
            **{
                one.name: filled(getattr(value, one.name), payload)
                for one in dataclasses.fields(value)
                if one.name not in kept
            },
        )
    return value


@pytest.fixture(scope="module")
def told(demo: Path) -> BookletContent:
    with Ledger.open(demo) as ledger:
        return content(recorded(ledger), "Dunmarrow Works")


@pytest.fixture(scope="module")
def document(told: BookletContent) -> Document:
    return booklet(told, Display("us"))


def test_there_are_forty_payloads() -> None:
    assert len(set(PAYLOADS)) == 40


@pytest.fixture(scope="module")
def harmless(document: Document) -> Seen:
    """The document with one plain word in place of every text."""
    plain = filled(document, "plain")
    assert isinstance(plain, Document)
    return Seen(html(plain))


@pytest.mark.parametrize(
    "payload", [*PAYLOADS[::5], *(pytest.param(one, marks=pytest.mark.long) for one in PAYLOADS)]
)
def test_a_payload_in_every_text_adds_no_element_and_no_attribute(
    document: Document, harmless: Seen, payload: str
) -> None:
    """Every span, cell, caption, heading, label, alternative text and title of the document."""
    hostile = filled(document, payload)
    assert isinstance(hostile, Document)
    other = Seen(html(hostile))
    assert harmless.elements == other.elements
    assert any(payload in said for said in other.said)


def test_nothing_runs_and_nothing_points_outside(document: Document) -> None:
    markup = html(document)
    assert not re.search(r"<script|<iframe|<object|<form|\son\w+=|\sstyle=", markup)
    addresses = re.findall(r'(?:src|href)="([^"]*)"', markup)
    inside = ("#", "data:image/svg+xml;base64,", "data:image/jpeg;base64,")
    assert all(one.startswith(inside) for one in addresses)
    assert "<svg" in markup
    for picture in (one for one in addresses if one.startswith(inside[1])):
        svg = base64.b64decode(picture.partition(",")[2]).decode()
        assert not re.search(r"<script|foreignObject|\son\w+=", svg)
        assert not re.search(r'(?:xlink:)?href="(?!#)', svg)


def test_the_policy_forbids_everything_but_our_own_style(document: Document) -> None:
    import hashlib

    markup = html(document)
    style = re.findall(r"<style>(.*?)</style>", markup, re.DOTALL)
    assert len(style) == 1
    digest = base64.b64encode(hashlib.sha256(style[0].encode()).digest()).decode()
    policy = re.findall(r'Content-Security-Policy" content="([^"]*)"', markup)[0]
    policy = policy.replace("&#39;", "'")
    assert policy.startswith("default-src 'none'; img-src data:; font-src data:; ")
    assert f"style-src 'sha256-{digest}'" in policy
    assert "unsafe" not in policy


def test_the_page_says_all_that_the_design_asks_of_it(document: Document) -> None:
    blocks = list(flat(document.front))
    assert isinstance(blocks[0], PageFigure), "the curve before and after comes first"
    heads = [one.text for one in blocks if isinstance(one, PageHeading)]
    assert heads == ["What was done", "Close to a limit", "Faults", "Not checked"]
    assert isinstance(blocks[-1], Para)
    assert plain(blocks[-1].content).startswith("Local codes. ")
    assert [section.name for section in document.sections] == [
        "history", "parts", "stages", "power", "visits", "margins", "workshop", "how-to-check",
        "cautions",
    ]  # fmt: skip


def test_what_is_missing_is_not_spoken_of(told: BookletContent) -> None:
    bare = dataclasses.replace(
        told, readings=(), stages=told.stages[:1], margins=(), joints=(), lists=(),
        calibrations=(), attachments=(), custody=(), gain=None,
    )  # fmt: skip
    names = {section.name for section in booklet(bare, Display("us")).sections}
    assert not names & {"power", "visits", "margins", "custody"}
    markup = html(booklet(bare, Display("us")))
    for caption in ("Tightened", "Calibrations", "Checks"):
        assert f">{caption}<" not in markup


def test_a_correction_is_struck_through_with_what_replaced_it(document: Document) -> None:
    markup = html(document)
    found = re.search(r"<del>T26-003</del>.{0,80}corrected to.{0,80}<ins>T26-004</ins>", markup)
    assert found
    assert "T26-003 corrected to T26-004" in " ".join(text(document).split())


def test_the_vin_stands_in_full_here(told: BookletContent, document: Document) -> None:
    vin = told.now.configuration.car.vin
    assert vin is not None
    assert vin in html(document)


def test_the_code_holds_the_fingerprint(told: BookletContent, document: Document) -> None:
    plain = told.proof.fingerprint.replace("-", "")
    assert document.qr == f"buildlog:1:{plain}"
    assert len(plain) == 22


def test_all_names_that_links_point_to_are_there_once(document: Document) -> None:
    markup = html(document)
    found = Counter(re.findall(r'\sid="([^"]*)"', markup))
    assert [name for name, count in found.items() if count > 1] == []
    assert set(re.findall(r'href="#([^"]*)"', markup)) <= set(found)


def test_the_same_history_gives_the_same_bytes(told: BookletContent, document: Document) -> None:
    assert html(booklet(told, Display("us"))) == html(document)


def test_a_small_document_in_both_forms() -> None:
    numbers = table("g", ("h", "i"), [["one group"], ["j", "1"]], right=(1,), note="k")
    words = facts([("d", "e"), ("f", None)])
    blocks = (para("a", Span("b", "strong")), bullets(["c"]), words, numbers)
    lead = (Span("x"),)
    made = Document("T", "K", "S", lead, lead, (), (Section("s", "Sec", blocks),))
    assert '<tr class="group"><th scope="rowgroup" colspan="2">one group</th></tr>' in html(made)
    assert "<dt>f</dt>" not in html(made)
    assert "SEC" in text(made)


def test_nothing_is_worked_out_twice(demo: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Sheets, what the stages before taught, and predictions: once for the whole book."""
    done: Counter[tuple[object, ...]] = Counter()

    def counted(name: str, key: Callable[..., tuple[object, ...]]) -> None:
        module, _, function = name.rpartition(".")
        whole = getattr(importlib.import_module(module), function)

        def once_more(*given: Any, **named: Any) -> Any:
            done[(function, *key(*given))] += 1
            return whole(*given, **named)

        monkeypatch.setattr(name, once_more)

    counted("buildlog.analysis.pulls.sheet_work.sheet", lambda *given: (given[0], given[4]))
    counted("buildlog.desk.questions.predict.past_stage",
            lambda one, other, *_: (one.version.name, other.version.name))  # fmt: skip
    counted("buildlog.desk.questions.predict.predicted",
            lambda one, other, *_: (one.name, other.name))  # fmt: skip
    counted("buildlog.desk.questions.limits.margins",
            lambda subject: (id(subject.configuration), subject.on))  # fmt: skip
    counted("buildlog.store.verify.verdict.verify", lambda *_: ())
    with Ledger.open(demo) as ledger:
        content(recorded(ledger), "Dunmarrow Works")
    assert {name for name, *_ in done} == {
        "sheet", "past_stage", "predicted", "margins", "verify",
    }  # fmt: skip
    assert {key: times for key, times in done.items() if times > 1} == {}
