"""One session: what it gave, the curve, its sag, each pull, how the columns were taken."""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple
from urllib.parse import quote

from buildlog.channels import CHANNELS
from buildlog.desk.questions.visits import session_sheet
from buildlog.errors import BuildlogError
from buildlog.page.drawing import screen_figures
from buildlog.page.drawing.held_values import held
from buildlog.page.drawing.kept_answers import kept
from buildlog.page.drawing.say import (
    Ruled,
    capital,
    counted,
    day,
    display,
    listed,
    number,
    sentence,
)
from buildlog.page.drawing.templating import drawn
from buildlog.report.as_text.sheet_text import (
    QUIET,
    REGION_WORDS,
    air_words,
    no_sag,
    peak_words,
    place_words,
    sag_sentence,
    scatter_sentence,
    speed_words,
    two_source_lines,
)  # fmt: skip
from buildlog.report.booklet.html import typeset
from buildlog.report.numbers import Display, axis_value
from buildlog.units import find

if TYPE_CHECKING:
    from buildlog.analysis.pulls.curves import Curve
    from buildlog.analysis.pulls.sheet import Sheet
    from buildlog.analysis.pulls.sheet_report import SheetReport
    from buildlog.page.asked import Asked
    from buildlog.records.session import Column


class PullRow(NamedTuple):
    """One pull: what it gave, whether it counts, and what an act that changes this has to know."""

    name: str
    file: str
    state: str
    used: bool
    why: str
    old: str


def page(asked: Asked) -> str:
    """The sheet of a session."""
    book = asked.car
    name, show = book.session_name(asked.name), display(book)
    try:
        report = kept(book, session_sheet, name)
    except (BuildlogError, ValueError) as error:
        return _unread(asked, name, error)
    sheet, new = report.sheet, name in book.working.sessions
    session = sheet.session
    shown = [one for one in report.findings if one.code not in QUIET]
    return drawn(
        "dyno_session", asked, column="desk", said=_sentence(report, show), session=name,
        lead=_conditions(sheet),
        picture=screen_figures.session(book, name), new=new,
        sags=[sentence(sag_sentence(one, sheet, show)) for one in report.sags.sags],
        pulls=[_pull(asked, name, one, sheet, show) for one in (*sheet.curves, *sheet.unused)],
        mixture=_mixture(report), columns=_columns(session.column), channels=tuple(CHANNELS),
        taken=_taken((*session.column, *session.log_column)),
        scatter=sentence(scatter_sentence(report)),
        findings=shown, pull=asked.query.get("pull", ""), loggers=_loggers(report),
        doubled=[sentence(" ".join(" ".join(two_source_lines([one], sheet.axis, show)).split()))
                 for one in report.doubled],
        crank=_crank(report, show), title=f"{name} · buildlog",
    )  # fmt: skip


def _unread(asked: Asked, name: str, error: Exception) -> str:
    """Why it cannot be read; while it is not recorded its columns can be put right here."""
    why, book = str(error), asked.car
    if isinstance(error, BuildlogError):
        why = ": ".join(filter(None, (error.where, error.what)))
    mine = name in book.working.sessions and asked.may("write")
    columns = _columns(book.session(name).column) if mine else []
    return drawn("session_unread", asked, said=f"{name} cannot be read.", why=sentence(why),
                 session=name, columns=columns, channels=tuple(CHANNELS),
                 title=f"{name} · buildlog")  # fmt: skip


def _conditions(sheet: Sheet) -> str:
    """The day, the place and the machine; the air; where engine speed comes from."""
    where = "; ".join([day(sheet.session.date), *place_words(sheet)])
    return " ".join(map(sentence, (where, air_words(sheet), speed_words(sheet))))


def _sentence(report: SheetReport, show: Display) -> str:
    """ "211 ± 1 hp at the wheels at 5,470 rpm; it sags by 3 % at 4,900 rpm."."""
    sheet, group = report.sheet, report.sheet.kept
    if group is None:
        return sentence(f"{peak_words(sheet, show)}: a point without scatter")
    at = axis_value(group.peak_power.at, sheet.axis)
    told = f"{peak_words(sheet, show)} at the {sheet.at} at {at}"
    deepest = max(report.sags.sags, key=lambda one: one.depth, default=None)
    if deepest is not None:
        where, pulls = axis_value(deepest.at, sheet.axis), len(deepest.pulls)
        of = counted(deepest.of, "pull", "pulls")
        seen = f"{number(pulls)} of {of}" if pulls < deepest.of else f"all {of}"
        if deepest.of == 1:
            seen = "its one pull"
        told += f"; it sags by {100 * deepest.depth:.0f} % at {where} in {seen}"
    elif report.sags.sought:
        told += f"; {no_sag(report)}"
    return sentence(told)


def _pull(asked: Asked, session: str, curve: Curve, sheet: Sheet, show: Display) -> PullRow:
    pull = curve.data.pull
    used, known = curve not in sheet.unused, sheet.axis in curve.axis
    peak = show.value(curve.peak(sheet.axis).value, "power") if known else "no curve"
    by, called = ("key", pull.key) if pull.key else ("file", pull.file)
    old = held(asked.car, f"dyno/{session}/session.toml", ("pull", {by: called}))
    several = len({one.data.pull.calibration for one in (*sheet.curves, *sheet.unused)}) > 1
    calibration = pull.calibration if several else ""
    told = ", ".join(filter(None, (calibration, pull.log and f"log {pull.log}", pull.note)))
    why = told if used else pull.reason or ""
    return PullRow(curve.name, called, peak if used else "not used", used, why, old)


def _mixture(report: SheetReport) -> list[Ruled]:
    """Lambda by load region: the middle of what was measured, against its target."""
    return [
        Ruled(capital(REGION_WORDS.get(one.region, one.region)), "", f"{one.median:.2f}",
              f"{one.state}; {f'target {one.target:.2f}' if one.target else 'no target stated'}")
        for one in report.mixture.readings
    ]  # fmt: skip


def _loggers(report: SheetReport) -> list[Ruled]:
    """How each other file was laid over its pull: by what, the shift that was found, what it
    covers."""
    return [
        Ruled(one.log.source, "", f"shift {one.log.shifted} s",
              f"{one.pull}, aligned by {one.log.by}; covers {100 * one.covered:.0f} % of it; adds "
              f"{listed([name.replace('_', ' ') for name in one.log.channels] or ['nothing'])}")
        for one in report.logs
    ]  # fmt: skip


def _columns(columns: tuple[Column, ...]) -> list[tuple[int, str, str, str]]:
    """Each column: its place, its heading, what it was taken as, its unit."""
    return [(n, one.name, one.channel, one.unit or "") for n, one in enumerate(columns)]


def _taken(columns: tuple[Column, ...]) -> list[tuple[str, str]]:
    """Each column as the file heads it, and what it was taken as, with its printed unit."""
    told = []
    for one in columns:
        unit = find(one.unit or "")
        printed = typeset(f"1 {unit.text}")[2:].replace("-", "·") if unit else one.unit
        told.append((one.name, ", ".join(filter(None, (one.channel.replace("_", " "), printed)))))
    return told


def _crank(report: SheetReport, show: Display) -> str:
    if report.crank is None:
        return ""
    low, high = (show.number(value, "power", 0) for value in report.crank)
    return f"At the crank some {low} to {high} {show.unit('power').text}: typical, an estimate."


def link(asked: Asked, name: str) -> str:
    """Where the sheet of a session is."""
    return asked.at(f"dyno/{quote(name)}")
