"""What a fuel pump delivers against pressure."""

from __future__ import annotations

from dataclasses import dataclass

from buildlog.physics.numerics.arguments import above_zero, not_negative


@dataclass(frozen=True)
class PumpPoint:
    """One stated point of a pump: flow [m^3/s] at a gauge pressure [Pa], at loaded voltage."""

    flow: float
    pressure: float

    def __post_init__(self) -> None:
        above_zero(pump_flow=self.flow)
        not_negative(pump_pressure=self.pressure)


def rail_gauge(system_gauge: float, boost_gauge: float, referenced: bool) -> float:
    """Return the gauge pressure against which the pump works.

    Formula: setting plus boost with a manifold reference, else the setting alone.
    Inputs: system_gauge [Pa], boost_gauge [Pa], referenced: whether the regulator feels the
    manifold.
    Result: gauge pressure at the rail [Pa].
    Validity: losses in the line and filter are not counted.
    Errors: ValueError unless the setting is above zero.
    Source: definition.

    >>> rail_gauge(300e3, 50e3, referenced=True)
    350000.0
    """
    above_zero(system_pressure=system_gauge)
    return system_gauge + boost_gauge if referenced else system_gauge


def flow_from_slope(point: PumpPoint, loss_per_pascal: float, pressure: float) -> float:
    """Return a pump's flow at a pressure, from one stated point and a rate of loss.

    Formula: q = q1 (1 - k (p - p1)), not below zero. At a lower pressure than stated the
    stated flow is returned: a pump is not credited with what nobody measured.
    Inputs: point (q1 [m^3/s], p1 [Pa]), loss_per_pascal k [1/Pa] as a share of q1,
    pressure p [Pa] gauge.
    Result: flow [m^3/s].
    Validity: within some 200 kPa of the stated point, below the pump's relief valve, at the
    voltage of the stated point.
    Errors: ValueError for a negative k.
    Source: straight-line slip of a positive-displacement pump; common practice, no source.

    >>> p = PumpPoint(flow=255e-3 / 3600, pressure=300e3)
    >>> round(flow_from_slope(p, 1e-6, 400e3) * 3.6e6, 1)  # l/h
    229.5
    """
    not_negative(loss_per_pascal=loss_per_pascal)
    rise = max(0.0, pressure - point.pressure)
    return max(0.0, point.flow * (1 - loss_per_pascal * rise))


def flow_from_two(first: PumpPoint, second: PumpPoint, pressure: float) -> float:
    """Return a pump's flow at a pressure, on the line through two stated points.

    Formula: linear, not below zero.
    Inputs: two points (flow [m^3/s], pressure [Pa]), pressure [Pa] gauge.
    Result: flow [m^3/s].
    Validity: between the points; see `outside`.
    Errors: ValueError for two points at one pressure, or a flow that rises with pressure.
    Source: straight-line slip of a positive-displacement pump; common practice, no source.

    >>> a, b = PumpPoint(70e-6, 300e3), PumpPoint(56e-6, 500e3)
    >>> round(flow_from_two(a, b, 400e3) * 1e6, 3)
    63.0
    """
    low, high = sorted((first, second), key=lambda p: p.pressure)
    if low.pressure == high.pressure:
        raise ValueError("the two points of the pump are at one pressure; state two pressures.")
    if high.flow > low.flow:
        raise ValueError("the flow of a pump cannot rise with pressure; exchange the two points.")
    slope = (high.flow - low.flow) / (high.pressure - low.pressure)
    return max(0.0, low.flow + slope * (pressure - low.pressure))
