"""What fields say of themselves is read at any path a difference can have."""

from __future__ import annotations

from typing import Annotated, ClassVar

import pytest

from buildlog.records import checked_paths, field_traits
from buildlog.records.car.configuration import Configuration
from buildlog.records.checked_paths import session_field
from buildlog.records.field_traits import label, moves
from buildlog.records.fields.base import Record, Text
from buildlog.records.fields.traits import (
    CALIBRATION,
    CALIBRATION_BY_ROAD_SPEED,
    MARGIN,
    NOTHING,
    PREDICTION,
    UNMODELLED,
    Here,
    Moves,
)
from buildlog.records.paths import differences, leaves
from tests.builders import make_configuration


def test_a_field_says_it() -> None:
    assert moves("engine.bore") == PREDICTION | CALIBRATION
    assert moves("clutch.rated_torque") == MARGIN
    assert moves("engine.camshaft.kind") == UNMODELLED


def test_a_class_says_it_for_its_own_fields_and_not_for_those_it_inherits() -> None:
    assert moves("engine.part.serial") == NOTHING
    assert moves("clutch.clamp_force") == UNMODELLED | MARGIN
    assert moves("clutch.source") == NOTHING


def test_where_a_table_is_mounted_wins() -> None:
    assert moves("fuel.injectors.kind") == UNMODELLED | CALIBRATION
    assert moves("fuel.pump.kind") == UNMODELLED
    assert moves("tyres.size") == moves("tyres.rear.size") | CALIBRATION_BY_ROAD_SPEED


@pytest.mark.parametrize("item", ["respray", "3.5 in pipe", 'a "b".c', "x].y", "[z", "a.b]"])
def test_items_are_found_whatever_they_are_called(item: str) -> None:
    path = f"work[{item}].note"
    assert path in leaves(make_configuration({"work": [{"item": item, "note": "done"}]}))
    assert moves(path) == NOTHING


@pytest.mark.parametrize("key", ["engine.bore", "fuel.injectors.flow", "a[1].b", 'c"d'])
def test_the_keys_of_a_calibration_are_part_of_one_field(key: str) -> None:
    one, other = (make_configuration({"calibration.written_for": {key: v}}) for v in ("a", "b"))
    assert [moves(path) for path, _, _ in differences(one, other)] == [NOTHING]


def test_an_unknown_path_is_refused() -> None:
    for wrong in ("engine.bor", "engine", "wing.span"):
        with pytest.raises(LookupError):
            moves(wrong)


class _Wing(Record):
    fields_move: ClassVar[Moves] = UNMODELLED

    span: Text | None = None


class _Slotted(_Wing):
    slots: Text | None = None
    flap: Annotated[Text, PREDICTION] | None = None


class _Plane(Record):
    wing: _Slotted | None = None
    tail: Annotated[_Slotted, Here(span=NOTHING, slots=MARGIN)] | None = None


def test_what_says_nothing_of_itself_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """A class speaks for the fields it declares alone: a new field of a subclass has to say it."""

    def there(path: str) -> checked_paths.FieldPath:
        return checked_paths.field(path, _Plane)

    monkeypatch.setattr(field_traits, "field", there)
    said = field_traits._moves.__wrapped__
    assert said("wing.span") == UNMODELLED
    assert said("wing.flap") == PREDICTION
    assert said("tail.span") == NOTHING
    assert said("tail.slots") == MARGIN
    with pytest.raises(LookupError, match=r"nothing says what wing\.slots moves"):
        said("wing.slots")


def test_labels() -> None:
    assert label(session_field("dyno.id")) == "the shop's name for the dyno"
    with pytest.raises(LookupError, match="no label"):
        label(session_field("dyno.accuracy"))


def test_nothing_stands_alone() -> None:
    assert Moves.NOTHING | MARGIN == MARGIN
    assert not NOTHING


def test_the_schema_shows_none_of_it() -> None:
    """Traits are for the program: an editor and other programs see the same file as before."""
    text = str(Configuration.model_json_schema())
    assert "Moves" not in text
    assert "fields_move" not in text
