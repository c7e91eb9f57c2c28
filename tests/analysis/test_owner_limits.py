"""The owner's limits against a plan: each gets a word, and a missing datum is never "kept"."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import pytest

from buildlog.analysis.answers.owner_limits import Verdict, owner_limits
from tests.builders import make_configuration

BLOWN = {"induction.kind": "turbocharger", "induction.boost.target_gauge": "9 psi"}


def verdicts(after: Mapping[str, Any], before: Mapping[str, Any] | None = None) -> dict[str, str]:
    one, other = make_configuration(dict(before or {})), make_configuration(dict(after))
    found = owner_limits(one, other, None)
    for limit in found:
        assert bool(limit.why) == (limit.verdict is not Verdict.KEPT)
    return {limit.name: limit.verdict.value for limit in found}


def test_without_an_intent_there_is_nothing_to_break() -> None:
    assert verdicts({"intent": None}) == {}


@pytest.mark.parametrize(
    ("car", "word"),
    [
        ({}, "kept"),
        (BLOWN, "broken"),
        ({**BLOWN, "induction.boost.target_gauge": "7 psi"}, "kept"),
        ({"induction.kind": "turbocharger"}, "unknown"),
    ],
)
def test_boost(car: dict[str, Any], word: str) -> None:
    assert verdicts({**car, "intent.boost_limit_gauge": "8 psi"})["boost 8 psi"] == word


def test_a_power_that_was_not_predicted_is_unknown() -> None:
    found = verdicts({"intent.wheel_power_limit": "200 hp"})
    assert found["wheel power 200 hp"] == "unknown"


@pytest.mark.parametrize(
    ("before", "after", "word"),
    [
        ("90 dB(A)", "90 dB(A)", "kept"),
        ("90 dB(A)", "97 dB(A)", "broken"),
        (None, None, "unknown"),
    ],
)
def test_sound(before: str | None, after: str | None, word: str) -> None:
    limit = {"intent.sound_level_limit": "96 dB(A)"}
    found = verdicts(
        {**limit, "exhaust.sound_level": after}, {**limit, "exhaust.sound_level": before}
    )
    assert found["sound level 96 dB(A)"] == word


def test_a_new_exhaust_makes_an_old_sound_level_unknown() -> None:
    known = {"intent.sound_level_limit": "96 dB(A)", "exhaust.sound_level": "90 dB(A)"}
    found = verdicts({**known, "exhaust.pipe_diameter": "76 mm"}, known)
    assert found["sound level 96 dB(A)"] == "unknown"


@pytest.mark.parametrize(
    ("before", "after", "word"),
    [
        ({"kind": "original", "count": 2}, {"kind": "original", "count": 2}, "kept"),
        ({"kind": "original", "count": 2}, {"kind": "original", "count": 1}, "broken"),
        ({"kind": "original"}, {"kind": "none"}, "broken"),
        ({"kind": "original"}, None, "broken"),
        ({"kind": "none"}, {"kind": "original"}, "kept"),
    ],
)
def test_emission_equipment(
    before: dict[str, Any], after: dict[str, Any] | None, word: str
) -> None:
    intent = {"intent.keep_emission_equipment": True}
    found = verdicts(
        {**intent, "exhaust.catalysts": after}, {**intent, "exhaust.catalysts": before}
    )
    assert found["emission equipment stays"] == word


@pytest.mark.parametrize(
    ("available", "word"),
    [(["gasoline RON 98"], "broken"), (["gasoline RON 98", "ethanol-blend E85"], "kept")],
)
def test_fuel(available: list[str], word: str) -> None:
    after = {"fuel.kind": "ethanol-blend", "fuel.ethanol_content": "85 percent"}
    found = verdicts({**after, "intent.fuel_available": available})
    assert found["fuel the owner can buy"] == word
