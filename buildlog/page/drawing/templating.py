"""Templates filled in to whole HTML documents; nothing of a user's text is taken for markup."""

from __future__ import annotations

import datetime as dt
import re
from dataclasses import replace
from functools import cache
from typing import TYPE_CHECKING

from buildlog.page.drawing.say import capital, counted, day, sentence
from buildlog.records.key_words import key_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from jinja2 import Environment
    from markupsafe import Markup

    from buildlog.page.asked import Asked
    from buildlog.report.pictures.paper import Paper

_LONG = re.compile(r"(?<![\w.,-])(\d{1,3})(\d{3})(?= (?:mi|km|rpm|kg|lb|lbf|hPa|hp|kW|W|N[*·]m)\b)")
_PATH = re.compile(r"(?<![\w./\"=-])[a-z_]+(?:\.[a-z_]+)+(?![\w/=\"-]|\.\w)")
_LIST = re.compile(r"(?<![\w./-])([a-z]+(?:-[a-z]+)*)(?= of \d{4}-\d\d-\d\d: \d+ critical left)")
_CHANNEL = re.compile(r"(?<![\w./\"=-])[a-z]+(?:_[a-z]+)+(?![\w/=\"-]|\.\w)")
# A name with a figure in it, "stage-2-recheck": never broken at its hyphen where it fits a line.
_NAMED = re.compile(r"(?<![\w&;/.-])(?=[\w-]*\d)(?=[\w-]*[a-z])\w+(?:-\w+){1,3}(?![\w/-]|\.\w)")
_ONE_LINE = 26  # letters of such a name that a phone has room for, on top too
_MONTHS = "January|February|March|April|May|June|July|August|September|October|November|December"
_DAYS = re.compile(rf"\b\d{{1,2}} (?:{_MONTHS})(?: \d{{4}})?\b")
_DAY = re.compile(r"(?<![\w.-])\d{4}-\d\d-\d\d(?![\w-])")


def drawn(name: str, asked: Asked, **values: object) -> str:
    """The document of the template `name`; it says at its head what values it takes.

    Of every one: `said`, the sentence that the sheet begins with, `lead` below it, `title`;
    `at_field`: what is wrong with what was typed stands at its field, and not on top.
    """
    usual = {
        "title": f"{values.get('said', '')} · buildlog",
        "lead": "",
        "column": "narrow",
        "at_field": False,
    }
    if asked.question is not None:
        name, values = "question", _question(asked)
    found = _environment().get_template(f"{name}.html.j2").render(asked=asked, **usual | values)
    return "\n".join(line for line in found.splitlines() if line.strip())


def picture(paper: Paper, name: str) -> Markup:
    """A picture as an element of the page that tells its values where one points; its texts are
    escaped. On a dark ground the page's style sheet gives each role its colour."""
    from markupsafe import Markup

    from buildlog.report.booklet.html import typeset
    from buildlog.report.pictures.look import palette
    from buildlog.report.pictures.printing import svg

    told = replace(paper, description=typeset(paper.description))
    return Markup(svg(told, palette(), name=name, touch=True))


def _question(asked: Asked) -> dict[str, object]:
    """What is asked where somebody else wrote first; nothing of what was typed is lost."""
    own = ("token", "act", "what", "old", "back", "here")
    sent = [(name, value) for name, value in asked.typed.items()
            if name not in own and not name.startswith("held:")]  # fmt: skip
    what = asked.question.what if asked.question else ""
    thing = _item_words(asked, what) or capital(re.sub(r"[-_./]+", " ", what)) or "This"
    said = asked.question.said if asked.question else ""
    return {"question": asked.question, "said_of_it": sentence(said), "sent": sent,
            "mine": _mine(dict(sent)), "said": f"{thing}: which of the two stands?"}  # fmt: skip


def _item_words(asked: Asked, what: str) -> str:
    """What an item of a list asks, of "before-dyno/fan"; "" of what is no item."""
    from buildlog.desk.questions.day_books import definition
    from buildlog.errors import BuildlogError

    name, _, key = what.rpartition("/")
    if asked.question is None or asked.question.kind != "item" or asked.slug is None:
        return ""
    try:
        found = definition(asked.car.ledger, name).item
    except BuildlogError:
        return ""
    return next((one.text for one in found if one.key == key), "")


def _mine(sent: dict[str, str]) -> str:
    """What was typed, in one line: the answer, the value with its unit, the rest."""
    answer, value = sent.pop("answer", "").replace("-", " "), sent.pop("value", "")
    if value:
        value = f"{value} {sent.get('unit', '')}".strip()
    told = [answer if answer != "value" else "", value]
    told += [one for name, one in sent.items() if not name.startswith(("unit", "old:", "how"))]
    return ", ".join(filter(None, told)) or "nothing"


@cache
def _environment() -> Environment:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    from buildlog.report.booklet.html import in_one_piece, typeset
    from buildlog.report.in_units import in_units
    from buildlog.report.lines import clean

    def plain(text: object) -> str:
        return typeset(_printed(clean(str(text))))

    environment = Environment(
        loader=PackageLoader("buildlog.page"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["plain"] = plain
    environment.filters["typeset"] = lambda text: _names_whole(in_one_piece(plain(text), "nb"))
    environment.filters["days"] = _days_whole
    environment.filters["spoken"] = lambda text: in_units(str(text))
    environment.filters["unit"] = lambda text: typeset(unit_sign(text))
    environment.globals |= {"car_name": _car_name, "state": _state, "counted": counted}
    return environment


def _printed(text: str) -> str:
    """Days, fields, lists in words, figures by the thousand, "%": what stands in a name stays.

    >>> _printed("car.toml; missing: clutch.rated_torque.")
    'car.toml; missing: clutch rated torque.'
    >>> _printed("since 2026-01-08, session 2026-05-09-stage-2")
    'since 8 January 2026, session 2026-05-09-stage-2'
    >>> _printed("89183 mi, 55 percent; M11x1.5, 90 deg")
    '89,183 mi, 55 %; M11×1.5, 90°'
    >>> _printed("before-dyno of 2026-05-09: 6 critical left; missing: turbine_inlet_temperature")
    'list “before dyno” of 9 May 2026: 6 critical left; missing: turbine inlet temperature'
    """
    text = _LIST.sub(lambda found: f"list “{found[0].replace('-', ' ')}”", text)
    text = _LONG.sub(r"\1,\2", _DAY.sub(_in_words, text))
    text = re.sub(r"(?<=\d) percent\b", " %", text).replace("...", "…")
    text = re.sub(r"\b([Ee]ntry) (?=\d)", "\\1\u00a0", text)
    text = re.sub(r"(?<=\d) deg\b", "°", re.sub(r"\b(M\d+)x(?=\d)", r"\1×", text))
    text = _CHANNEL.sub(lambda found: _channel_words(found[0]), text)
    return _PATH.sub(lambda found: _field_words(found[0]), text)


def _names_whole(text: Markup) -> Markup:
    """Names of stages and plans that are not broken at a hyphen.

    >>> from markupsafe import Markup
    >>> _names_whole(Markup("at stage-2; forced-induction work"))
    Markup('at <span class="nb">stage-2</span>; forced-induction work')
    """
    from markupsafe import Markup

    def whole(found: re.Match[str]) -> str:
        return f'<span class="nb">{found[0]}</span>' if len(found[0]) <= _ONE_LINE else found[0]

    return Markup(_NAMED.sub(whole, str(text)))


def _days_whole(text: Markup) -> Markup:
    """Days that no line ends within: in the sentence on top, whose lines are short."""
    from markupsafe import Markup

    return Markup(_DAYS.sub(lambda found: found[0].replace(" ", "\u00a0"), str(text)))


def unit_sign(text: str) -> str:
    """A unit as it stands beside a field, without its figure.

    >>> unit_sign("percent"), unit_sign("degC"), unit_sign("deg"), unit_sign("psi")
    ('%', '°C', '°', 'psi')
    """
    return text.replace("percent", "%").replace("deg", "°")


def _channel_words(name: str) -> str:
    from buildlog.channels import CHANNELS

    return name.replace("_", " ") if name in CHANNELS else name


def _field_words(path: str) -> str:
    return key_words(path.replace(".", " ")) if path in _known_paths() else path


@cache
def _known_paths() -> frozenset[str]:
    """The path of every field, and of every table on the way to one."""
    from buildlog.records.car.configuration import Configuration
    from buildlog.records.paths import fields

    parts = [path.split(".") for path in fields(Configuration)]
    return frozenset(".".join(one[:n]) for one in parts for n in range(2, len(one) + 1))


def _in_words(found: re.Match[str]) -> str:
    try:
        return day(dt.date.fromisoformat(found[0]))
    except ValueError:
        return found[0]


def _car_name(asked: Asked) -> str:
    return asked.car.newest.configuration.car.name


def _state(asked: Asked) -> Iterator[tuple[str, str]]:
    """What the page was drawn from: head and digest of the car that it is about."""
    if asked.slug is not None:
        yield from zip(("head", "digest"), asked.cars.state(asked.place), strict=True)
