"""The first sheet: which car needs somebody now, which waits, which is free."""

from __future__ import annotations

import datetime as dt
from collections import Counter
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from buildlog.desk.questions.waits import waits_in
from buildlog.desk.questions.working_faults import unrecorded_faults
from buildlog.errors import NotFound
from buildlog.page.drawing.say import (
    Ruled,
    brief_day,
    capital,
    counted,
    duration,
    listed,
    number,
    sentence,
)
from buildlog.page.drawing.templating import drawn
from buildlog.page.screens.notes.waiting_screen import waits_words
from buildlog.report.as_text.shop_text import due_word, left_words
from buildlog.report.numbers import Display, count, speaking

if TYPE_CHECKING:
    from buildlog.page.asked import Asked
    from buildlog.page.shop_reading import ShopRead

Facts = Mapping[str, Any]
_SECTIONS = ("Needs somebody", "Waits", "Something is due", "Free")
_OTHERS = dict(zip(_SECTIONS[1:], (("waits for something", "wait for something"),
                                   ("has something due", "have something due"),
                                   ("is free", "are free")), strict=True))  # fmt: skip
_NAMED = 3  # cars in the sentence


def page(asked: Asked) -> str:
    """Every car with where it stands and why, those that need somebody first."""
    try:
        read = asked.cars.shop.now()
    except NotFound:
        return drawn(
            "shop", asked, said="No car is in this folder yet.", sections=(), word="",
            looking=False, lead="Begin with the one that stands in front of you.",
        )  # fmt: skip
    show, places = speaking(read.units), read.places
    word = asked.query.get("word", "").strip()
    slugs = {place: slug for slug, place in asked.cars.places().items()}
    cars = [
        (slugs.get(places[name].absolute(), ""), name, _not_recorded(facts, places[name]))
        for name, facts in read.standing.cars
    ]
    shown = [one for one in cars if _fits(one[1], one[2], word)]
    names = Counter(facts.get("name") for _, _, facts in cars)
    twice = {name for name, count in names.items() if count > 1}
    sections = [
        (title, [_row(asked, *one, show, twice) for one in shown if _section(one[2]) == title])
        for title in _SECTIONS
    ]
    unread = [one for one in read.unread if not word or word.casefold() in one.casefold()]
    later = [  # one that was taken away meanwhile is not shown
        Ruled(one, asked.at(f"/car/{slug}/"))
        for one in unread
        if (slug := slugs.get(places[one].absolute()))
    ]
    return drawn(
        "shop", asked, said=_sentence(shown, word, len(read.unread)),
        lead=_lead(shown, cars, read), word=word,
        sections=[one for one in (*sections, ("Not read yet", later)) if one[1]],
        looking="word" in asked.query, title="Shop · buildlog", again=bool(read.unread),
    )  # fmt: skip


def _not_recorded(facts: Facts, place: Path) -> Facts:
    """The facts with what no entry has: what the car waits for, and faults that were found."""
    faults = unrecorded_faults(place, facts.get("fault_files", ()))
    told = [
        {"code": "fault", "what": one.symptom or "fault", "since": str(one.date), "left": None,
         "recorded": False}
        for one in faults
    ]  # fmt: skip
    return {**facts, "waiting": waits_words(waits_in(place)), "due": [*facts["due"], *told]}


def _section(facts: Facts) -> str:
    due = {item["code"] for item in facts["due"]}
    over = (facts.get("tightest") or {}).get("state") == "over"
    if facts.get("problem") or "fault" in due or over:
        return _SECTIONS[0]
    if facts.get("waiting"):
        return _SECTIONS[1]
    pressing = due - {"copy"}
    held = [one for one in facts["holds_up"] if one["gate"] != "hand-back"]
    return _SECTIONS[2] if pressing or held else _SECTIONS[3]


def _first(facts: Facts) -> bool:
    """Whether it needs somebody now."""
    return _section(facts) == _SECTIONS[0]


def _fits(folder: str, facts: Facts, word: str) -> bool:
    """Whether a word stands anywhere in what is told of a car."""
    told = [folder, facts.get("name"), facts.get("stage"), facts.get("problem")]
    told += [item["what"] for item in facts["due"]]
    return word.casefold() in " ".join(filter(None, told)).casefold()


def _row(
    asked: Asked, slug: str, folder: str, facts: Facts, show: Display, twice: set[str | None]
) -> Ruled:
    if facts.get("problem"):
        return Ruled(
            folder, asked.at(f"/car/{slug}/"), "cannot be read", facts["problem"], look=True
        )
    power = show.value(facts["last_power"], "power", 0) if facts["last_power"] else "not measured"
    state = ", ".join(filter(None, (facts["stage"] or "no stage", power)))
    name = f"{facts['name']} ({folder})" if facts["name"] in twice else facts["name"]
    return Ruled(name, asked.at(f"/car/{slug}/"), state, _why(facts, show), look=_first(facts))


def _why(facts: Facts, show: Display) -> str:
    """What presses most: faults, what it waits for, what is due, what holds it up."""
    faults = [item for item in facts["due"] if item["code"] == "fault"]
    if faults:
        first = faults[0]
        more = f" and {counted(len(faults) - 1, 'more', 'more')}" if len(faults) > 1 else ""
        since = brief_day(dt.date.fromisoformat(first["since"]))
        beside = ", not recorded yet" if first.get("recorded") is False else ""
        return sentence(f"{first['what']}{more}: open since {since}{beside}")
    tightest = facts["tightest"] or {}
    if tightest.get("state") == "over":
        return sentence(f"{tightest['name']} is past its limit")
    if facts.get("waiting"):
        return sentence(facts["waiting"])
    due = [item for item in facts["due"] if item["code"] not in ("copy", "sync")]
    told = [f"{due_word(item)}: {item['what']}{_left(item, show)}" for item in due[:2]]
    held = [one["why"] for one in facts["holds_up"] if one["gate"] != "hand-back"]
    told = told or held[:1] or [one["why"] for one in facts["holds_up"][:1]]
    alone = [f"{item['what']}{_left(item, show)}" for item in facts["due"]
             if item["code"] in ("copy", "sync")]  # fmt: skip
    return sentence("; ".join(told or ["ready for the dyno", *alone]))


def _left(item: Facts, show: Display) -> str:
    """How far it is until then, or since when; "since" is said once."""
    left = left_words(item, show)
    if left and left == f"since {item['since']}":
        said = "" if "since" in item["what"] else "since "
        left = f"{said}{brief_day(dt.date.fromisoformat(item['since']))}"
    return f", {left}" if left else ""


def _sentence(cars: Sequence[tuple[str, str, Facts]], word: str, unread: int = 0) -> str:
    """How many need somebody, and which where they are few."""
    if unread:
        need = sum(_first(facts) for _, _, facts in cars)
        some = "none needs" if not need else counted(need, "needs", "need")
        told = f"; of these {some} somebody now" if cars else ""
        verb = "is" if len(cars) == 1 else "are"
        return f"{len(cars)} of {count(len(cars) + unread, 'car')} {verb} read{told}."
    if word:
        return sentence(f"{counted(len(cars), 'car has', 'cars have')} “{word}”")
    here = [facts.get("name") or name for _, name, facts in cars if _first(facts)]
    if len(cars) == 1:
        return "The car needs somebody now." if here else "The car needs nobody now."
    if not here:
        return f"None of {number(len(cars))} cars needs somebody now."
    if len(here) == len(cars):
        every = "Both" if len(cars) == 2 else f"All {number(len(cars))}"
        return f"{every} cars need somebody now."
    verb = "needs" if len(here) == 1 else "need"
    names = f": {listed([f'the {name}' for name in here])}" if len(here) <= _NAMED else ""
    return f"{capital(number(len(here)))} of {len(cars)} cars {verb} somebody now{names}."


def _lead(
    shown: Sequence[tuple[str, str, Facts]], cars: Sequence[tuple[str, str, Facts]], read: ShopRead
) -> str:
    """The day, and how the other cars stand."""
    today = dt.date.today()
    said = [f"{today:%A} {today.day} {today:%B}"]
    if read.unread:
        left = f", {duration(read.seconds)} more" if read.seconds else ""
        said.append(f"Each car is read once and then kept{left}; any of them can be opened now")
    if len(shown) < len(cars):
        said.append(f"{capital(number(len(shown)))} of {len(cars)} cars")
    others = [
        counted(count, *verb)
        for title, verb in _OTHERS.items()
        if (count := sum(_section(facts) == title for _, _, facts in shown))
    ]
    said += [capital("; ".join(others))] if others else []
    return " ".join(sentence(one) for one in said)
