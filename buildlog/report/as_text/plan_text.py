"""Plans as text and JSON: one by one, side by side, and what was done with one."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from buildlog.analysis.answers.plan_offers import Cost, PlanOffer
from buildlog.analysis.car.written import PlanAdopted, PlanDropped, PlanMade, PlanSet
from buildlog.analysis.margins.figures.margin_rows import State
from buildlog.analysis.margins.margin_changes import MarginChange
from buildlog.errors import UsageError
from buildlog.records.merge import Conflict
from buildlog.report.as_json.plan_json import blind_words, not_learned_from
from buildlog.report.as_text.changes_text import change_lines, value_text
from buildlog.report.as_text.margins_text import left_words, value
from buildlog.report.as_text.plan_tables import limit_tables
from buildlog.report.as_text.prediction_text import learning_lines, left_out_lines, unread_lines
from buildlog.report.in_units import in_units
from buildlog.report.lines import table, wrap
from buildlog.report.numbers import Display, count, gains, plain


def list_lines(offers: Sequence[PlanOffer]) -> list[str]:
    """All plans, with what each would cost and how much it changes."""
    if not offers:
        return ["no plans yet", "next: buildlog plan new NAME"]
    rows = [
        [
            one.name,
            f"from {(one.made_from or one.base).name}",
            _standing(one),
            price_text(one),
        ]
        for one in offers
    ]
    names = " ".join(one.name for one in offers if one.built_in is None)
    return [
        count(len(offers), "plan"),
        *table(rows, right=(3,)),
        "",
        f"next: buildlog plan {f'compare {names}' if names else 'new NAME'}",
    ]


def _standing(one: PlanOffer) -> str:
    if one.built_in is not None:
        return f"built in entry {one.built_in}"
    return f"{count(len(one.changes), 'field')} changed"


def made_lines(done: PlanMade) -> list[str]:
    """A plan begun."""
    entry = f"entry {done.number}, {done.entry[:8]}"
    return [
        f"plan {done.name}, made from {done.origin} (on {entry})",
        f"next: buildlog plan set {done.name} PATH=VALUE",
    ]


def set_lines(done: PlanSet) -> list[str]:
    """Each field of a plan that is another now."""
    lines = [f"{path}: {value_text(was)} -> {value_text(now)}" for path, was, now in done.changed]
    lines = lines or ["the same as before, physically"]
    return [*lines, f"next: buildlog plan show {done.name}"]


def adopted_lines(done: PlanAdopted) -> list[str]:
    """What the working files took over from a plan."""
    lines = [
        f"{path}: {value_text(value) if value is not None else 'removed'}"
        for path, value in done.taken.items()
    ]
    lines = lines or ["nothing to take over: the working files have it all"]
    taken = count(len(done.taken), "field")
    lines.append(f"taken from plan {done.name}: {taken}, in the working files only")
    return [*lines, f"next: {done.record.line}"]


def adopted_json(done: PlanAdopted) -> dict[str, Any]:
    """The same for programs."""
    taken = {path: value_text(value) for path, value in done.taken.items()}
    return {"plan": done.name, "taken": taken, "conflicts": []}


def dropped_lines(done: PlanDropped) -> list[str]:
    """A plan that is gone, and where git still has it for a while."""
    return [f"plan {done.name} is dropped; it was at {done.commit[:8]}", "next: buildlog plan list"]


def conflict_lines(conflict: Conflict) -> list[str]:
    """A field that plan and working changed differently, for a person to decide."""
    ours, theirs = value_text(conflict.ours), value_text(conflict.theirs)
    return [
        f"{conflict.path} was {value_text(conflict.base)} when the plan was made",
        f"  working has {ours}, the plan {theirs}; take",
    ]


def undecided(conflicts: Sequence[Conflict]) -> UsageError:
    """The refusal where nobody can be asked."""
    rows = [["field", "when planned", "working", "plan"]]
    rows += [
        [c.path, value_text(c.base), value_text(c.ours), value_text(c.theirs)] for c in conflicts
    ]
    listed = "; ".join(line.strip() for line in table(rows)[1:])
    return UsageError(
        f"both the plan and the working files changed {count(len(conflicts), 'field')}",
        why=f"field, when planned, working, plan: {listed}",
        hint="--take plan or --take working; nothing was changed",
    )


def offer_lines(offer: PlanOffer, show: Display, full: bool = False) -> list[str]:
    """One plan: its gain, its price, its changes."""
    lines = wrap(f"plan {offer.name}: {_headline(offer, show)}", 2, 0)
    standing = "not built" if offer.built_in is None else _standing(offer)
    lines += wrap(f"made from {_base(offer)}; {standing}", 2, 2)
    lines += question_lines(offer)
    if offer.plan.note:
        lines += wrap(f"note: {offer.plan.note}", 4, 2)
    lines.append("")
    if offer.changes:
        lines += change_lines(offer.changes, full)
    elif offer.built_in is not None:
        told = f"buildlog diff plan:{offer.name} latest says what it gave"
        lines += wrap(f"changed: all of it is in the car; {told}", 2, 0)
    else:
        lines.append(f"changed: nothing yet; buildlog plan set {offer.name} PATH=VALUE")
    lines += [*limit_tables([offer], show), "", *_said(offer, show)]
    lines += unread_lines(offer.not_learned_from)
    after = "report" if offer.built_in is not None else f"plan compare {offer.name}"
    return [*lines, "", f"next: buildlog {after}"]


def compare_lines(offers: Sequence[PlanOffer], show: Display) -> list[str]:
    """Plans side by side, in the order in which they were named."""
    if not offers:
        return ["no plans wait to be built", "next: buildlog plan new NAME"]
    start = next((o.predicted for o in offers if o.predicted is not None), None)
    if start is None:
        lines = _none_predicted(offers)
    else:
        lines = wrap(_best(offers, show), 2, 0)
        starts = dict.fromkeys(o.predicted.before.name for o in offers if o.predicted)
        names = " and ".join(starts)
        lines += wrap(f"gain of peak wheel power over {names}, 8 results in 10", 2, 2)
    unit = show.unit("power").text
    head = ["plan", f"gain [{unit}]", "middle", "price", f"price per {unit}"]
    rows = [[o.name, *_gain(o, show), price_text(o), cost_text(o.cost, show)] for o in offers]
    lines += ["", *table([head, *rows], right=(1, 2, 3, 4)), *limit_tables(offers, show)]
    for one in offers:
        said = [*question_lines(one), *_said(one, show)]
        if said or one.reason:
            lines += ["", one.name]
            lines += wrap(f"not predicted: {one.reason}", 4, 2) if one.reason else []
            lines += said
    return [
        *lines,
        *unread_lines(not_learned_from(offers)),
        "",
        "predicted figures are estimates, not approvals",
        f"next: {_next(offers)}",
    ]


def _none_predicted(offers: Sequence[PlanOffer]) -> list[str]:
    """With the reason, where it is the same for all; else each plan says its own below."""
    reasons = {one.reason for one in offers}
    why = f": {reasons.pop()}" if len(reasons) == 1 else ", each for its own reason"
    return wrap(f"no plan can be predicted{why}", 2, 0)


def _next(offers: Sequence[PlanOffer]) -> str:
    """Adopt the first that passes no limit; else look at what stands against the first."""
    known = [one for one in offers if one.predicted is not None]
    ready = [one.name for one in known if not _passes_a_limit(one)]
    if ready:
        return f"buildlog plan adopt {ready[0]}"
    if known:
        return f"buildlog margins plan:{known[0].name}"
    return f"buildlog plan show {offers[0].name}"


def _passes_a_limit(offer: PlanOffer) -> bool:
    return offer.margins is not None and any(one.outgrown for one in offer.margins.needs)


def _best(offers: Sequence[PlanOffer], show: Display) -> str:
    """The sentence that answers: the least price for a gain, else the largest gain."""
    priced = [o for o in offers if o.cost is not None]
    currencies = {o.plan.currency for o in priced}
    if len(priced) > 1 and len(currencies) == 1:
        ordered = sorted(priced, key=lambda o: o.cost.middle if o.cost else 0.0)
        first, second = ordered[0], ordered[1]
        overlap = _ends(first.cost)[1] > _ends(second.cost)[0]
        doubt = "; the bands overlap, so the order may change" if overlap else ""
        per = f"{cost_text(first.cost, show)} {first.plan.currency} per {show.unit('power').text}"
        return f"least price for the gain: {first.name} ({per}){doubt}"
    gains = [o for o in offers if o.predicted is not None]
    best = max(gains, key=lambda o: o.predicted.peak_power_delta.p50 if o.predicted else 0.0)
    return f"largest gain: {best.name}, {_headline(best, show)}"


def _ends(cost: Cost | None) -> tuple[float, float]:
    if cost is None:
        return 0.0, float("inf")
    return cost.least, cost.most if cost.most is not None else float("inf")


def _headline(offer: PlanOffer, show: Display) -> str:
    gain, middle = _gain(offer, show)
    if offer.built_in is not None and not offer.changes:
        text = "it is in the car"
    elif offer.predicted is None:
        text = f"not predicted: {offer.reason}"
    else:
        unit = show.unit("power").text
        text = f"{gain} {unit} at the wheels (8 in 10), middle {middle}"
    price = price_text(offer)
    return text if price == "-" else f"{text}; {price}"


def _gain(offer: PlanOffer, show: Display) -> list[str]:
    if offer.predicted is None:
        return ["unknown", "-"]
    unit, band = show.unit("power"), offer.predicted.peak_power_delta
    low, high, middle = gains((band.p10, band.p90, band.p50), unit.factor)
    return [f"{low} to {high}", middle]


def price_text(offer: PlanOffer) -> str:
    """The declared price, "-" without one."""
    amount = offer.plan.amount
    if amount is None:
        return "-"
    return f"{amount:,} {offer.plan.currency or '(currency not stated)'}"


def cost_text(cost: Cost | None, show: Display) -> str:
    """The price for one unit of gain, as a band."""
    if cost is None:
        return "-"
    factor = show.unit("power").factor
    most = f"{plain(cost.most * factor)}" if cost.most is not None else "no upper end"
    return f"{plain(cost.least * factor)} to {most}"


def question_lines(offer: PlanOffer) -> list[str]:
    """Fields that the car and the plan changed differently: the plan's value is reckoned with."""
    lines: list[str] = []
    for one in offer.questions:
        car, plan = value_text(one.ours), value_text(one.theirs)
        lines += wrap(
            f"question: {one.path} became {car} in the car since the plan was made, and the plan "
            f"says {plan}. Which? buildlog plan set {offer.name} {one.path}=...", 4, 2,
        )  # fmt: skip
    return lines


def _base(offer: PlanOffer) -> str:
    made, base = offer.made_from or offer.base, offer.base
    said = f"{made.name} ({made.id[:8]})"
    return said if made.id == base.id else f"{said}, now on {base.name} ({base.id[:8]})"


def _said(offer: PlanOffer, show: Display) -> list[str]:
    lines: list[str] = []
    first = offer.margins.first if offer.margins else None
    if first is not None and offer.margins is not None:
        said = f"first limit: {first.name}, {left_words(first, show)} ({first.state.value}"
        tighter = len(offer.margins.tighter)
        words = count(tighter, "limit gets", "limits get")
        lines += wrap(f"{said}, {first.basis}); {words} tighter", 4, 2)
    for text in (*offer.needs, *_outgrown(offer, show)):
        lines += wrap(f"must change too: {in_units(text)}", 4, 2)
    for text in offer.breaks:
        lines += wrap(f"breaks a limit of the owner: {in_units(text)}", 4, 2)
    for text in (*offer.unknown, *blind_words(offer)):
        lines += wrap(f"unknown: {in_units(text)}", 4, 2)
    found = offer.predicted
    if found is not None and found.learned is not None:
        lines += learning_lines(found, show)
    lines += left_out_lines(found) if found is not None else []
    for text in found.notes if found is not None else ():
        lines += wrap(f"taken: {in_units(text)}", 4, 2)
    return lines


def _outgrown(offer: PlanOffer, show: Display) -> list[str]:
    """Parts and settings that the plan outgrows: what it asks, and what is left without it."""
    return [_outgrown_words(one, show) for one in (offer.margins.needs if offer.margins else ())]


def _outgrown_words(one: MarginChange, show: Display) -> str:
    row = one.after
    assert row is not None
    assert row.margin.demand is not None
    assert row.margin.capacity is not None
    used, limit = (value(x.p50, row.kind, show) for x in (row.margin.demand, row.margin.capacity))
    known = one.before is not None and one.before.state is not State.UNKNOWN
    before = f" ({left_words(one.before, show)} before)" if one.before and known else ""
    left = left_words(row, show)
    if row.kind.unit == "octane numbers":
        return f"{one.name}: asks for {used} more than what ran before{before}"
    if one.outgrown:
        return f"{one.name}: {used} against {limit}, {left}{before}"
    return f"{one.name}, perhaps: {used} against {limit}, {left}, past it at the worse end{before}"
