"""The conditions of a visit: from options, from the files where they are taken, from answers."""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Protocol

from buildlog.analysis.pulls.session_draft import PER_PULL, Found, new_session, put
from buildlog.desk.questions.days import day_typed
from buildlog.errors import InvalidInput, UsageError
from buildlog.findings import Finding, first_error
from buildlog.records.checked_paths import field_paths, of_session, session_field
from buildlog.records.days_said import HINT
from buildlog.records.field_traits import label
from buildlog.records.reading import load
from buildlog.records.session import Session
from buildlog.records.toml import toml_write

Fields = dict[str, str]


class Ask(Protocol):
    """Whoever answers a question, with an answer that is offered; "" leaves it out."""

    def __call__(self, question: str, default: str = "") -> str: ...


_DATE, _STANDARD = session_field("date"), session_field("standard_applied")
_DYNO = session_field("dyno.id")
_OF_A_DYNO = f"{_DYNO.table}."  # how the paths of its fields begin
_DAY = of_session("date")
# Options that leave out the table, or part of the name.
_SHORT: dict[str, str] = {
    session_field("air.humidity"): "humidity",
    session_field("fuel.ethanol_content"): "ethanol-content",
    session_field("dyno.id"): "dyno",
    session_field("dyno.driven"): "driven",
    session_field("dyno.drum_inertia"): "drum-inertia",
    session_field("dyno.roller_circumference"): "roller-circumference",
}

# What an electric car's power does not hang on, or what it has only one of.
NOT_ELECTRIC = field_paths("gear", "air.temperature", "air.pressure", "air.humidity", model=Session)
# What is asked for at a terminal where nothing said it, in this order.
ASKED = field_paths(
    "odometer",
    "gear",
    "dyno.id",
    "dyno.kind",
    "standard_applied",
    "air.temperature",
    "air.pressure",
    "air.humidity",
    "place",
    model=Session,
)


@dataclass
class Conditions:
    """Fields of the session, fields of single pulls by file, and what was found but not taken."""

    fields: Fields
    by_file: dict[str, dict[str, Any]] = field(default_factory=dict)
    not_taken: list[Finding] = field(default_factory=list)
    taken: list[Found] = field(default_factory=list)


def option(name: str) -> str:
    """The option that states a field: "air.temperature" -> "--air-temperature"."""
    return "--" + _SHORT.get(name, name.replace(".", "-").replace("_", "-"))


def refuse_wrong(fields: Mapping[str, str]) -> None:
    """InvalidInput that names the option whose value does not fit."""
    for name, text in fields.items():
        problem = wrong(name, text)
        if problem:
            raise InvalidInput(problem.text, where=f"{option(name)} {text!r}", hint=problem.hint)


def wrong(name: str, text: str) -> Finding | None:
    """What is wrong with a field's text; None if it fits."""
    try:
        if name == _DATE:
            day(text)
            return None
        draft = new_session(dt.date(2000, 1, 1), {name: text}, [])
    except InvalidInput as error:
        return Finding("value", "error", error.what, hint=error.hint)
    if name == _STANDARD:
        return _wrong_standard(text)
    return first_error(load(Session, toml_write.write(draft), "")[1])


def _wrong_standard(text: str) -> Finding | None:
    from buildlog.physics.gases.correction import standard_named

    try:
        standard_named(text)
    except ValueError as error:
        return Finding("standard", "error", str(error).rstrip("."), hint="or none, or unknown")
    return None


def gather(
    given: Fields, found: Sequence[Found], take: Callable[[Sequence[Found]], bool]
) -> Conditions:
    """The conditions as said, and those of the files where `take` agrees to them."""
    open_ = [one for one in found if one.field not in given]
    usable = [one for one in open_ if not one.question and not _unusable(one)]
    taken = take(usable) if usable else False
    done = Conditions(dict(given))
    for one in open_:
        if not (taken and one in usable):
            done.not_taken.append(_left(one))
            continue
        done.taken.append(one)
        if one.value is not None:
            done.fields[one.field] = one.value
        for name, text in one.by_file.items() if one.differs else ():
            put(done.by_file.setdefault(name, {}), one.field, text)
    return done


def _unusable(one: Found) -> bool:
    """Whether files differ in what can only be one, or state what cannot be."""
    values = [one.value] if one.value is not None else list(one.by_file.values())
    impossible = any(wrong(one.field, text) for text in values)
    return impossible or (one.differs and one.field not in PER_PULL)


def _left(one: Found) -> Finding:
    """A condition that stands in the file and was not taken."""
    if one.question:
        text = f"found in the file, not taken: {one.question}"
    elif one.differs:
        shown = ", ".join(f"{value} ({name})" for name, value in one.by_file.items())
        text = f"found in the files, not taken: {one.field}: {shown}"
    else:
        text = f'found in the file, not taken: {one.field} = "{one.value}"'
    hint = f"{option(one.field)} VALUE" + ("" if one.question else ", or --take-conditions")
    return Finding("condition-not-taken", "note", text, (f"session.{one.field}",), one.where, hint)


def refuse_undecided(found: Sequence[Found], given: Mapping[str, str]) -> None:
    """InvalidInput where the file speaks of a correction that cannot be told."""
    for one in found:
        if one.field == _STANDARD and one.question and one.field not in given:
            raise InvalidInput(
                one.question,
                where=one.where,
                why="a corrected figure taken for an observed one is wrong by some per cent",
                hint="--standard-applied NAME, or none, or unknown",
            )


def date_of(given: Fields, name: str | None, conditions: Conditions, today: dt.date) -> dt.date:
    """The day: as said, as in the session's name, as in the file; today where nothing says it.

    UsageError where the name and --date differ; InvalidInput where a file states another day
    that was not taken: the session's name holds the day and cannot be changed later.
    """
    if name and _DATE in given and day(given[_DATE]).isoformat() != name:
        raise UsageError(
            f"the session's name begins with {name}, but --date is {given[_DATE]}",
            hint="give one of them",
        )
    said = given.get(_DATE) or name or conditions.fields.get(_DATE)
    left = next((f for f in conditions.not_taken if f.paths == (_DAY,)), None)
    if said is None and left:
        raise InvalidInput(
            left.text, where=left.where, why="the session is named by its day", hint=left.hint
        )
    return day(said) if said else today


def day(text: str) -> dt.date:
    """A date as files have it (2026-03-14) or as documents print it (14 March 2026)."""
    if found := day_typed(text):
        return found
    raise InvalidInput(f'"{text}" is not a day', hint=HINT)


def ask_missing(
    fields: Fields,
    ask: Ask,
    tell: Callable[[str], None],
    skip: Sequence[str] = (),
    offered: Mapping[str, str] | None = None,
    dynos: Mapping[str, Mapping[str, str]] | None = None,
) -> None:
    """Ask for what nothing said; Enter takes what is offered, else leaves it out, and a wrong
    answer is asked again. What is known of a dyno by its name is told, and not asked."""
    defaults = dict(offered or {})
    for name in ASKED:
        while name not in fields and name not in skip:
            default = defaults.get(name, "")
            how = "-: leave it out" if default else "Enter: leave it out"
            answer = ask(f"{label(name)} ({how})", default)
            if answer in ("", "-"):
                break
            problem = wrong(name, answer)
            if problem is None:
                fields[name] = answer
                if name == _DYNO:
                    _as_before(fields, defaults, (dynos or {}).get(answer, {}), tell)
            else:
                tell(problem.text + (f"\n  do: {problem.hint}" if problem.hint else ""))


def _as_before(
    fields: Fields, defaults: Fields, known: Mapping[str, str], tell: Callable[[str], None]
) -> None:
    """What is known of a dyno, in fields that nothing said; the rest of it is offered."""
    own = {
        name: text
        for name, text in known.items()
        if name.startswith(_OF_A_DYNO) and name not in fields and wrong(name, text) is None
    }
    fields |= own
    for name in known.keys() - own.keys():
        defaults.setdefault(name, known[name])
    if own:
        told = ", ".join(f"{name.partition('.')[2]} {text}" for name, text in own.items())
        tell(f"as before: {told}".replace("_", " "))


def stated(text: str) -> dict[str, str]:
    """One [[stated]] table from `power=148 hp@5600 rpm,standard=...,at=wheel,source=...`."""
    table: dict[str, str] = {}
    names = {"standard": "standard", "at": "measured_at", "source": "source", "scan": "scan"}
    for position, part in enumerate(_parts(text)):
        name, equals, value = (piece.strip() for piece in part.partition("="))
        if not equals or not value:
            raise _no_stated(text, f'"{part.strip()}" is not NAME=VALUE')
        if position == 0:
            number, _, place = (piece.strip() for piece in value.partition("@"))
            table |= {"quantity": name, "value": number} | ({"at": place} if place else {})
        elif name in names:
            table[names[name]] = value
        else:
            raise _no_stated(text, f'"{name}" is not one of {", ".join(names)}')
    return _checked_stated(table, text)


def _parts(text: str) -> list[str]:
    """Parts at commas; a comma inside quotes belongs to its part, and the quotes go."""
    parts, inside = [""], False
    for character in text:
        inside ^= character == '"'
        if character == "," and not inside:
            parts.append("")
        elif character != '"':
            parts[-1] += character
    return parts


def _checked_stated(table: dict[str, str], text: str) -> dict[str, str]:
    draft = {"format": 1, "date": dt.date(2000, 1, 1), "stated": [table]}
    if wrong := first_error(load(Session, toml_write.write(draft), "")[1]):
        raise InvalidInput(wrong.text, where=f"--stated {text!r}", hint=wrong.hint)
    return table


def _no_stated(text: str, what: str) -> UsageError:
    return UsageError(
        what,
        where=f"--stated {text!r}",
        hint='--stated "power=148 hp@5600 rpm,standard=SAE J1349,at=wheel,source=printout"',
    )
