"""A prediction as text: the answer with its band first, then its parts and what it rests on."""

from __future__ import annotations

from collections.abc import Sequence

from buildlog.analysis.car.priors import called
from buildlog.analysis.car.version import Version
from buildlog.analysis.prediction import predicted
from buildlog.analysis.prediction.learned import KindReport, PastPredictions, PastStage
from buildlog.report.in_units import in_units
from buildlog.report.lines import shorten, shorten_start, table, wrap
from buildlog.report.numbers import Display, gain_digits, gains, plain, signed

_DOMINANT = 4
_UNTAUGHT = " without past results"
_BASIS = {"prior": "typical", "declared": "declared"}


def prediction_lines(result: predicted.Predicted, show: Display, full: bool = False) -> list[str]:
    """The whole screen of `predict`."""
    lines = wrap(answer(result, show), 2, 0)
    if result.lies is not None:
        lines += wrap(lies_words(result.lies), 2, 0)
    if result.torque_lies is not None:
        lines += wrap(f"torque: {lies_words(result.torque_lies)}", 2, 0)
    lines += [*wrap(_from(result), 2, 0), ""]
    if not result.changes_nothing:
        lines += [*_bands(result, show), *learning_lines(result, show), "", *_parts(result, show)]
        lines += ["", *_dominates(result, show)]
    lines += [*_also(result), *unread_lines(result.not_learned_from)]
    lines += ["", *_assumed(result, full)]
    lines += ["", "predicted figures are estimates, not approvals", _next(result)]
    return lines


def block_lines(result: predicted.Predicted, show: Display) -> list[str]:
    """The block of a diff."""
    lines = wrap(f"predicted from {result.before.name}'s measured curve", 2, 0)
    if result.unpredictable:
        return [*lines, *wrap(f"not predictable: {result.unpredictable}", 4, 2), *_also(result)]
    if result.changes_nothing:
        return [*lines, *_also(result), "  no change of power: nothing that moves it changed"]
    text = f"peak power  {_delta_words(result.peak_power_delta, show)}"
    said = f"   measured: {_where(result.lies)}" if result.lies is not None else ""
    lines += wrap(f"{text}{said}", 14, 2)
    if result.torque_lies is not None:
        unit, band = show.unit("torque"), result.peak_torque
        low, high = (plain(unit.from_si(x), 0) for x in (band.p10, band.p90))
        said = f"{low} to {high} {unit.text}   measured: {_where(result.torque_lies)}"
        lines += wrap(f"peak torque {said}", 14, 2)
    mean = show.change(result.raw.attribution.total, None, "power")
    raw = _UNTAUGHT if result.learned is not None else ""
    lines += _share_lines(result, show, f"   (together {mean}{raw})")
    return [*lines, *(learning_lines(result, show) if raw else []), *_also(result)]


def answer(result: predicted.Predicted, show: Display) -> str:
    """The sentence that answers, with its band."""
    if result.unpredictable:
        return f"not predictable: {result.unpredictable}"
    if result.changes_nothing:
        return "predicted: no change of power; nothing that moves it changed"
    kind = (
        "predicted"
        if result.start.measured
        else "ESTIMATED, because no measured curve stands behind it:"
    )
    where = "at the wheels" if result.start.at != "hubs" else "at the hubs"
    return f"{kind} {_delta_words(result.peak_power_delta, show)}, peak power {where}"


def lies_words(lie: predicted.Lies) -> str:
    """Where the measured value lies."""
    change = f"{100 * (lie.measured - 1):+.1f} %"
    band = f"{100 * (lie.low - 1):+.1f} to {100 * (lie.high - 1):+.1f} %"
    return f"measured {change}: {_where(lie)} ({band}, the dyno's scatter included)"


def _where(lie: predicted.Lies) -> str:
    return {"inside": "inside the band", "below": "below the band", "above": "above the band"}[
        lie.where
    ]


def _delta_words(band: predicted.PredictionBand, show: Display) -> str:
    unit = show.unit("power")
    low, high, middle = gains((band.p10, band.p90, band.p50), unit.factor)
    return f"{low} to {high} {unit.text} (8 in 10), middle {middle}"


def _from(result: predicted.Predicted) -> str:
    at = {"none": "observed", "unknown": "correction unknown"}.get(
        result.start.standard, result.start.standard
    )
    text = f"{_name(result.before)} → {_name(result.after)}; from the {result.start.words} ({at})"
    if not result.start.measured:
        text = f"{_name(result.before)} → {_name(result.after)}; {result.start.words}"
    if result.day != result.start.day:
        text += f"; in other air: {result.day.words}"
    return in_units(text)


def _bands(result: predicted.Predicted, show: Display) -> list[str]:
    power, torque = show.unit("power"), show.unit("torque")
    rpm = result.start.rpm
    span = f"{plain(float(rpm[0]))}-{plain(float(rpm[-1]))} rpm"
    rows = [["", "low", "middle", "high", "mean", ""]]
    for name, band, unit in (
        ("peak power at the wheels", result.peak_power, power),
        (f"mean power, {span}", result.mean_power, power),
        ("peak torque at the wheels", result.peak_torque, torque),
        ("peak crank power (driveline loss assumed)", result.peak_crank_power, power),
    ):
        values = (band.p10, band.p50, band.p90, band.mean)
        rows.append([name, *(plain(unit.from_si(x), 0) for x in values), unit.text])
    told = "1 result in 10 falls below low, 1 in 10 above high"
    return [*table(rows, right=(1, 2, 3, 4)), *wrap(told, 4, 2)]


def learning_lines(result: predicted.Predicted, show: Display) -> list[str]:
    """Raw beside adjusted, and how many results stand behind it."""
    learned = result.learned
    if learned is None:
        said = "no earlier stage with this kind of induction to learn from"
        return wrap(f"{said} (the setting cars names the shop's other ledgers)", 4, 2)
    raw = _delta_words(result.raw.peak_power_delta, show)
    cars = f", {result.learned_cars} cars" if result.learned_cars > 1 else ""
    lines = wrap(f"learned from {_count(learned)}{cars}; without them {raw}", 4, 2)
    if learned.spread > 1:
        lines += wrap(_too_narrow(learned), 4, 2)
    return lines


def unread_lines(unread: Sequence[str]) -> list[str]:
    """Ledgers of the shop that taught nothing because they could not be read."""
    return [line for text in unread for line in wrap(f"nothing learned from {text}", 4, 2)]


def _count(learned: predicted.Learned) -> str:
    many = "result" if learned.count == 1 else "results"
    return f"{learned.count} past {many} with this kind of induction"


def _too_narrow(learned: predicted.Learned) -> str:
    return (
        f"past bands were too narrow: results lay {learned.spread:.2f} times as far out as "
        "promised, so this band is that much wider"
    )


def _parts(result: predicted.Predicted, show: Display) -> list[str]:
    parts = result.raw.attribution
    mean = show.change(parts.total, None, "power")
    raw = _UNTAUGHT if result.learned is not None else ""
    lines = [f"what each change does to peak power, on average (together {mean}{raw})"]
    lines += _share_lines(result, show)
    if len(parts.shares) > 1:
        lines += wrap(
            f"of this, {show.change(parts.interaction, None, 'power')} only because they work "
            f"together ({100 * parts.interaction_share:.0f} %)",
            4,
            2,
        )
    return lines


def _share_lines(result: predicted.Predicted, show: Display, total: str = "") -> list[str]:
    unit = show.unit("power")
    shares = sorted(result.raw.attribution.shares, key=lambda s: -abs(s.delta))
    words = [f"{called(s.name)} {signed(s.delta / unit.factor, 1)}" for s in shares]
    return wrap(f"{'   '.join(words)} {unit.text}{total}", 4, 2) if words else []


def _dominates(result: predicted.Predicted, show: Display) -> list[str]:
    """What the band comes from, and how wide it were if that were known."""
    width = result.raw.peak_power_ratio.width
    per_ratio = result.raw.peak_power_delta.width / width if width else 0.0
    raw = _UNTAUGHT if result.learned is not None else ""
    digits = gain_digits(width * per_ratio / show.unit("power").factor)
    width_ = show.value(width * per_ratio, "power", digits)
    lines = [f"why the band is {width_} wide{raw}"]
    rows = []
    for one in result.raw.dominant[:_DOMINANT]:
        known = one.width_if_known
        then = "cannot be measured on one car" if one.name == predicted.STRUCTURE else ""
        if known is not None and known < 0.995 * width:
            narrower = show.value(known * per_ratio, "power", digits)
            then = f"if known, the band narrows to {narrower}"
        rows.append([called(one.name), f"{100 * one.share:.0f} %", then])
    return lines + table(rows, right=(1,))


def _also(result: predicted.Predicted) -> list[str]:
    """What else has to be said: what no formula covers, what was taken, what is beyond."""
    lines = left_out_lines(result)
    if result.force_ratio is not None:
        lines += wrap(
            f"gearing and tires: force at the wheels {100 * (result.force_ratio - 1):+.1f} %, road "
            "speed as much the other way; power stays",
            4,
            2,
        )
    for text in result.raw.beyond:
        said = f"outside the range that the formulas were checked for: {in_units(text)}"
        lines += wrap(said, 4, 2)
    for text in result.notes:
        lines += wrap(f"assumed: {in_units(text)}", 4, 2)
    return lines


def left_out_lines(result: predicted.Predicted) -> list[str]:
    """What changed and is not in the figures: nothing is zero because no formula has it."""
    lines: list[str] = []
    if result.not_covered:
        names = predicted.listed(result.not_covered)
        said = f"not counted: {names}; state its effect with a source, or measure"
        lines += wrap(said, 4, 2)
    if result.beside:
        names = predicted.listed(result.beside)
        lines += wrap(f"may move the reading, not counted: {names}", 4, 2)
    return lines


def _assumed(result: predicted.Predicted, full: bool) -> list[str]:
    if not full:
        names = ", ".join(_said(one) for one in result.assumed)
        return wrap(f"assumed ({len(result.assumed)}; ranges and sources: --full): {names}", 2, 0)
    lines = ["assumed"]
    for one in result.assumed:
        lines += wrap(in_units(f"{called(one.name)}: {one.words}"), 6, 2)
        lines += wrap(in_units(one.meaning), 6, 6)
        lines += wrap(in_units(f"{_BASIS.get(one.basis, one.basis)}: {one.source}"), 6, 6)
    lines += wrap("priors.toml in the ledger can replace a typical figure", 4, 2)
    return lines


def _said(one: predicted.Assumed) -> str:
    words = called(one.name)
    return f"{words} (own)" if one.own else words


def _name(version: Version) -> str:
    if version.working:
        return "working (not recorded)"
    return f"{version.name} ({version.id[:8]})" if version.number else version.name


def _next(result: predicted.Predicted) -> str:
    if result.after.plan:
        return f"next: buildlog plan compare {result.after.plan}"
    names = [v.stage or (str(v.number) if v.number else v.name) for v in _both(result)]
    return f"next: buildlog diff {' '.join(names)}"


def _both(result: predicted.Predicted) -> tuple[Version, Version]:
    return result.before, result.after


def back_test_lines(found: PastPredictions) -> list[str]:
    """The report of how past predictions did."""
    past = found.past
    many = len(past)
    inside = sum(stage.result.inside for stage in past)
    if not past:
        lines = ["no stage of these ledgers was predicted and measured yet"]
    else:
        stages = "stage" if many == 1 else "stages"
        lines = [f"{inside} of {many} measured {stages} came out inside the band (8 in 10 should)"]
        if many < 10:
            lines.append("  fewer than ten results say little")
        lines += ["", *_kind_table(found.kinds)]
        if any(one.raw.count > 1 for one in found.kinds):
            lines.append("  an error inside its ± could be chance (95 %)")
        for one in found.kinds:
            if one.learned.spread > 1:
                lines += wrap(f"{one.kind}: {_too_narrow(one.learned)}", 4, 2)
        lines += ["", *_stage_table(past)]
    if found.left_out:
        lines += ["", "not counted", *(x for s in found.left_out for x in wrap(s, 4, 2))]
    return [*lines, "", "next: buildlog history"]


def _kind_table(found: Sequence[KindReport]) -> list[str]:
    rows = [["induction", "results", "inside", "error", "width", ""]]
    for one in found:
        for word, test in (("by itself", one.raw), ("with past results", one.adjusted)):
            rows.append(
                [
                    one.kind if word == "by itself" else "",
                    str(test.count),
                    f"{100 * test.inside:.0f} %",
                    _bias(test.bias, test.bias_error),
                    f"{100 * test.width:.1f} %",
                    word,
                ]
            )
    return table(rows, right=(1, 2, 3, 4))


def _bias(bias: float, error: float | None) -> str:
    """The bias with twice its standard error: within that, it could be chance."""
    spread = f" ± {200 * error:.1f}" if error is not None else ""
    return f"{100 * bias:+.1f}{spread} %"


def _stage_table(past: Sequence[PastStage]) -> list[str]:
    """Each stage below its car; of a long pair of names the end stays."""
    rows = [["stage", "day", "predicted, 8 in 10", "measured", ""]]
    car = None
    for stage in past:
        if stage.car != car:
            car = stage.car
            rows.append([shorten(car, 30), "", "", "", ""])
        result = stage.result
        rows.append(
            [
                f"  {shorten_start(f'{stage.before} → {stage.after}', 28)}",
                stage.date.isoformat(),
                f"{100 * (result.p10 - 1):+.1f} to {100 * (result.p90 - 1):+.1f} %",
                f"{100 * (result.measured - 1):+.1f} %",
                "inside" if result.inside else "outside",
            ]
        )
    return table(rows, right=(3,), indent=0)
