"""A maker's sheet tapped through: the next bolt, what the hand must do, and what each one got."""

from __future__ import annotations

from typing import TYPE_CHECKING
from urllib.parse import quote

from buildlog.analysis.car.sheet_book import SheetState, left, stages
from buildlog.page.drawing.joint_forms import Cell, Turn, figure, short, state_of, tally, turn
from buildlog.page.drawing.say import Ruled, capital, counted, display, sentence
from buildlog.page.drawing.templating import drawn
from buildlog.report.in_units import in_units

if TYPE_CHECKING:
    from buildlog.page.asked import Asked
    from buildlog.records.fasteners import Fastened


def page(asked: Asked) -> str:
    """One bolt at one stage, and below it the tally of its joint."""
    book, name = asked.car, asked.name or ""
    state = state_of(book, name)
    now = turn(book, state, asked.query)
    joint = now.joint if now else state.joints[-1]
    cells = tally(joint, now)
    return drawn(
        "one_joint", asked, sheet=name, said=_sentence(state, now), now=now,
        lead="" if now is None else _asked(asked, now, state), joint=joint, cells=cells,
        heads=[f"{one.number}: {'+ ' * one.turns}{figure(one)}" for one in stages(joint)],
        outside=[_outside(joint, one) for row in cells for one in row if one.outside],
        others=[_row(asked, name, one) for one in state.joints], deed=_deed(now),
        title=f"{state.sheet.title} · buildlog",
    )  # fmt: skip


def _sentence(state: SheetState, now: Turn | None) -> str:
    if now is None:
        return f"{capital(state.sheet.title)}: every joint has all its stages."
    hand = "turn" if now.stage.turns else "tighten"
    to = "by" if now.stage.turns else "to"
    several = f", stage {now.stage.number} of {now.stage.of}" if now.stage.of > 1 else ""
    return f"{capital(now.joint.name)}{several}: {hand} bolt {now.bolt} of {now.joint.count} {to}"


def _asked(asked: Asked, now: Turn, state: SheetState) -> str:
    """The figure in the car's units where the sheet has others; thread, source, tool."""
    joint = now.joint
    display(asked.car)  # from here on in the units of this car
    told = [in_units(now.figure)] if in_units(now.figure) != now.figure else []
    grade = f"grade {joint.grade}" if joint.grade else ""
    told.append(", ".join(filter(None, (joint.thread, grade, joint.condition))))
    told += ["serves once: a new piece" if joint.single_use else "", joint.order or ""]
    told += [state.sheet.source or "", f"tool {joint.tool}" if joint.tool else "", joint.note or ""]
    return sentence("; ".join(filter(None, told))) if any(told) else ""


def _deed(now: Turn | None) -> str:
    """What the main button says that was done."""
    if now is None:
        return ""
    return f"Turned {now.figure}, next" if now.stage.turns else f"Set {now.figure}, next"


def _outside(joint: Fastened, one: Cell) -> str:
    stage = stages(joint)[one.stage - 1]
    least = "least" if one.outside == "under" else "most"
    bound = short(stage.low if one.outside == "under" else stage.high)
    return f"Bolt {one.bolt} got {one.text}; the {least} stated is {bound}."


def _row(asked: Asked, sheet: str, joint: Fastened) -> Ruled:
    still = left(joint)
    state = f"stage {still[0][0].number} of {still[0][0].of}" if still else "done"
    href = f"{asked.at(f'joints/{quote(sheet)}')}?joint={quote(joint.name)}"
    return Ruled(joint.name, href, state, counted(joint.count, "fastener", "fasteners"))
