"""What a configuration asks of its parts: power, torque, fuel, air, pressures, temperatures.

Each figure carries its band, its basis and what it rests on; what cannot be known names the
data that would answer. Nothing here needs numpy.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from functools import cache, cached_property
from math import hypot
from typing import Any, Literal

from buildlog.analysis.car.changes import physically_equal
from buildlog.analysis.car.gearing import driven_tyres, primary_ratio, rolling
from buildlog.analysis.car.priors import Prior
from buildlog.physics.engines import crank
from buildlog.physics.gases import charge, fuels, pipe_flow
from buildlog.physics.gases.fuels import FUELS, FuelProperties
from buildlog.physics.numerics.band import Band, propagate
from buildlog.physics.numerics.constants import ATM
from buildlog.physics.parts import gear_train, injectors
from buildlog.physics.parts.tyres import parse_size
from buildlog.records.configuration import Configuration
from buildlog.records.fasteners import Joint
from buildlog.records.paths import get
from buildlog.units import Quantity

Basis = Literal["measured", "declared", "computed", "predicted", "typical", "missing"]
SESSION = "dyno session"
"""The name of the missing datum where no power is known at all."""

FORCED = ("positive-displacement", "centrifugal", "turbocharger")
_DRIVEN = ("positive-displacement", "centrifugal")
_MEASURED_FIELDS = ("exhaust.back_pressure", "tyres.rolling_circumference")
Z90 = 1.2816  # standard deviations from the middle to P90 of a normal distribution
_REFERENCE_LAMBDA = {True: "lambda_boosted", False: "lambda_unboosted"}


@dataclass(frozen=True)
class DemandFigure:
    """A number in SI with its band, its basis, and the words for what it rests on.

    band is None where `missing` names what would answer. paths: the fields it was read from.
    problem: why the given data make no sense, in a sentence.
    """

    band: Band | None
    basis: Basis
    sources: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    paths: tuple[str, ...] = ()
    problem: str | None = None

    @property
    def p50(self) -> float | None:
        """The middle, None where it is not known."""
        return None if self.band is None else self.band.p50


def absent(*names: str) -> DemandFigure:
    """A figure that cannot be known without these data."""
    return DemandFigure(None, "missing", (), names)


def exact(value: float, source: str = "", basis: Basis = "declared") -> DemandFigure:
    """A figure without spread."""
    return DemandFigure(Band.exact(value), basis, (source,) if source else ())


def derive(formula: Callable[..., float], *inputs: DemandFigure | float) -> DemandFigure:
    """The result of a formula. It is missing what its inputs miss; nonsense becomes a problem.

    Basis: predicted if an input is, else computed.
    """
    figures = [one for one in inputs if isinstance(one, DemandFigure)]
    sources = tuple(dict.fromkeys(s for one in figures for s in one.sources))
    paths = tuple(dict.fromkeys(p for one in figures for p in one.paths))
    missing = tuple(dict.fromkeys(m for one in figures for m in one.missing))
    problem = next((one.problem for one in figures if one.problem), None)
    if missing:
        return DemandFigure(None, "missing", sources, missing, paths, problem)
    try:
        band = propagate(
            formula, *(one.band if isinstance(one, DemandFigure) else one for one in inputs)
        )
    except (ValueError, ZeroDivisionError, OverflowError) as error:
        return DemandFigure(
            None, "missing", sources, paths or ("a possible value",), paths, str(error)
        )
    predicted = any(one.basis == "predicted" for one in figures)
    return DemandFigure(band, "predicted" if predicted else "computed", sources, (), paths)


def as_limit(figure: DemandFigure) -> DemandFigure:
    """A stated limit or rating; one of zero or below is a problem, never a limit."""
    if figure.band is None or figure.band.p10 > 0:
        return figure
    where = figure.paths[0] if figure.paths else "the limit"
    text = f"{where} is {figure.band.p50:g}, but a limit must be above zero"
    return DemandFigure(
        None, "missing", figure.sources, figure.paths or (where,), figure.paths, text
    )


@dataclass(frozen=True)
class Run:
    """What the engine puts out at full load, as far as anybody knows.

    power [W] at `omega` [rad/s] and torque [N*m], at the wheels or hubs unless `at_crank`; torque
    is None where only the power peak is known. boost [Pa gauge] and lambda_ only if they were
    logged. basis: measured, predicted, or declared (the maker's rating).
    """

    power: Band
    omega: float | None
    basis: Basis
    source: str
    torque: Band | None = None
    at_crank: bool = False
    boost: Band | None = None
    lambda_: float | None = None
    note: str | None = None
    nitrous_on: bool = False


def measured_run(
    power: float,
    omega: float | None,
    pulls: int,
    source: str,
    accuracy: float | None = None,
    **facts: Any,
) -> Run:
    """A run from a measured peak [W].

    The band holds the scatter of the mean of its pulls, 1 % for one pull (common practice), and
    the dyno's stated accuracy, which here does not cancel, as an even spread.
    """
    u = hypot(0.01 / max(1, pulls) ** 0.5, (accuracy or 0.0) / 3**0.5)
    return Run(Band.around(power, Z90 * u), omega, "measured", source, **facts)


@dataclass(frozen=True)
class KnownGood:
    """The last configuration before this one that ran under full load on the same fuel."""

    name: str
    configuration: Configuration
    run: Run | None


@dataclass(frozen=True)
class Subject:
    """Everything a margin may ask for. joints: tightening records by name, newest of each.

    gain: what power is multiplied by while nitrous flows, injected_gain: the same for the fuel
    through the injectors, lean: what lambda is multiplied by when its fuel stays away.
    """

    configuration: Configuration
    run: Run | None
    priors: Mapping[str, Prior]
    on: dt.date | None = None
    joints: Mapping[str, Joint] = field(default_factory=dict)
    known_good: KnownGood | None = None
    no_run: str | None = None
    gain: DemandFigure | None = None
    injected_gain: DemandFigure | None = None
    lean: DemandFigure | None = None


class Demands:
    """The figures of one subject; each is worked out once, when it is asked for."""

    def __init__(self, subject: Subject) -> None:
        self.subject = subject
        self.configuration = subject.configuration

    # what the files say

    def given(self, *paths: str) -> DemandFigure:
        """The first of these fields that is stated; without any, the first is missing."""
        for path in paths:
            value = get(self.configuration, path)
            if value is None or isinstance(value, bool | str):
                continue
            number = value.si if isinstance(value, Quantity) else float(value)  # type: ignore[arg-type]
            basis: Basis = "measured" if path in _MEASURED_FIELDS else "declared"
            return DemandFigure(Band.exact(number), basis, self._said(path), paths=(path,))
        return absent(paths[0])

    def limit(self, path: str, dimension: str | None = None) -> DemandFigure:
        """A limit or rating at a path, else what the assembly's `limit` table states."""
        found = self.given(path)
        if found.band is None and dimension is not None:
            found = self.general_limit(path.rpartition(".")[0], dimension, path)
        return as_limit(found)

    def general_limit(self, table: str, dimension: str, ask: str | None = None) -> DemandFigure:
        """The `limit` table of an assembly, where it states a figure of this dimension."""
        path = f"{table}.limit.value"
        value = get(self.configuration, path)
        if not isinstance(value, Quantity) or value.dimension != dimension:
            return absent(ask or path)
        said = get(self.configuration, f"{table}.limit.source")
        words = f"{table}.limit" + (f": {said}" if said else "")
        return as_limit(DemandFigure(Band.exact(value.si), "declared", (words,), paths=(path,)))

    def prior(self, name: str) -> DemandFigure:
        """A typical efficiency or rate, never a limit, a rating, a size or a count."""
        return _typical(self.subject.priors[name])

    def given_or_prior(self, path: str, name: str) -> DemandFigure:
        """A stated efficiency or rate, else the typical one."""
        found = self.given(path)
        return found if found.band is not None else self.prior(name)

    def _said(self, path: str) -> tuple[str, ...]:
        """Who states it: the nearest table above that names a source."""
        table = path
        while "." in table:
            table = table.rpartition(".")[0]
            said = get(self.configuration, f"{table}.source")
            if said:
                return (f"{table}: {said}",)
        return (f"{path} as stated",)

    # power and torque

    @property
    def spark_ignition(self) -> bool:
        """Whether the fuel formulas hold; nothing else gets a gasoline figure."""
        source, tank = self.configuration.car.power_source, self.configuration.fuel
        if source is not None:
            return source == "spark-ignition"
        return self.configuration.motor is None and not (tank and tank.kind == "diesel")

    @property
    def combustion(self) -> bool:
        """Whether there is an engine that burns something."""
        return self.configuration.car.power_source != "electric"

    @property
    def boosted(self) -> bool:
        """Whether something compresses the charge."""
        how = self.configuration.induction
        return how is not None and how.kind in FORCED

    @property
    def driven(self) -> bool:
        """Whether a belt or gears drive the compressor."""
        how = self.configuration.induction
        return how is not None and how.kind in _DRIVEN

    @cached_property
    def run_power(self) -> DemandFigure:
        """The power that is known, at wheels or crank as the run says [W]."""
        run = self.subject.run
        if run is None:
            return absent(SESSION)
        return self._gained(DemandFigure(run.power, run.basis, (run.source,)))

    def _gained(self, figure: DemandFigure) -> DemandFigure:
        """With what nitrous adds, where it is taken to flow."""
        gain = self.subject.gain
        return figure if gain is None else derive(lambda value, by: value * by, figure, gain)

    @cached_property
    def driveline_loss(self) -> DemandFigure:
        """Share of crank power that does not reach the wheels."""
        chassis, box = self.configuration.chassis, self.configuration.gearbox
        name = "driveline_loss"
        if chassis is not None and chassis.driven_wheels == "all":
            name = "driveline_loss_all_wheel"
        elif box is not None and box.kind == "automatic":
            name = "driveline_loss_automatic"
        return self.prior(name)

    @cached_property
    def crank_power(self) -> DemandFigure:
        """Power at the flywheel [W]."""
        run = self.subject.run
        if run is not None and run.at_crank:
            return self.run_power
        return derive(lambda wheel, loss: wheel / (1 - loss), self.run_power, self.driveline_loss)

    @cached_property
    def wheel_power(self) -> DemandFigure:
        """Power at the tyres [W]."""
        run = self.subject.run
        if run is None or not run.at_crank:
            return self.run_power
        return derive(lambda crank, loss: crank * (1 - loss), self.run_power, self.driveline_loss)

    @cached_property
    def crank_torque(self) -> DemandFigure:
        """The highest torque at the flywheel [N*m]."""
        run = self.subject.run
        if run is not None and run.torque is not None:
            known = self._gained(DemandFigure(run.torque, run.basis, (run.source,)))
            if run.at_crank:
                return known
            return derive(lambda wheel, loss: wheel / (1 - loss), known, self.driveline_loss)
        rise = self.prior("torque_rise")
        return derive(lambda p, w, r: crank.torque(p, w) * r, self.crank_power, self.omega, rise)

    @cached_property
    def omega(self) -> DemandFigure:
        """Engine speed at the power peak [rad/s]."""
        run = self.subject.run
        if run is None:
            return absent(SESSION)
        if run.omega is None:
            return absent("engine.rated_power_speed")
        return exact(run.omega, "", run.basis)

    @cached_property
    def limiter(self) -> DemandFigure:
        """Engine speed at which the calibration cuts, else the maker's limit [rad/s]."""
        return self.given("calibration.rev_limit", "engine.rev_limit")

    # charge

    @cached_property
    def boost(self) -> DemandFigure:
        """Boost at full load [Pa gauge]; zero without a compressor."""
        if not self.boosted:
            return exact(0.0)
        run = self.subject.run
        if run is not None and run.boost is not None:
            return DemandFigure(run.boost, run.basis, (run.source,))
        target = self.given("induction.boost.target_gauge")
        prior = self.prior("boost_delivery" if self.driven else "boost_control")
        held = derive(lambda boost, share: boost * share, target, prior)
        return replace(held, basis="declared") if held.band is not None else held

    @cached_property
    def inlet(self) -> DemandFigure:
        """Temperature of the air before the compressor [K]."""
        return self.prior("inlet_air")

    @cached_property
    def manifold(self) -> DemandFigure:
        """Absolute manifold pressure at full load, at sea level [Pa]."""
        return derive(lambda boost: ATM + boost, self.boost)

    @cached_property
    def compressor_efficiency(self) -> DemandFigure:
        """Adiabatic efficiency of the compressor [-]."""
        how = self.configuration.induction
        kind = how.kind if how is not None and how.kind in FORCED else "turbocharger"
        name = f"{str(kind).replace('-', '_')}_efficiency"
        return self.given_or_prior("induction.compressor.efficiency", name)

    @cached_property
    def pressure_ratio(self) -> DemandFigure:
        """Pressure ratio across the compressor [-], loss of the cooler included."""
        cooler = self.configuration.induction and self.configuration.induction.charge_cooler
        drop: DemandFigure | float = 0.0
        if cooler:
            path = "induction.charge_cooler.pressure_drop"
            drop = self.given_or_prior(path, "cooler_pressure_drop")
        return derive(lambda p, lost: (p + lost) / ATM, self.manifold, drop)

    @cached_property
    def hot(self) -> DemandFigure:
        """Temperature behind the compressor [K]."""
        return derive(
            charge.compressor_temperature,
            self.inlet,
            self.pressure_ratio,
            self.compressor_efficiency,
        )

    @cached_property
    def charge_temperature(self) -> DemandFigure:
        """Temperature of the charge behind the cooler, or behind the compressor without one [K]."""
        how = self.configuration.induction
        if how is None or how.charge_cooler is None:
            return self.hot
        path = "induction.charge_cooler.effectiveness"
        effectiveness = self.given_or_prior(path, "cooler_effectiveness")
        # One formula from the inlet on: hot and coolant share the inlet's spread.
        return derive(
            _cooled, self.inlet, self.pressure_ratio, self.compressor_efficiency, effectiveness,
            self.prior("cooler_coolant_rise"),
        )  # fmt: skip

    # fuel and air

    @cached_property
    def tank(self) -> tuple[FuelProperties | None, DemandFigure]:
        """The fuel at the highest ethanol content allowed; a missing figure where it is unknown."""
        stated = self.configuration.fuel
        if stated is None or stated.kind is None:
            return None, absent("fuel.kind")
        if stated.kind == "methanol":
            return FUELS["methanol"], exact(1.0)
        allowed = [*(stated.ethanol_range or ()), stated.ethanol_content]
        highest = max((x for x in allowed if x is not None), key=lambda x: x.si, default=None)
        if stated.kind == "ethanol" and highest is None:
            return FUELS["ethanol"], exact(1.0)
        if stated.kind not in ("gasoline", "ethanol-blend", "ethanol"):
            return None, absent("fuel.kind")
        if highest is None:
            return None, absent("fuel.ethanol_content")
        return fuels.blend(highest.si), exact(highest.si)

    @cached_property
    def lambda_(self) -> DemandFigure:
        """Full-load lambda: logged, else aimed at, else missing [-]."""
        run = self.subject.run
        if run is not None and run.lambda_ is not None:
            return exact(run.lambda_, run.source, run.basis)
        return self.given("calibration.lambda_full_load")

    @cached_property
    def mixture(self) -> DemandFigure:
        """Full-load lambda, without the fuel that stays away where something has failed [-]."""
        lean = self.subject.lean
        return self.lambda_ if lean is None else derive(lambda x, by: x * by, self.lambda_, lean)

    @cached_property
    def brake_efficiency(self) -> DemandFigure:
        """Share of the fuel's energy that reaches the flywheel [-].

        The typical value belongs to the usual full-load mixture; where the car's own is known
        the surplus fuel of a richer one is counted, since the power hardly changes.
        """
        name = "brake_efficiency_boosted" if self.boosted else "brake_efficiency_unboosted"
        usual = self.prior(name)
        if self.lambda_.band is None:
            return usual
        reference = self.subject.priors[_REFERENCE_LAMBDA[self.boosted]].quantile(0.5)
        return derive(lambda eta, lam: eta * min(lam, 1.0) / reference, usual, self.lambda_)

    @cached_property
    def fuel_flow(self) -> DemandFigure:
        """Fuel at full load [kg/s]."""
        liquid, known = self.tank
        heating = liquid.lower_heating_value if liquid else 1.0
        return derive(
            lambda power, eta, _: injectors.fuel_demand(
                power, injectors.specific_consumption(eta, heating)
            ),
            self.crank_power, self.brake_efficiency, known,
        )  # fmt: skip

    @cached_property
    def injected(self) -> DemandFigure:
        """Fuel that goes through the injectors [kg/s]; a wet nitrous kit brings its own."""
        if self.subject.injected_gain is None:
            return self.fuel_flow
        return Demands(replace(self.subject, gain=None)).fuel_flow

    @cached_property
    def air_flow(self) -> DemandFigure:
        """Air at full load [kg/s], from the fuel and lambda."""
        liquid, known = self.tank
        lam = self.lambda_
        if lam.band is None:
            lam = self.prior(_REFERENCE_LAMBDA[self.boosted])
        ratio = liquid.stoichiometric_ratio if liquid else 1.0
        return derive(lambda m, x, _: m * x * ratio, self.fuel_flow, lam, known)

    # driveline

    @cached_property
    def ratios(self) -> tuple[float, ...] | None:
        """Turns of the crankshaft for one behind the gearbox, gear by gear; None where they are
        not stated."""
        box, primary = self.configuration.gearbox, primary_ratio(self.configuration)
        return tuple(primary * r for r in box.ratios) if box is not None and box.ratios else None

    def through_gears(self, formula: Callable[..., float], *figures: DemandFigure) -> DemandFigure:
        """A formula that takes the gear ratios as its last argument."""
        ratios = self.ratios
        if ratios is None:
            return derive(formula, *figures, absent("gearbox.ratios"))
        return derive(lambda *values: formula(*values, ratios), *figures)

    @cached_property
    def shaft_torque(self) -> DemandFigure:
        """Highest steady torque behind the gearbox [N*m]."""
        return self.through_gears(
            lambda torque, ratios: gear_train.highest_output_torque(torque, ratios, 1.0),
            self.crank_torque,
        )

    @cached_property
    def circumference(self) -> DemandFigure:
        """What a driven wheel rolls in one turn [m]."""
        value, u, basis = rolling(self.configuration)
        if value is None:
            return self._no_size()
        words = f"rolling circumference by {basis}"
        return DemandFigure(
            Band.around(value, Z90 * u), "computed", (words,), paths=("tyres.size",)
        )

    def _no_size(self) -> DemandFigure:
        """Why nothing follows from the size: it is not given, or no tyre has it."""
        tyres = driven_tyres(self.configuration)
        if tyres is None or tyres.size is None:
            return absent("tyres.size")
        size = str(tyres.size)
        stated = DemandFigure(Band.exact(1.0), "declared", paths=("tyres.size",))
        return derive(lambda _: parse_size(size).rim, stated)

    # exhaust

    @cached_property
    def back_pressure(self) -> DemandFigure:
        """Pressure in the exhaust at the present power, from the one that was measured [Pa]."""
        return derive(
            pipe_flow.scaled,
            self.given("exhaust.back_pressure"),
            self.given("exhaust.back_pressure_at_power"),
            self.wheel_power,
        )


@cache
def _typical(prior: Prior) -> DemandFigure:
    ends = (prior.quantile(p) for p in (0.1, 0.5, 0.9))
    words = f"{prior.name.replace('_', ' ')} typical ({prior.describe()})"
    return DemandFigure(Band(*ends), "typical", (words,))


def _cooled(inlet: float, ratio: float, efficiency: float, effect: float, rise: float) -> float:
    hot = charge.compressor_temperature(inlet, ratio, efficiency)
    return charge.cooled_temperature(hot, effect, inlet + rise)


def with_power(subject: Subject, power: float, boost: Band | None = None) -> Subject:
    """The subject at another power [W], at the wheels or crank as its run is; all else as it is.

    Torque grows with power. `boost` [Pa gauge] is the boost that goes with it.
    """
    run = subject.run
    if run is None:
        return subject
    share = power / run.power.p50
    raised = replace(run, power=run.power * share, torque=run.torque and run.torque * share)
    if boost is not None:
        raised = replace(raised, boost=boost)
    return replace(subject, run=raised)


def same_fuel(one: Configuration, other: Configuration) -> bool:
    """Whether two configurations burn the same fuel, as far as is stated."""
    a, b = one.fuel, other.fuel
    if a is None or b is None:
        return a is b
    return (a.kind, a.ron, a.mon) == (b.kind, b.ron, b.mon) and (
        a.ethanol_content and a.ethanol_content.si
    ) == (b.ethanol_content and b.ethanol_content.si)


def as_delivered(first: Configuration, now: Configuration) -> bool:
    """Whether the maker's rated power still speaks for this configuration."""
    from buildlog.analysis.car.changes import power_neutral
    from buildlog.records.paths import differences

    if physically_equal(first, now):
        return True
    return all(power_neutral(path) for path, _, _ in differences(first, now))
