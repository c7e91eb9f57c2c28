"""What a field says of itself beside its value: what a change of it moves, how a screen calls it.

Both stand in the `Annotated` of the field, cost nothing until somebody asks
(`records/field_traits.py`) and leave the schemas as they are:

    bore: Annotated[Bore, PREDICTION | CALIBRATION] | None = None
"""

from __future__ import annotations

from enum import Flag, auto


class Moves(Flag):
    """What follows when a field changes.

    PREDICTION, the power that is predicted; MARGIN, a margin, as a demand or as a limit;
    CALIBRATION, whether the calibration still belongs to the car, by road speed only where it
    counts road speed. UNMODELLED: it may move what the dyno shows, and no formula follows it, so
    it never stands beside PREDICTION. NOTHING: none of these, so it stands alone.
    """

    NOTHING = 0
    PREDICTION = auto()
    UNMODELLED = auto()
    MARGIN = auto()
    CALIBRATION = auto()
    CALIBRATION_BY_ROAD_SPEED = auto()


NOTHING, PREDICTION, UNMODELLED = Moves.NOTHING, Moves.PREDICTION, Moves.UNMODELLED
MARGIN, CALIBRATION = Moves.MARGIN, Moves.CALIBRATION
CALIBRATION_BY_ROAD_SPEED = Moves.CALIBRATION_BY_ROAD_SPEED


class Here:
    """Says of a table, where it is mounted, what its fields move there instead:

    injectors: Annotated[Injectors, Here(kind=UNMODELLED | CALIBRATION)] | None
    """

    def __init__(self, **moves: Moves) -> None:
        self.moves = moves


class Label(str):
    """How a screen calls the field, with an example where it asks for it."""

    __slots__ = ()
