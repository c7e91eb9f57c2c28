"""A list as it is gone through at the car: what is open with its answers, what was answered."""

from __future__ import annotations

from typing import TYPE_CHECKING

from buildlog.analysis.answers.next_steps import STEP_WORDS
from buildlog.page.drawing.list_forms import ListForm, form
from buildlog.page.drawing.say import brief_day, sentence
from buildlog.page.drawing.templating import drawn

if TYPE_CHECKING:
    from buildlog.page.asked import Asked


def page(asked: Asked) -> str:
    """Its open items, each with an answer under the thumb.

    `stay` is the item that was answered just now: it keeps its place, so that nothing moves under
    a thumb. `open` is one that is answered again.
    """
    name = asked.name or ""
    found = form(asked.car, name)
    kept = {asked.query.get("stay"), asked.query.get("open")}
    here = [one for one in found.items if one.open or one.key in kept]
    after = [one for one in found.answered if one.key not in kept]
    return drawn(
        "one_list", asked, said=_sentence(found), begun=_begun(found), list=name,
        here=here, answered=after, upcoming=next(iter(found.still), None),
        at_field=asked.typed.get("what") in {one.what for one in here},
        cautions=found.definition.cautions, stay=asked.query.get("stay", ""),
        title=f"{found.definition.title} · buildlog",
    )  # fmt: skip


def _sentence(found: ListForm) -> str:
    """Which item is next, and which are faults and hold up the step."""
    told = []
    if found.still:
        told.append(f"Item {found.still[0].place} is next.")
    else:
        told.append("Every item is answered.")
    faults = found.faults
    if faults:
        step = found.definition.before
        places = " and ".join(str(one.place) for one in faults[:3])
        verb = "is a fault" if len(faults) == 1 else "are faults"
        holds = f" and hold{'s' * (len(faults) == 1)} up {STEP_WORDS[step]}" if step else ""
        told.append(f"Item{'s' * (len(faults) > 1)} {places} {verb}{holds}.")
    return " ".join(told)


def _begun(found: ListForm) -> str:
    people = list(dict.fromkeys(filter(None, (one.who for one in found.answered))))
    told = [found.definition.title, f"{len(found.answered)} of {len(found.items)} answered"]
    if found.begun:
        by = f" by {' and '.join(people)}" if people else ""
        told.append(f"begun {brief_day(found.begun)}{by}")
    return sentence(", ".join(told))
