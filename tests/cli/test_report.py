"""One stage's sheet, in each of its forms."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.conftest import Call


def test_the_customers_page_answers_the_six_questions(demo: Path, buildlog: Call) -> None:
    done = buildlog("report", "stage-2", at=demo)
    assert done.status == 0
    for title in ("Your car now makes 211", "What was done", "Promised and delivered",
                  "Before you use full power", "Close to a limit", "Not settled",
                  "Local codes."):  # fmt: skip
        assert title in done.out
    assert "next: buildlog report stage-2" in done.out


def test_the_gain_is_that_of_diff(demo: Path, buildlog: Call) -> None:
    """The sheet says of the stage what `diff` says of the two stages."""
    sheet = json.loads(buildlog("report", "stage-2", "--json", at=demo).out)
    diff = json.loads(buildlog("diff", "stage-1", "stage-2", "--json", at=demo).out)
    assert sheet["format"] == "buildlog/report/1"
    assert [stage["name"] for stage in sheet["stages"]] == ["stage-2"]
    one, other = sheet["gain"]["measured"]["power"], diff["measured"]["power"]
    assert one["peak_delta"] == pytest.approx(other["peak_delta"])
    assert one["half_width_95"] == pytest.approx(other["half_width_95"])


def test_a_correction_is_struck_through(demo: Path, buildlog: Call, tmp_path: Path) -> None:
    """The demo's slip of the pen: the id that was written, and what replaced it."""
    done = buildlog("report", "stage-2", "--out", tmp_path / "s.html", at=demo)
    assert done.status == 0, done.err
    html = (tmp_path / "s.html").read_text()
    assert "<del>T26-003</del>" in html
    assert "<ins>T26-004</ins>" in html


@pytest.mark.parametrize("ending", [".html", ".txt"])
def test_a_whole_sheet_is_written(demo: Path, buildlog: Call, tmp_path: Path, ending: str) -> None:
    out = tmp_path / f"sheet{ending}"
    assert buildlog("report", "stage-1", "stage-2", "--out", out, at=demo).status == 0
    text = out.read_text()
    assert "stage-1" in text
    assert "clutch" in text


def test_errors_say_what_to_do(demo: Path, buildlog: Call, tmp_path: Path) -> None:
    assert buildlog("report", "stage-9", at=demo).status == 3
    done = buildlog("report", "stage-2", "--out", tmp_path / "s.docx", at=demo)
    assert done.status == 2
    assert ".html" in done.err


def test_a_slip_in_the_place_makes_no_folder(demo: Path, buildlog: Call, tmp_path: Path) -> None:
    """As `plot` does: refused, and nothing is left behind."""
    for ending in (".html", ".pdf", ".txt"):
        done = buildlog("report", "stage-2", "--out", tmp_path / "slip" / f"s{ending}", at=demo)
        assert done.status == 7
        assert "make the folder" in done.err
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("broken", [False, True])
def test_without_anything_that_makes_pdfs_the_sheet_is_a_page_and_says_so(
    demo: Path, buildlog: Call, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, broken: bool
) -> None:
    """No PDF maker, or a browser that makes nothing: HTML, a note, status 0; a page that lies
    there already stays."""
    from buildlog.report.booklet import pdf

    monkeypatch.setattr(pdf, "_weasyprint_is_here", lambda: False)
    monkeypatch.setattr(pdf, "browser", lambda: "/bin/false" if broken else None)
    for name in ("sheet.html", "sheet.pdf.html"):
        done = buildlog("report", "stage-2", "--out", tmp_path / "sheet.pdf", at=demo)
        assert done.status == 0, done.err
        assert f"written: {tmp_path / name}" in done.out.replace("\n", "")
        assert "note: it is no PDF: " in done.out
        assert "buildlog[pdf]" in done.out
        assert "Your car now makes 211" in (tmp_path / name).read_text()
        (tmp_path / "sheet.html").write_text("Your car now makes 211, as it was")
    assert (tmp_path / "sheet.html").read_text().endswith("as it was")
    assert not (tmp_path / "sheet.pdf").exists()
