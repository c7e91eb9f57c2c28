"""A position in thirteen places of eight formats: cleaned with equal pixels, or refused."""

from __future__ import annotations

import io
import re
import zlib

import numpy as np
import pytest

from buildlog.errors import InvalidInput
from buildlog.store.exchange.pictures import cleaned
from buildlog.store.exchange.told_places import tells_place

Image = pytest.importorskip("PIL.Image", reason="Pillow comes with matplotlib")
from tests.store.hiding_places import (  # noqa: E402
    CANARY,
    CANNOT,
    FORMATS,
    HIDING,
    PLACES,
    POINT,
    exif,
    pixels,
    saved,
)  # fmt: skip

CLEANED = ("JPEG", "PNG", "WebP")


def test_every_place_is_tried_in_every_format_that_has_it() -> None:
    """The others are named with the reason; `pytest -s` prints the table."""
    assert (len(FORMATS), len(PLACES)) == (8, 13)
    print(f"\n{'':32}" + "".join(f"{kind:11}" for kind in FORMATS))
    for place in PLACES:
        words = ["has none" if place not in FORMATS[kind] else
                 "cleaned" if kind in CLEANED else "refused" for kind in FORMATS]  # fmt: skip
        assert "has none" not in words or CANNOT[place], place
        print(f"{place:32}" + "".join(f"{word:11}" for word in words) + CANNOT.get(place, ""))


@pytest.mark.parametrize(("kind", "place"), HIDING, ids=lambda one: one.replace(" ", "-"))
def test_no_position_is_kept(kind: str, place: str) -> None:
    data = HIDING[kind, place]()
    try:
        copy = cleaned(data)
    except InvalidInput as error:
        assert error.hint  # noqa: PT017 - the way out
        assert kind not in CLEANED
        return
    assert kind in CLEANED
    assert copy.removed
    assert not tells_place(copy.data)
    for word in (CANARY, POINT, b"GPS", b"$GP"):
        assert word not in copy.data, word
        assert not any(word in part for part in _unpacked(copy.data))
    if place == "a part that no standard uses":
        data = saved("JPEG")  # no viewer opens it with that part
    with Image.open(io.BytesIO(data)) as one, Image.open(io.BytesIO(copy.data)) as other:
        assert np.array_equal(np.asarray(one), np.asarray(other))
        if place == "EXIF directory":
            assert other.getexif().get(0x0112, 1) == 6
    assert cleaned(copy.data).data == copy.data


@pytest.mark.parametrize(("kind", "place"), HIDING, ids=lambda one: one.replace(" ", "-"))
def test_a_position_is_seen_wherever_it_stands(kind: str, place: str) -> None:
    """For what somebody put into the folder by hand, and for the list of what would leave."""
    if kind == "package":
        pytest.skip("a package is looked into by attach alone")
    try:
        assert tells_place(HIDING[kind, place]())
    except InvalidInput:
        assert place in ("locked", "a packing of old")


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "TIFF", "AVIF", "GIF", "PDF", "BMP"])
def test_a_plain_picture_tells_nothing(kind: str) -> None:
    assert not tells_place(saved(kind))


def test_other_files_stay_as_they_are() -> None:
    for data in (b"n,P\n3000,60.1\n", bytes(range(256)), saved("PDF"), saved("PNG"), saved("JPEG")):
        assert cleaned(data).data == data


def test_a_moving_picture_and_deep_colours_stay_as_they_are() -> None:
    out = io.BytesIO()
    frames = [Image.fromarray(np.roll(pixels(), n, 0)) for n in range(3)]
    frames[0].save(out, "PNG", save_all=True, append_images=frames[1:], exif=exif())
    copy = cleaned(out.getvalue()).data
    with Image.open(io.BytesIO(copy)) as moving:
        assert moving.n_frames == 3
    deep = io.BytesIO()
    Image.fromarray(np.arange(1024, dtype=np.uint16).reshape(32, 32)).save(deep, "PNG", exif=exif())
    with Image.open(io.BytesIO(cleaned(deep.getvalue()).data)) as other:
        assert np.array_equal(np.asarray(other).ravel(), np.arange(1024))


@pytest.mark.parametrize("kind", ["PNG", "WEBP"])
def test_a_torn_picture_is_refused(kind: str) -> None:
    whole = saved(kind, exif=exif())
    for cut in range(20, len(whole) - 1, 97):
        with pytest.raises(InvalidInput):
            cleaned(whole[:cut])


def _unpacked(data: bytes) -> list[bytes]:
    found = []
    for at in (match.start() for match in re.finditer(rb"x[\x01\x5e\x9c\xda]", data)):
        try:
            found.append(zlib.decompressobj().decompress(data[at:], 1 << 16))
        except zlib.error:
            continue
    return found
