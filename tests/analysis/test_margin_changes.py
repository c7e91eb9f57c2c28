"""One margin before and after, by figures: what is tighter, passed, in doubt, another word."""

from __future__ import annotations

from dataclasses import replace

import pytest

from buildlog.analysis.margins.figures.demand_figure import DemandFigure, absent, exact
from buildlog.analysis.margins.figures.margin_rows import Kind, Row, Rule, State, row
from buildlog.analysis.margins.margin_changes import MarginChange, margin_changes
from buildlog.physics.numerics.band import Band

KIND = Kind(
    name="clutch torque", rule=Rule.RATIO, unit="N*m", caution=0.1, caution_source="x",
    meaning="x", formula="x", source="x", typical="x", says_not="x", power_driven=True,
)  # fmt: skip
TOLD = replace(KIND, information=True)


def left(part: float | None, spread: float = 0.0, kind: Kind = KIND) -> Row:
    """A margin with so much left of its limit, at the middle; None: unknown."""
    if part is None:
        return row(kind, absent("a datum"), exact(100.0))
    asked = 100 * (1 - part)
    band = Band(asked - 100 * spread, asked, asked + 100 * spread)
    return row(kind, DemandFigure(band, "computed"), exact(100.0))


def words(before: Row | None, after: Row | None) -> str:
    one = MarginChange("clutch torque", before, after)
    found = ("tighter", "outgrown", "doubtful", "state_changed")
    return " ".join(word for word in found if getattr(one, word))


# before, after -> what is said of it. A hundredth of the caution band is 0.1 % of the limit.
SAID: list[tuple[Row | None, Row | None, str]] = [
    (left(0.5), left(0.5), ""),
    (left(0.5), left(0.4992), ""),
    (left(0.5), left(0.4988), "tighter"),
    (left(0.5), left(0.6), ""),
    (left(0.5), left(0.05), "tighter state_changed"),
    (left(0.05), left(0.5), "state_changed"),
    (left(0.05), left(0.04), "tighter"),
    (left(0.05), left(-0.05), "tighter outgrown state_changed"),
    (left(-0.05), left(-0.05), ""),
    (left(-0.05), left(-0.06), "tighter outgrown"),
    (left(-0.06), left(-0.05), ""),
    (left(0.5), left(0.02, 0.03), "tighter doubtful state_changed"),
    (left(0.02, 0.03), left(0.02, 0.03), ""),
    (left(0.02, 0.03), left(0.01, 0.03), "tighter doubtful"),
    (left(0.01, 0.03), left(0.02, 0.03), ""),
    (left(0.5), left(0.03, 0.03), "tighter state_changed"),  # just at its limit
    (left(0.5), left(None), "tighter state_changed"),
    (left(None), left(0.5), "state_changed"),
    (left(None), left(None), ""),
    (left(None), left(-0.1), "outgrown state_changed"),
    (left(None), left(0.02, 0.03), "doubtful state_changed"),
    (None, left(0.5), ""),
    (None, left(0.05), "state_changed"),
    (None, left(-0.1), "outgrown state_changed"),
    (None, left(0.02, 0.03), "doubtful state_changed"),
    (None, left(None), ""),
    (left(0.5), None, ""),
    (left(-0.1), None, ""),
    (left(0.5, kind=TOLD), left(None, kind=TOLD), "state_changed"),
]


@pytest.mark.parametrize(("before", "after", "said"), SAID)
def test_what_is_said_of_a_change(before: Row | None, after: Row | None, said: str) -> None:
    assert words(before, after) == said


def named(name: str, part: float | None, kind: Kind = KIND) -> Row:
    return left(part, kind=replace(kind, name=name))


def test_the_whole_of_two_versions() -> None:
    before = [named("a", 0.5), named("b", 0.6), named("gone", 0.7), named("grip", 0.9, TOLD)]
    after = [named("b", 0.65), named("grip", -0.5, TOLD), named("new", -0.2), named("a", 0.05),
             named("unknown", None), replace(named("level", None), margin=left(
                 None, kind=replace(KIND, name="level", power_driven=False)).margin)]  # fmt: skip
    found = margin_changes(before, after, ["no dyno", "no dyno", "no session"])
    names = [one.name for one in found.changes]
    assert names == ["new", "a", "b", "level", "unknown", "grip", "gone"]
    assert found.first is not None
    assert found.first.name == "new"
    assert [one.name for one in found.tighter] == ["a", "grip"]
    assert [one.name for one in found.needs] == ["new"]
    assert [one.name for one in found.blind] == ["unknown"]
    assert [one.name for one in found.telling()] == ["new", "a", "b"]
    assert found.why_unknown == ("no dyno", "no session")


def test_nothing_answers() -> None:
    found = margin_changes([], [named("a", None), named("grip", 0.2, TOLD)])
    assert found.first is None
    assert found.telling() == ()


def test_a_screen_shows_the_five_tightest_and_what_changed() -> None:
    rows = [named(f"m{n}", 0.3 + n / 100) for n in range(8)]
    assert [one.name for one in margin_changes(rows, rows).telling()] == [f"m{n}" for n in range(5)]
    later = [*rows[:6], named("m6", 0.355), named("m7", 0.365)]
    assert [one.name for one in margin_changes(rows, later).telling()] == [
        "m0", "m1", "m2", "m3", "m4", "m6", "m7",
    ]  # fmt: skip
    assert State.CLEAR in {one.state for one in rows}
