"""The PDF in both engines: tagged, titled, in its language, on the paper asked for, numbered."""

from __future__ import annotations

import os
import re
import zlib
from collections.abc import Callable
from pathlib import Path

import pytest

from buildlog.desk.give.booklet_content import content
from buildlog.desk.give.handing_over import record_custody
from buildlog.desk.snapshot.opening import recorded
from buildlog.desk.snapshot.settings import recorder
from buildlog.report.booklet import pdf
from buildlog.report.booklet.assemble import booklet, stage_sheet
from buildlog.report.booklet.document import Document
from buildlog.report.numbers import Display
from buildlog.store.ledger.ledger import Ledger
from tests.odd_cars import made

POINTS = {"letter": (612, 792), "a4": (595, 842)}  # ISO 216 and ANSI Y14.1, in 1/72 inch


def missing(engine: str) -> str | None:
    """Why an engine cannot be tried here."""
    if engine == "by_browser" and pdf.browser() is None:
        return "no browser of the Chromium family is on this computer"
    if engine == "by_weasyprint" and not pdf._weasyprint_is_here():
        return "the extra [pdf], WeasyPrint, is not installed"
    return None


def by(engine: str) -> Callable[[Document, str], bytes]:
    """The engine; without it, CI fails where it has to have it, others skip."""
    why = missing(engine)
    if why and os.environ.get("CI") == "true" and engine == "by_browser":
        pytest.fail(f"CI has to bring it: {why}")
    if why:
        pytest.skip(why)
    return getattr(pdf, engine)


def opened(data: bytes) -> bytes:
    """The file with its compressed object streams behind it."""
    parts = [data]
    for found in re.finditer(rb"stream\r?\n", data):
        try:
            parts.append(zlib.decompressobj().decompress(data[found.end() :]))
        except zlib.error:
            continue
    return b"\n".join(parts)


@pytest.fixture(scope="module")
def small(tmp_path_factory: pytest.TempPathFactory) -> Document:
    with made(tmp_path_factory.mktemp("odd") / "car", "faulty") as ledger:
        return booklet(content(recorded(ledger), "Quarry Lane"), Display("metric"))


@pytest.mark.parametrize("engine", ["by_browser", "by_weasyprint"])
@pytest.mark.parametrize("paper", ["letter", pytest.param("a4", marks=pytest.mark.long)])
def test_a_reader_by_ear_gets_tags_title_and_language(
    small: Document, engine: str, paper: str
) -> None:
    data = opened(by(engine)(small, paper))
    assert re.search(rb"/Marked\s+true", data)
    assert re.search(rb"/StructTreeRoot", data)
    assert re.search(rb"/Lang\s*\(en", data)
    assert b"Marrow Tern 2.6, 1994: Build history" in data.replace(b"\0", b"")
    for kind in (b"/H1", b"/H2", b"/TH", b"/Figure"):
        assert kind in data, kind
    assert b"/JavaScript" not in data
    assert b"/Launch" not in data
    width, height = POINTS[paper]
    boxes = re.findall(rb"/MediaBox\s*\[\s*0 0 ([\d.]+) ([\d.]+)\s*\]", data)
    assert boxes
    assert all(abs(float(w) - width) < 1 and abs(float(h) - height) < 1 for w, h in boxes)


def test_a_browsers_contents_have_page_numbers_too(small: Document) -> None:
    by("by_browser")
    program = pdf.browser()
    assert program is not None
    first = pdf._printed(program, pdf.page.html(small, paper="a4"))
    pages = pdf.pages_of(first)
    in_order = [pages[section.name] for section in small.sections if section.name in pages]
    assert len(in_order) >= 3, "those that the page of the history leads to"
    assert in_order == sorted(in_order)
    assert in_order[0] > 2
    again = pdf._printed(program, pdf.page.html(small, paper="a4", pages=pages))
    assert pdf.pages_of(again) == pages, "the numbers moved nothing"


@pytest.mark.parametrize("paper", ["letter", pytest.param("a4", marks=pytest.mark.long)])
def test_the_demos_report_is_one_page_and_its_booklet_at_most_twelve(
    demo_copy: Path, paper: str
) -> None:
    """As it is handed over: the entry that says so stands in it."""
    with Ledger.open(demo_copy) as ledger:
        record_custody(ledger, recorder(None), role="given")
        whole = booklet(content(recorded(ledger), "Dunmarrow Works"), Display("us"))
        page = stage_sheet(content(recorded(ledger), None, ("stage-2",)), Display("us"))
    make = by("by_browser")
    for document, most in ((page, 1), (whole, 12)):
        made_ = make(document, paper)
        pages = re.findall(rb"(?m)^\d+ 0 obj\s*<<\s*/Type\s*/Page\s", made_)
        assert 1 <= len(pages) <= most


@pytest.mark.long
@pytest.mark.parametrize("engine", ["by_browser", "by_weasyprint"])
@pytest.mark.parametrize("paper", ["letter", "a4"])
def test_no_page_of_the_demos_booklet_is_nearly_empty(
    demo: Path, engine: str, paper: str, tmp_path: Path
) -> None:
    """As pictures: each page but the last has ink on a twelfth of its height."""
    np = pytest.importorskip("numpy")
    image = pytest.importorskip("PIL.Image", reason="Pillow comes with matplotlib")
    import shutil
    import subprocess

    if shutil.which("pdftoppm") is None:
        pytest.skip("pdftoppm (poppler) is not on this computer")
    with Ledger.open(demo) as ledger:
        document = booklet(content(recorded(ledger), "Dunmarrow Works"), Display("us"))
    (tmp_path / "b.pdf").write_bytes(by(engine)(document, paper))
    subprocess.run(["pdftoppm", "-r", "40", "-gray", tmp_path / "b.pdf", tmp_path / "p"],
                   check=True)  # fmt: skip
    pages = sorted(tmp_path.glob("p-*.pgm"))
    assert len(pages) <= 13
    for one in pages[:-1]:  # the last ends where it ends
        ink = (np.asarray(image.open(one)) < 160).any(axis=1)
        inside = ink[int(0.07 * ink.size) : int(0.93 * ink.size)]
        assert inside.mean() > 1 / 12, one.name
