"""Versions, a session or a prediction laid out as curves in display units."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from buildlog.analysis.prediction.predicted import Predicted
from buildlog.analysis.pulls.air_fuel import mean_lambda
from buildlog.analysis.pulls.measured import Measured
from buildlog.analysis.pulls.sag_report import FoundSag, boost_settings, mean_boost, sag_report
from buildlog.analysis.pulls.sheet import PullGroup, Sheet, Top
from buildlog.analysis.pulls.sheet_report import SheetReport
from buildlog.records.car.configuration import Configuration
from buildlog.report.as_text.measured_text import verdict
from buildlog.report.as_text.prediction_text import answer
from buildlog.report.as_text.sheet_text import air_words, headline
from buildlog.report.numbers import Display, axis_scale, axis_unit, axis_value, count, plain
from buildlog.report.pictures.curve_model import DrawnCurve, DrawnSag, Kind, Panel, Picture
from buildlog.report.pictures.frames import Floats

_SETTINGS = {"relief": "relief setting", "boost limit of the calibration": "limit"}
_REFERENCES: Mapping[str, Kind] = {"relief setting": "relief", "limit": "limit"}
LEAST_BOOST = 5e3  # [Pa] below this nothing is charged, and the panel would show noise
_BAND = "mean of the pulls with its 95 % band"
_COUNTS = dict(enumerate(("no pulls", "one pull", "two pulls", "three pulls", "four pulls",
                          "five pulls", "six pulls")))  # fmt: skip


@dataclass(frozen=True)
class Item:
    """One version as it is drawn; `slot` is its place among the ledger's measured versions."""

    name: str
    sheet: Sheet
    group: PullGroup
    slot: int = 0
    configuration: Configuration | None = None

    def top(self, quantity: str) -> Top | None:
        """The peak of power or of torque."""
        return self.group.peak_power if quantity == "power" else self.group.peak_torque

    def sags(self) -> list[FoundSag]:
        """The sags that most of its pulls have."""
        if self.configuration is None:
            return []
        found = sag_report(self.sheet, self.configuration).sags
        return [one for one in found if one.group == self.group.key and one.shared]


def power_history(
    items: Sequence[Item],
    comparison: Measured | None,
    show: Display,
    quantity: str = "power",
    *,
    chosen: Sequence[str] = (),
    pulls: bool = False,
) -> Picture:
    """Mean curves of several versions with their bands, and the difference of two below; with
    `pulls` every pull as a thin line."""
    drawn = [one for one in items if one.top(quantity) is not None]
    curves = [curve for one in drawn for curve in _curves(one, quantity, show, pulls)]
    unit = show.unit(quantity).text
    alone = len(drawn) == 1 and drawn[0].group.pulls == 1
    rest = f"{unit}, one pull" if alone else f"{unit}, {_BAND}"
    title = f"{quantity.capitalize()} at the {drawn[0].sheet.at if drawn else 'wheels'}"
    panels = [Panel(title, rest, tuple(curves), from_zero=True)]
    if comparison is not None and quantity == "power":
        panels.append(difference(comparison, show, items[0].name, items[-1].name))
    return Picture(
        _headline(drawn, comparison, show, quantity),
        conditions(items),
        x_label(items[0].sheet),
        tuple(panels),
        _note(comparison, alone),
        tuple(chosen),
    )


def _curves(item: Item, quantity: str, show: Display, pulls: bool) -> list[DrawnCurve]:
    unit, sheet, group = show.unit(quantity), item.sheet, item.group
    values = group.mean if quantity == "power" else group.torque
    top = item.top(quantity)
    if values is None or top is None:
        return []
    half = sheet.mean_half_width(group)
    if quantity == "torque":
        wide = sheet.torque_half_width(group)
        half = half if wide is None else wide
    said = f"{show.value(top.value, quantity, 0)} at {axis_value(top.at, sheet.axis)}"
    scale = axis_scale(sheet.axis)
    sags = [
        DrawnSag(scale * one.at, scale * (one.at - one.width / 2), scale * (one.at + one.width / 2),
            f"sag of {100 * one.depth:.1f} %\nat {axis_value(one.at, sheet.axis)}")
        for one in item.sags()
    ] if quantity == "power" else []  # fmt: skip
    single = group.pulls == 1
    thin = [
        DrawnCurve(f"{item.name}, pull", scale * sheet.grid, one / unit.factor, slot=item.slot,
                   kind="thin")
        for one in group.power
    ] if pulls and quantity == "power" and not single else []  # fmt: skip
    marked = (scale * top.at, top.value / unit.factor, said)
    mean = DrawnCurve(item.name, scale * sheet.grid, values / unit.factor,
                 None if single or thin else half / unit.factor, marked, item.slot,
                 sags=tuple(sags))  # fmt: skip
    return [*thin, mean]


def difference(result: Measured, show: Display, before: str, after: str) -> Panel:
    """The difference of two with its band, and where it is largest."""
    unit = show.unit("power")
    index = int(np.nanargmax(np.abs(result.delta)))
    most = show.change(float(result.delta[index]), float(result.half_width[index]), "power")
    at = axis_value(float(result.grid[index]), result.axis)
    curve = DrawnCurve(f"{after} minus {before}", axis_scale(result.axis) * result.grid,
                  result.delta / unit.factor,
                  result.half_width / unit.factor, slot=None)  # fmt: skip
    return Panel(f"Difference, {after} minus {before}", unit.text, (curve,), "difference",
                 x_unit=axis_unit(result.axis), most=f"{most}\nthe most, at {at}")  # fmt: skip


def _headline(
    items: Sequence[Item], comparison: Measured | None, show: Display, quantity: str
) -> str:
    """What this picture shows, of the quantity that it shows."""
    delta = comparison.power if comparison else None
    if comparison is not None and quantity == "torque":
        delta = comparison.torque
    if comparison is None or delta is None:
        words = [
            f"{one.name}{' makes' if len(items) == 1 else ''} {show.value(top.value, quantity)} "
            f"at {axis_value(top.at, one.sheet.axis)}"
            for one in items
            if (top := one.top(quantity)) is not None
        ]
        return "; ".join(words) if len(words) < 4 else f"Peak {quantity} of {len(words)} versions"
    where = f"{'torque ' if quantity == 'torque' else ''}at the {comparison.at}"
    if not delta.beyond_scatter:
        change = show.change(delta.peak_delta, delta.half_width_95, quantity)
        text = f"{items[-1].name} against {items[0].name}: {change} {where}"
        return f"{text}, {verdict(delta, comparison)}"
    change = show.change(abs(delta.peak_delta), delta.half_width_95, quantity).lstrip("+")
    word = "more" if delta.peak_delta >= 0 else "less"
    text = f"{items[-1].name} makes {change} {word} {where} than {items[0].name}"
    return f"{text}: {verdict(delta, comparison)}"


def x_label(sheet: Sheet) -> str:
    """What the axis below the curves is: an electric car has no engine speed."""
    turning = "road speed" if sheet.axis == "road_speed" else sheet.turning
    return f"{turning}, {axis_unit(sheet.axis)}"


def conditions(items: Sequence[Item]) -> str:
    """The standard, the machines, and what was recovered: nothing to be guessed."""
    said = {"none": "Observed power, no correction", "unknown": "Correction unknown"}
    standards = dict.fromkeys(one.sheet.standard for one in items)
    parts = [" / ".join(said.get(one, f"Corrected by {one}") for one in standards)]
    gears = {one.sheet.session.gear for one in items}
    if len(gears) == 1 and None not in gears:
        parts.append(f"Gear {gears.pop()}")
    parts.append(dynos(items))
    pulls = {one.group.pulls for one in items}
    if len(pulls) == 1:
        many = pulls.pop()
        each = " each" if len(items) > 1 else ""
        parts.append(f"{_COUNTS.get(many, count(many, 'pull')).capitalize()}{each}")
    else:
        each = ", ".join(f"{one.name} {one.group.pulls}" for one in items)
        parts.append(f"Pulls: {each}")
    recovered = [
        one.name for one in items if any(c.speed.state == "recovered" for c in one.group.curves)
    ]
    if recovered:
        turning = items[0].sheet.turning.capitalize()
        parts.append(f"{turning} of {', '.join(recovered)} recovered from road speed")
    return f"{'. '.join(parts)}."


def dynos(items: Sequence[Item]) -> str:
    """ "Dynos R1 and R2"."""
    names = list(dict.fromkeys(
        one.sheet.session.dyno.id if one.sheet.session.dyno and one.sheet.session.dyno.id
        else "not named" for one in items))  # fmt: skip
    if len(names) == 1:
        return f"Dyno {names[0]}"
    return f"Dynos {', '.join(names[:-1])} and {names[-1]}"


def _note(comparison: Measured | None, alone: bool) -> str:
    if alone:
        return "One pull alone has no band: its scatter is not known."
    text = "Band: 95 % of the mean of the pulls at each speed"
    parts = [one for one in (comparison.parts if comparison else ()) if one.u]
    told = " and ".join(f"{100 * one.u:.2g} % for {one.text}" for one in parts)
    return f"{text}; the difference counts {told}." if told else f"{text}."


def sheet_picture(report: SheetReport, configuration: Configuration, show: Display) -> Picture:
    """A session's groups: power, torque, and small panels for mixture and boost."""
    sheet = report.sheet
    items = [
        Item(group.key or sheet.name, sheet, group, slot, configuration)
        for slot, group in enumerate(sheet.groups)
    ]
    pictures = [power_history(items, None, show)]
    if any(group.torque is not None for group in sheet.groups):
        pictures.append(power_history(items, None, show, "torque"))
    panels = [panel for picture in pictures for panel in picture.panels]
    panels += [one for what in ("air-fuel", "boost") if (one := channel_panel(items, what, show))]
    session = sheet.session
    where = f"{session.date}, {session.place or 'place not recorded'}; {air_words(sheet)}"
    return Picture(headline(sheet, show), where, x_label(sheet), tuple(panels),
                   pictures[0].notes)  # fmt: skip


def channel_history(items: Sequence[Item], what: str, show: Display) -> Picture | None:
    """Mixture or boost of several versions with their declared targets; None if none logs it."""
    panel = channel_panel(items, what, show)
    if panel is None:
        return None
    words = {"air-fuel": "Mixture under full load", "boost": "Boost under full load"}[what]
    logged = [one.label for one in panel.curves if one.kind == "version"]
    named = logged[0] if len(logged) == 1 else f"{logged[0]} to {logged[-1]}"
    lean = " Above 1 is lean." if what == "air-fuel" else ""
    shared = [one for one in panel.curves if one.kind == "target" and one.slot is None]
    owners = "".join(f" {one.label.capitalize()}: {_listed(one.owners)}." for one in shared)
    missing = [one.name for one in items if one.name not in logged]
    note = f"None logged: {', '.join(missing)}." if missing else ""
    if what == "air-fuel":
        note = f"The axis does not start at 0. {note}".strip()
    return Picture(f"{words}, {named}", f"{dynos(items)}. Mean of the pulls.{lean}{owners}",
                   x_label(items[0].sheet), (panel,), notes=note)  # fmt: skip


def _listed(names: Sequence[str]) -> str:
    """ "baseline, stage-1 and stage-2"; of many how many."""
    if len(names) > 4:
        return f"{names[0]} and {count(len(names) - 1, 'other')}"
    return " and ".join([", ".join(names[:-1]), names[-1]] if len(names) > 1 else names)


def channel_panel(items: Sequence[Item], what: str, show: Display) -> Panel | None:
    """A panel of mixture or boost, each declared target in its owner's colour; one that several
    versions have is drawn once, in ink, as are the relief and the limit while there is one."""
    axis = items[0].sheet.axis if items else "engine_speed"
    unit = show.unit("pressure")
    factor = unit.factor if what == "boost" else 1.0
    found = [(one, _channel(one, what)) for one in items if one.sheet.axis == axis]
    logged = [(one, values) for one, values in found if values is not None]
    owners: dict[tuple[str, float], list[Item]] = {}
    for one, _ in logged:
        for target in _targets(one, what).items():
            owners.setdefault(target, []).append(one)
    curves = [
        DrawnCurve(one.name, axis_scale(axis) * one.sheet.grid, values / factor, slot=one.slot)
        for one, values in logged
    ]
    settings = Counter(name for name, _ in owners)
    for (name, value), whose in owners.items():
        grids = [one.sheet.grid[np.isfinite(values)] for one, values in logged if one in whose]
        ends = axis_scale(axis) * np.array([min(g[0] for g in grids), max(g[-1] for g in grids)])
        kind = _REFERENCES.get(name, "target")
        own = len(whose) == 1 and (kind == "target" or settings[name] > 1)
        curves.append(DrawnCurve(name, ends, np.full(2, value / factor), kind=kind,
                                 slot=whose[0].slot if own else None,
                                 owners=tuple(one.name for one in whose)))  # fmt: skip
    if not curves:
        return None
    if what == "boost":
        return Panel(
            "Boost above ambient", f"{unit.text}, mean of the pulls", tuple(curves), "small"
        )
    return Panel("Mixture", "lambda, mean of the pulls", tuple(curves), "small")


def _channel(item: Item, what: str) -> Floats | None:
    """Mean over a group's pulls on the sheet's grid; None where there is nothing to draw."""
    if what == "air-fuel":
        return mean_lambda(item.sheet, item.group)
    boost = mean_boost(item.sheet, item.group, item.sheet.grid)
    return None if boost is None or np.nanmax(boost) < LEAST_BOOST else boost


def _targets(item: Item, what: str) -> Mapping[str, float]:
    """Declared targets and settings, by the words that label them."""
    car, named = item.configuration, item.group.curves[0].data.pull.calibration
    if car is None:
        return {}
    table = car.calibration
    if what == "air-fuel":
        own = table and (named is None or table.id is None or named == table.id)
        if not own or table is None or table.lambda_full_load is None:
            return {}
        return {f"target {table.lambda_full_load:.2f}": table.lambda_full_load}
    control = car.induction.boost if car.induction else None
    found = {"target": control.target_gauge.si} if control and control.target_gauge else {}
    settings = boost_settings(car)
    return found | {said: settings[name] for name, said in _SETTINGS.items() if name in settings}


def _capital(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"


def band_beside(result: Predicted, measured: Item | None, show: Display) -> Picture:
    """The predicted P10 to P90 band, the curve it starts from, and what was measured."""
    unit, curve = show.unit("power"), result.curve
    before, after = result.before.name, result.after.name.removeprefix("plan:")
    begun = np.asarray(result.start.anchor.power)
    rpm = np.asarray(result.start.rpm, dtype=float)
    middle, half = (curve.p10 + curve.p90) / 2, (curve.p90 - curve.p10) / 2
    band = result.peak_power
    said = f"{plain(unit.from_si(band.p10))} to {show.value(band.p90, 'power', 0)}"
    top = (float(rpm[int(np.nanargmax(middle))]), float(np.nanmax(middle)) / unit.factor, said)
    curves = [
        DrawnCurve(f"{before} (start)", rpm, begun / unit.factor, slot=0),
        DrawnCurve(f"{after}, predicted", rpm, middle / unit.factor, half / unit.factor, top, 1),
    ]
    if measured is not None and measured.sheet.axis == "engine_speed":
        (own,) = _curves(measured, "power", show, False)
        curves.append(DrawnCurve(f"{after}, measured", own.x, own.y, own.half, own.top, 2))
    return Picture(
        _capital(answer(result, show)),
        _capital(f"{result.start.words} ({result.start.standard})."),
        "engine speed, rpm",
        (Panel("Power at the wheels", f"{unit.text}; band: 8 in 10 at each speed",
               tuple(curves), from_zero=True),),
        "Predicted figures are estimates, not approvals.",
    )  # fmt: skip
