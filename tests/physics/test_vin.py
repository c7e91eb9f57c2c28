"""VIN form and check digit against the worked example of 49 CFR 565.15."""

import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from buildlog.physics.parts import vin

TABLES = Path(__file__).parents[2] / "shared" / "tables"
TABLE = tomllib.loads((TABLES / "vin-examples.toml").read_text(encoding="utf-8"))
PUBLISHED = TABLE["published"]["vin"]
ALPHABET = "ABCDEFGHJKLMNPRSTUVWXYZ0123456789"

vins = st.text(ALPHABET, min_size=17, max_size=17)


def test_published_example() -> None:
    assert sum(TABLE["published"]["products"]) == 411
    products = [vin._VALUES[c] * w for c, w in zip(PUBLISHED, vin._WEIGHTS, strict=True)]
    assert products == TABLE["published"]["products"]
    assert vin.check_digit(PUBLISHED) == TABLE["published"]["check_digit"] == PUBLISHED[8]


@pytest.mark.parametrize(("text", "digit"), TABLE["more"]["rows"])
def test_more_check_digits(text: str, digit: str) -> None:
    assert vin.check_digit(text) == digit == text[8]


def test_a_corrupted_vin_does_not_match() -> None:
    text, digit = TABLE["more"]["corrupted"]
    assert vin.check_digit(text) == digit
    assert digit != text[8]


@given(vins, st.sampled_from(ALPHABET))
def test_the_check_digit_place_does_not_count(text: str, other: str) -> None:
    assert vin.check_digit(text) == vin.check_digit(text[:8] + other + text[9:])


@given(vins, st.integers(0, 16), st.sampled_from("0123456789"))
def test_one_wrong_digit_is_always_found(text: str, place: int, other: str) -> None:
    changed = text[:place] + other + text[place + 1 :]
    if place != 8 and vin._VALUES[text[place]] != int(other):
        assert vin.check_digit(changed) != vin.check_digit(text)


@given(vins)
def test_writing_does_not_count(text: str) -> None:
    written = f" {text[:3].lower()} {text[3:9]}-{text[9:]}\n"
    assert vin.normalise(written) == text
    assert vin.check_digit(written) == vin.check_digit(text)
    assert vin.fault(written) is None


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "17 characters, not 0"),
        (PUBLISHED[:-1], "17 characters, not 16"),
        (PUBLISHED + "1", "17 characters, not 18"),
        ("O" + PUBLISHED[1:], "character 1 is O"),
        (PUBLISHED[:-1] + "q", "character 17 is Q"),
        (PUBLISHED[:-1] + "Ä", "only letters and digits"),
    ],
)
def test_faults_are_named(text: str, words: str) -> None:
    assert words in (vin.fault(text) or "")
    for question in (vin.check_digit, vin.model_year):
        with pytest.raises(ValueError, match=words):
            question(text)


def with_year(code: str, position_7: str) -> str:
    return PUBLISHED[:6] + position_7 + PUBLISHED[7:9] + code + PUBLISHED[10:]


@pytest.mark.parametrize(("code", "year"), TABLE["model_year"]["first_cycle"].items())
def test_model_year_of_the_first_cycle(code: str, year: int) -> None:
    assert vin.model_year(with_year(code, "5")) == year


@pytest.mark.parametrize(("code", "year"), TABLE["model_year"]["second_cycle"].items())
def test_model_year_of_the_second_cycle(code: str, year: int) -> None:
    assert vin.model_year(with_year(code, "H")) == year


@pytest.mark.parametrize("code", "UZ0")
def test_other_codes_tell_no_year(code: str) -> None:
    assert vin.model_year(with_year(code, "5")) is None
