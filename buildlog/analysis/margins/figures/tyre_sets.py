"""The tyres of each axle as they are marked."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from buildlog.analysis.margins.figures.demand_figure import DemandFigure, absent, derive, exact
from buildlog.analysis.margins.figures.margin_car import MarginCar
from buildlog.physics.parts import traction
from buildlog.physics.parts import tyres as tyre_physics
from buildlog.records.car.driveline import TyreSet
from buildlog.records.checked_paths import FieldPath, table


@dataclass(frozen=True)
class TyrePaths:
    """Where the marks of one set of tyres stand."""

    speed_symbol: FieldPath
    load_index: FieldPath
    made: FieldPath


def _paths(place: str) -> TyrePaths:
    names = ("speed_symbol", "load_index", "made")
    return TyrePaths(*(table(place).field(name) for name in names))


_BOTH = _paths("tyres")
_AXLES = {axle: _paths(f"tyres.{axle}") for axle in ("front", "rear")}


@dataclass(frozen=True)
class FittedTyres:
    """The tyres of one axle, or of both where they are alike and `axle` is None."""

    axle: str | None
    tyre: TyreSet
    paths: TyrePaths

    @property
    def load_index(self) -> int | None:
        """As stated, else as the size text holds it."""
        return self.tyre.load_index or _marked(self.tyre)[0]

    @property
    def symbol(self) -> str:
        """The speed symbol as stated, else as the size text holds it; empty without one."""
        return self.tyre.speed_symbol or _marked(self.tyre)[1] or ""

    def allowed_speed(self) -> DemandFigure:
        """The speed that the symbol allows [m/s]."""
        symbol, path = self.symbol, self.paths.speed_symbol
        if not symbol:
            return absent(path)
        words = f"speed symbol {symbol}, table of tire makers"
        figure = derive(lambda _: traction.speed_rating(symbol), exact(1.0, words, path=path))
        return replace(figure, basis="declared") if figure.band is not None else figure


def tyre_sets(car: MarginCar) -> Iterator[FittedTyres]:
    """One set where both axles have the same, else the front and the rear one."""
    tyres = car.configuration.tyres
    if tyres is None:
        yield FittedTyres(None, TyreSet.blank(), _BOTH)
    elif tyres.front is None and tyres.rear is None:
        yield FittedTyres(None, tyres, _BOTH)
    else:
        for axle, own in (("front", tyres.front), ("rear", tyres.rear)):
            paths = _BOTH if own is None else _AXLES[axle]
            yield FittedTyres(axle, tyres if own is None else own, paths)


def _marked(tyre: TyreSet) -> tuple[int | None, str | None]:
    """Load index and speed symbol where the size text holds them."""
    try:
        size = tyre_physics.parse_size(tyre.size or "")
    except ValueError:
        return None, None
    return size.load_index, size.speed_symbol
