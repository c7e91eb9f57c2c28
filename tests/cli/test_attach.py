"""Attachments: copied whole, photos without what they give away."""

from __future__ import annotations

import hashlib
from pathlib import Path

from buildlog.store.exchange import photo
from buildlog.store.exchange.told_places import tells_place
from tests.conftest import Call
from tests.store.test_photo import picture


def test_a_photo_is_copied_without_its_position(
    demo_copy: Path, buildlog: Call, tmp_path: Path
) -> None:
    original = picture(6)
    (tmp_path / "manifold.jpg").write_bytes(original)
    done = buildlog("attach", tmp_path / "manifold.jpg", at=demo_copy)
    assert done.status == 0, done.err
    assert "position" in done.out
    copy = (demo_copy / "attachments" / "manifold.jpg").read_bytes()
    assert not tells_place(copy)
    assert photo.original_of(copy) == hashlib.sha256(original).hexdigest()
    assert (tmp_path / "manifold.jpg").read_bytes() == original
    assert buildlog("record", "-m", "photo of the manifold", at=demo_copy).status == 0


def test_a_photo_with_its_position_is_not_recorded(demo_copy: Path, buildlog: Call) -> None:
    (demo_copy / "attachments" / "yard.jpg").write_bytes(picture())
    done = buildlog("record", "-m", "photo", at=demo_copy)
    assert done.status == 4
    assert "where it was taken" in done.err
    assert "attach" in done.err


def test_any_other_file_is_copied_byte_for_byte(
    demo_copy: Path, buildlog: Call, tmp_path: Path
) -> None:
    (tmp_path / "T26-009.bin").write_bytes(bytes(range(256)))
    done = buildlog("attach", tmp_path / "T26-009.bin", "--folder", "maps", at=demo_copy)
    assert done.status == 0
    copy = demo_copy / "attachments" / "maps" / "T26-009.bin"
    assert copy.read_bytes() == bytes(range(256))
    assert buildlog("attach", tmp_path / "T26-009.bin", "--folder", "maps").status == 4


def test_the_copy_leaves_with_the_car_and_says_which_original_it_is_of(
    demo_copy: Path, buildlog: Call, tmp_path: Path
) -> None:
    (tmp_path / "m.jpg").write_bytes(picture())
    buildlog("attach", tmp_path / "m.jpg", at=demo_copy)
    buildlog("record", "-m", "photo", at=demo_copy)
    assert buildlog("handover", tmp_path / "out", "--no-pdf").status == 0
    left = (tmp_path / "out" / "data" / "photos" / "m.jpg").read_bytes()
    assert not tells_place(left)
    listed = (tmp_path / "out" / "data" / "history.json").read_text()
    assert hashlib.sha256(picture()).hexdigest() in listed


def test_a_caption_stands_as_it_was_typed_wherever_the_photo_is_shown(
    demo_copy: Path, buildlog: Call, tmp_path: Path
) -> None:
    (tmp_path / "m.jpg").write_bytes(picture())
    said = buildlog(
        "attach", tmp_path / "m.jpg", "--caption", "Seal (left): worn, 0.3 mm", at=demo_copy
    )
    assert "caption in attachments/Seal-left-worn-0.3-mm.jpg.caption.toml" in said.out
    again = buildlog("attach", tmp_path / "m.jpg", "--caption", "Seal (left): worn, 0.3 mm")
    assert again.status == 4
    assert "is there already" in again.err
    assert buildlog("record", "-m", "seal", "--stage", "seal").status == 0
    assert buildlog("handover", tmp_path / "out", "--no-pdf").status == 0
    booklets = [path.read_text("utf-8") for path in (tmp_path / "out").rglob("*.html")]
    assert any("Seal (left): worn, 0.3" in text for text in booklets)


def test_a_caption_is_of_one_file_and_says_something(
    demo_copy: Path, buildlog: Call, tmp_path: Path
) -> None:
    for name in ("a.bin", "b.bin"):
        (tmp_path / name).write_bytes(b"1")
    both = (tmp_path / "a.bin", tmp_path / "b.bin")
    for files, caption in ((both, "two"), (both[:1], "--- !")):
        done = buildlog("attach", *files, "--caption", caption, at=demo_copy)
        assert done.status == 2, caption
        assert "caption" in done.err
    assert not list((demo_copy / "attachments").glob("[ab].bin"))
