"""Work without physics, without opening car.toml."""

from __future__ import annotations

from pathlib import Path

from tests.histories import usual


def test_an_item_is_added_and_its_note_changed(tmp_path: Path, buildlog):
    with usual(tmp_path / "car") as ledger:
        folder = ledger.folder
    before = (folder / "car.toml").read_text("utf-8")
    buildlog("work", "add", "respray", "--note", "front wings", at=folder)
    added = (folder / "car.toml").read_text("utf-8")
    assert added == f'{before}\n[[work]]\nitem = "respray"\nnote = "front wings"\n'
    buildlog("work", "add", "respray", "--note", "all panels")
    assert (folder / "car.toml").read_text("utf-8") == added.replace("front wings", "all panels")
    assert "1 field" not in buildlog("next").out  # item and note: two


def test_seats_come_with_the_caution_for_airbags(tmp_path: Path, buildlog):
    with usual(tmp_path / "car") as ledger:
        folder = ledger.folder
    assert "airbags" in buildlog("work", "add", "seats", at=folder).out
    assert "airbags" not in buildlog("work", "add", "wash", at=folder).out


def test_a_text_with_a_hidden_character_is_refused(tmp_path: Path, buildlog):
    with usual(tmp_path / "car") as ledger:
        folder = ledger.folder
    before = (folder / "car.toml").read_bytes()
    assert buildlog("work", "add", "wa\u202esh", at=folder).status == 4
    assert (folder / "car.toml").read_bytes() == before
