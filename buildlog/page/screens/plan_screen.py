"""One plan: what it would give, what it changes, what it needs, and whether it was accepted."""

from __future__ import annotations

from typing import TYPE_CHECKING

from buildlog.desk.questions.plans import plan_offer
from buildlog.desk.snapshot.snapshot import today
from buildlog.page.drawing import screen_figures
from buildlog.page.drawing.kept_answers import kept
from buildlog.page.drawing.say import Ruled, brief_day, capital, display, listed, sentence
from buildlog.page.drawing.templating import drawn
from buildlog.page.screens.plans_screen import built_words, gain_words, price_words
from buildlog.records.key_words import key_words
from buildlog.report.as_text.changes_text import value_text
from buildlog.report.as_text.margins_text import left_words
from buildlog.report.weight import rank

if TYPE_CHECKING:
    from buildlog.analysis.answers.plan_offers import PlanOffer
    from buildlog.page.asked import Asked
    from buildlog.report.numbers import Display

_HOW = (("in person", "in person"), ("by telephone", "by telephone"), ("by message", "by message"))


def page(asked: Asked) -> str:
    """The answer first, then price, changes, needs and limits."""
    book = asked.car
    show, one = display(book), kept(book, plan_offer, asked.name or "")
    changes = sorted(one.changes, key=lambda change: rank(change.path))
    built = one.built_in is not None
    return drawn(
        "plan", asked, column="desk", said=_sentence(one, show), plan=one.name,
        promised=_promised(one, show),
        accepted=one.plan.accepted is not None, how=_HOW, today=today().isoformat(),
        lead=sentence(f"From {one.base.name}, not built; {price_words(one)}") if not built else
        sentence(f"From {(one.made_from or one.base).name}; {price_words(one)}"),
        picture=None if built else screen_figures.band(book, one.base.name, f"plan:{one.name}"),
        needs=[] if built else
        [*one.needs, *one.breaks, *(f"unknown: {text}" for text in one.unknown)],
        changes=[
            (key_words(change.path.replace(".", ", ")), value_text(change.old, change.path),
             value_text(change.new, change.path)) for change in changes
        ], limits=[] if built else _limits(one, show), note=one.plan.note or "",
        title=f"{one.name} · buildlog",
    )  # fmt: skip


def _sentence(one: PlanOffer, show: Display) -> str:
    """What it would give; of one that is built, by which entry."""
    if one.built_in is not None:
        return sentence(f"{capital(one.name)}: {built_words(one)}")
    gain = gain_words(one, show) or f"not predicted, {one.reason}"
    return sentence(f"{capital(one.name)}: {gain}{_past(one)}")


def _past(one: PlanOffer) -> str:
    """ "; boost against relief would be past its limit"."""
    rows = [change.after for change in one.margins.changes] if one.margins else []
    over = [
        row.name for row in rows if row and not row.kind.information and row.state.value == "over"
    ]
    return f"; {listed(over, 2)} would be past the limit" if over else ""


def _limits(one: PlanOffer, show: Display) -> list[Ruled]:
    """Limits that the plan tightens or is past, with what is left before and after."""
    rows = []
    for change in one.margins.changes if one.margins else ():
        row = change.after
        if row is None or row.kind.information or row.margin.left is None:
            continue
        if not change.tighter and row.state.value != "over":
            continue
        was = left_words(change.before, show) if change.before else "not there"
        told = f"{was}, then {left_words(row, show)}; {row.basis}"
        rows.append(Ruled(change.name, "", row.state.value, told, row.state.value == "over"))
    return rows


def _promised(one: PlanOffer, show: Display) -> list[Ruled]:
    """What was quoted, when; and how it was accepted."""
    promise, accepted = one.plan.promised, one.plan.accepted
    if promise is None:
        return []
    low, high = promise.power_p10, promise.power_p90
    told = promise.reason or "no figure"
    if low is not None and high is not None:
        told = f"{show.number(low.si, 'power', 0)} to {show.value(high.si, 'power', 0)}"
    rows = [Ruled("Quoted", "", brief_day(promise.date), f"{told} at the {promise.at or 'wheels'}")]
    if accepted is not None:
        rows.append(Ruled("Accepted", "", brief_day(accepted.date), accepted.how))
    return rows
