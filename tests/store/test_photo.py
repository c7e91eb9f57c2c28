"""Photos: what they tell beside the picture is taken out, the picture stays bit for bit."""

from __future__ import annotations

import hashlib
import io

import numpy as np
import pytest

from buildlog.errors import InvalidInput
from buildlog.store.exchange import photo
from buildlog.store.exchange.told_places import tells_place

Image = pytest.importorskip("PIL.Image", reason="Pillow comes with matplotlib")
POSITION = {1: "N", 2: (52.0, 30.0, 1.5), 3: "E", 4: (13.0, 24.0, 2.5)}


def picture(orientation: int = 1, position: bool = True, **extra: object) -> bytes:
    """A photo as a camera writes it: made by Pillow, with position, serial number, artist."""
    pixels = np.arange(48 * 32 * 3, dtype=np.uint8).reshape(32, 48, 3)
    exif = Image.Exif()
    exif[0x0112], exif[0x013B], exif[0x010F] = orientation, "An Artist", "Camera"
    exif.get_ifd(0x8769)[0xA431] = "SERIAL-991"
    if position:
        exif.get_ifd(0x8825).update(POSITION)
    out = io.BytesIO()
    Image.fromarray(pixels).save(out, "JPEG", exif=exif, comment=b"a comment", **extra)
    return out.getvalue()


@pytest.mark.parametrize("extra", [{}, {"progressive": True}, {"restart_marker_blocks": 2}])
@pytest.mark.parametrize("orientation", [1, 6, 8])
def test_nothing_but_the_picture_and_how_it_stands_is_left(
    orientation: int, extra: dict[str, object]
) -> None:
    data = picture(orientation, **extra)
    found = photo.strip(data)
    assert tells_place(data)
    assert not tells_place(found.data)
    for word in (b"SERIAL-991", b"An Artist", b"a comment", b"Camera"):
        assert word in data
        assert word not in found.data
    one, other = Image.open(io.BytesIO(data)), Image.open(io.BytesIO(found.data))
    assert np.array_equal(np.asarray(one), np.asarray(other))
    assert other.getexif().get(0x0112, 1) == orientation
    assert dict(other.getexif().get_ifd(0x8825)) == {}


def test_the_originals_digest_is_kept_in_the_copy() -> None:
    data = picture()
    found = photo.strip(data)
    assert found.original_sha256 == hashlib.sha256(data).hexdigest()
    assert photo.original_of(found.data) == found.original_sha256
    assert "position and camera data" in found.removed


def test_a_stripped_photo_is_left_as_it_is() -> None:
    once = photo.strip(picture(6)).data
    assert photo.strip(once).data == once
    assert photo.original_of(once) is not None


def test_what_hangs_on_behind_the_picture_is_cut_off() -> None:
    data = picture() + b"a film with a position of its own"
    assert b"a film" not in photo.strip(data).data


def test_a_position_is_seen_in_other_kinds_of_file() -> None:
    exif = Image.Exif()
    exif[0x010F] = "Camera"
    exif.get_ifd(0x8825).update(POSITION)
    out = io.BytesIO()
    Image.new("RGB", (8, 8)).save(out, "PNG", exif=exif)
    assert tells_place(out.getvalue())
    tiff = exif.tobytes().removeprefix(b"Exif\0\0")
    assert tells_place(tiff)
    assert tells_place(b"\0\0\0\x18ftypheic" + b"Exif\0\0" + tiff)
    assert not tells_place(picture(position=False))


@pytest.mark.parametrize("cut", range(2, 400, 13))
def test_a_torn_photo_is_refused_or_stripped(cut: int) -> None:
    try:
        found = photo.strip(picture()[:cut])
    except InvalidInput:
        return
    assert not tells_place(found.data)
