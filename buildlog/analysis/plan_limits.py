"""What a predicted power asks of injectors and clutch: whether they must change with a plan."""

from __future__ import annotations

from collections.abc import Mapping

from buildlog.analysis.prediction import Predicted
from buildlog.analysis.priors import Prior
from buildlog.physics import injectors
from buildlog.physics.constants import ATM
from buildlog.physics.fuel import blend
from buildlog.records.configuration import Configuration
from buildlog.records.fuel import Injectors

_GASOLINES = ("gasoline", "ethanol-blend", None)


def too_small(
    configuration: Configuration, result: Predicted, priors: Mapping[str, Prior]
) -> tuple[list[str], list[str]]:
    """Sentences on what the predicted band outgrows, and on what could not be looked at."""
    needs: list[str] = []
    unknown: list[str] = []
    for found in (_injectors(configuration, result, priors), _clutch(configuration, result)):
        if found is not None:
            (needs if found[0] else unknown).append(found[1])
    return needs, unknown


def _injectors(
    configuration: Configuration, result: Predicted, priors: Mapping[str, Prior]
) -> tuple[bool, str] | None:
    fuel = configuration.fuel
    fitted = fuel.injectors if fuel else None
    if fuel is None or fuel.kind not in _GASOLINES or fitted is None or not _complete(fitted):
        return False, "injectors: fuel.injectors.count, flow and rated_pressure are needed"
    share = fuel.ethanol_range[1] if fuel.ethanol_range else fuel.ethanol_content
    burnt = blend(share.si if share else 0.0)
    boost = configuration.induction.boost if configuration.induction else None
    target = boost.target_gauge.si if boost and boost.target_gauge else 0.0
    prior = priors["brake_efficiency_boosted" if target else "brake_efficiency_unboosted"]
    each = _flow_each(fitted, target, burnt.density)
    if each <= 0:
        return True, "injectors: boost is above the rail pressure, no fuel would flow"
    crank = result.peak_crank_power
    duties = [
        power / (prior.quantile(p) * burnt.lower_heating_value) / (each * (fitted.count or 1))
        for power, p in ((crank.p50, 0.5), (crank.p90, 0.1))
    ]
    if duties[1] <= 1:
        return None
    word = "too small" if duties[0] > 1 else "may be too small"
    said = " and ".join(f"{100 * duty:.0f} %" for duty in duties)
    return True, f"injectors {word}: open for {said} of the time (middle and worse end)"


def _complete(fitted: Injectors) -> bool:
    return bool(fitted.count and fitted.flow and fitted.rated_pressure)


def _flow_each(fitted: Injectors, boost: float, density: float) -> float:
    """Mass flow of one injector, held open, at its differential pressure [kg/s]."""
    assert fitted.flow is not None
    assert fitted.rated_pressure is not None
    rail = fitted.system_pressure or fitted.rated_pressure
    drives = injectors.differential_pressure(rail.si, min(boost, 5 * ATM), bool(fitted.referenced))
    if drives <= 0:
        return 0.0
    if fitted.flow.dimension == "mass_flow":
        return injectors.flow_at_pressure(fitted.flow.si, fitted.rated_pressure.si, drives)
    return injectors.mass_flow(fitted.flow.si, fitted.rated_pressure.si, drives, density)


def _clutch(configuration: Configuration, result: Predicted) -> tuple[bool, str] | None:
    """The rating against crank torque; P90 taken at each speed."""
    clutch, box = configuration.clutch, configuration.gearbox
    if box is not None and box.kind == "automatic":
        return None
    if clutch is None or clutch.rated_torque is None:
        return False, "clutch: clutch.rated_torque is missing"
    omega, crank = result.raw.omega, result.raw.crank_power
    middle, worse = (float((curve / omega).max()) for curve in (crank.p50, crank.p90))
    rated = clutch.rated_torque
    if worse <= rated.si:
        return None
    word = "too weak" if middle > rated.si else "may be too weak"
    return True, (
        f"clutch {word}: rated {rated.text}, crank torque {middle:.0f} N*m at the middle, "
        f"{worse:.0f} N*m at P90"
    )
