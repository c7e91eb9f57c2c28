"""The plans side by side: what each would give, with its price, and what it needs besides."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING
from urllib.parse import quote

from buildlog.desk.questions.plans import built_plans, plan_offers
from buildlog.page.drawing.kept_answers import kept
from buildlog.page.drawing.say import Ruled, brief_day, capital, counted, display, sentence
from buildlog.page.drawing.templating import drawn
from buildlog.report.as_text.margins_text import left_words
from buildlog.report.as_text.plan_text import price_text
from buildlog.report.numbers import Display, signed

if TYPE_CHECKING:
    from buildlog.analysis.answers.plan_offers import PlanOffer
    from buildlog.page.asked import Asked


def page(asked: Asked) -> str:
    """One row a plan, the largest gain first."""
    book = asked.car
    show, found = display(book), kept(book, plan_offers)
    found = sorted(found, key=lambda one: -_middle(one))
    built = kept(book, built_plans)
    said = "No plan waits to be built." if built else "No plan is made yet."
    if found:
        first = found[0]
        gain = gain_words(first, show)
        most = f"; {first.name} gives most, {gain}" if gain else ""
        said = f"{capital(counted(len(found), 'plan waits', 'plans wait'))} to be built{most}."
        if len(found) == 1:
            said = sentence(f"One plan, {first.name}: {gain or 'not predicted'}")
    rows = [_row(asked, one, _why(one, show)) for one in found]
    lead = "Predicted figures are estimates, not approvals: 8 results in 10 are expected inside."
    return drawn(
        "plans", asked, said=said, names=[one.name for one in found],
        beside=_beside(found, show) if len(found) > 1 else (), lead=lead if found else
        "A plan is made at the computer: buildlog plan new NAME.", rows=rows,
        built=[_row(asked, one, built_words(one)) for one in built], title="Plans · buildlog",
    )  # fmt: skip


def _row(asked: Asked, one: PlanOffer, why: str) -> Ruled:
    return Ruled(one.name, asked.at(f"plans/{quote(one.name)}"), price_words(one), why)


def built_words(one: PlanOffer) -> str:
    """ "built in entry 5"."""
    return f"built in entry {one.built_in}"


def _beside(found: Sequence[PlanOffer], show: Display) -> list[list[str]]:
    """What a customer chooses by: gain, price, what comes closest, what else must change."""
    return [
        ["gain", *(_gain(one, show) for one in found)],
        ["price", *(price_words(one).removeprefix("no price") or "none" for one in found)],
        ["closest", *(_closest(one, show) for one in found)],
        ["to do besides", *(_besides(one) for one in found)],
        ["accepted", *(_accepted(one) for one in found)],
    ]  # fmt: skip


def _gain(one: PlanOffer, show: Display) -> str:
    return gain_words(one, show).removesuffix(" predicted") or "not predicted"


def _besides(one: PlanOffer) -> str:
    """How much else must change."""
    many = len(one.needs) + len(one.breaks)
    return counted(many, "thing", "things") if many else "nothing"


def _closest(one: PlanOffer, show: Display) -> str:
    """The tightest limit afterwards, with what is left of it."""
    after = [change.after for change in one.margins.changes] if one.margins else []
    known = [row for row in after if row is not None and row.margin.left is not None]
    counts = [row for row in known if not row.kind.information]
    return f"{counts[0].name}: {left_words(counts[0], show)}" if counts else "unknown"


def _accepted(one: PlanOffer) -> str:
    accepted = one.plan.accepted
    return f"{brief_day(accepted.date)}, {accepted.how}" if accepted else "not yet"


def _middle(one: PlanOffer) -> float:
    return one.predicted.peak_power_delta.p50 if one.predicted else float("-inf")


def gain_words(one: PlanOffer, show: Display) -> str:
    """ "+58 to +91 hp predicted"; "" where nothing is predicted."""
    if one.predicted is None:
        return ""
    band, unit = one.predicted.peak_power_delta, show.unit("power")
    low, high = (signed(end / unit.factor) for end in (band.p10, band.p90))
    between = f"about {low}" if low == high else f"{low} to {high}"
    return f"{between} {unit.text} predicted"


def price_words(one: PlanOffer) -> str:
    """ "4,200 USD", "no price"."""
    return "no price" if one.plan.amount is None else price_text(one)


def _why(one: PlanOffer, show: Display) -> str:
    told = [gain_words(one, show) or f"not predicted: {one.reason}"]
    told += list(one.needs[:1]) + list(one.breaks[:1])
    return "; ".join(told)
