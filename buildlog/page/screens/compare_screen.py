"""Two versions by pickers: what was measured, what changed, what is left of each limit."""

from __future__ import annotations

from typing import TYPE_CHECKING

from buildlog.desk.questions.compare import diff, gained
from buildlog.desk.questions.plans import plan_names
from buildlog.errors import NotFound
from buildlog.page.drawing import screen_figures
from buildlog.page.drawing.kept_answers import kept
from buildlog.page.drawing.say import Ruled, brief_day, capital, counted, display, number, sentence
from buildlog.page.drawing.templating import drawn
from buildlog.records.key_words import key_words
from buildlog.records.recorded_peak import recorded_peak
from buildlog.report.as_text.changes_text import value_text
from buildlog.report.as_text.diff_text import answer
from buildlog.report.as_text.margins_text import left_words
from buildlog.report.as_text.measured_text import conditions, deltas, verdict
from buildlog.report.numbers import Display, axis_value, signed
from buildlog.report.weight import rank

if TYPE_CHECKING:
    from buildlog.analysis.answers.comparison import Diff
    from buildlog.analysis.car.version import Version
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.page.asked import Asked

_MOST = 12  # changes, and limits, that are shown unless all are asked for


def page(asked: Asked) -> str:
    """The answer first, the pickers, then the blocks of a comparison."""
    book = asked.car
    show, options = display(book), _options(book)
    one, other = asked.query.get("from"), asked.query.get("to")
    if one is None and other is None and (whole := kept(book, gained)):
        one, other = (_named(version) for version in whole[:2])
    try:
        found = kept(book, diff, one or None, other or None)
    except NotFound as error:
        return drawn(
            "said", asked, said=sentence(error.what), where="", why="",
            hint="Record the car as it came first.", title="Compare · buildlog",
        )  # fmt: skip
    names = (one or _named(found.before), other or _named(found.after))
    most = None if asked.query.get("all") else _MOST
    moved = _margins(found, show)
    picture = screen_figures.curves(book, *names) if found.measured else None
    said = picture.title if picture else _sentence(found, names, show)
    return drawn(
        "compare", asked, column="desk", said=sentence(capital(said)),
        lead=_lead(found, show), options=options, names=names,
        picture=picture,
        measured=_measured(found, show), changes=_changes(found)[:most],
        how_many=len(found.changes), moved=moved[:most], limits=len(moved),
        findings=found.findings, parts=_parts(found), title="Compare · buildlog",
    )  # fmt: skip


def _named(version: Version) -> str:
    """As the pickers name it."""
    if version.working:
        return "working"
    plan = f"plan:{version.plan}" if version.plan else ""
    return plan or version.stage or str(version.number)


def _sentence(found: Diff, names: tuple[str, str], show: Display) -> str:
    """What was gained where that can be told, else how much changed."""
    if found.measured is not None:
        return answer(found, show)
    if names[0] == names[1]:
        return "both sides are the same version"
    first, second = (_aloud(name) for name in names)
    if not found.changes:
        return f"nothing changed from {first} to {second}"
    count = len(found.changes)
    return f"{counted(count, 'field', 'fields')} changed from {first} to {second}"


def _aloud(name: str) -> str:
    """ "entry 3", "the files as they are"."""
    words = {"working": "the files as they are"}
    return words.get(name) or (f"entry {name}" if name.isdecimal() else name.replace(":", " "))


def _options(book: Snapshot) -> list[tuple[str, str]]:
    """Every version that can be named: stages by name, other entries by number."""
    show, found = display(book), [("working", "the files as they are, not recorded")]
    found += [(f"plan:{name}", f"plan {name}") for name in plan_names(book)]
    for entry in reversed(book.entries):
        peak = recorded_peak(entry.measured)
        power = show.value(peak.power_w, "power", 0) if peak and peak.power_w else ""
        name = entry.stage or str(entry.number)
        said = entry.stage or f"entry {entry.number} ({entry.kind})"
        found.append((name, ", ".join(filter(None, (said, brief_day(entry.work_date), power)))))
    return found


def _lead(found: Diff, show: Display) -> str:
    told = [capital(conditions(found.measured))] if found.measured else []
    why = found.measured_reason
    told += [f"what that gives was not measured: {why}"] if why and found.changes else []
    band = found.predicted
    if band is not None and not band.changes_nothing and not band.unpredictable:
        unit, delta = show.unit("power"), band.peak_power_delta
        low, high = (signed(end / unit.factor) for end in (delta.p10, delta.p90))
        lies = f", so {band.lies.where}" if band.lies else ""
        told.append(f"predicted before: {low} to {high} {unit.text}{lies}")
    return sentence("; ".join(told)) if told else ""


def _measured(found: Diff, show: Display) -> list[list[str]]:
    """Peaks and means, each with its interval and whether it can be told from the scatter."""
    result = found.measured
    if result is None:
        return []
    rows = [
        [f"{name}, {show.unit(dimension).text}", show.number(delta.peak_from.value, dimension),
         show.number(delta.peak_to.value, dimension),
         _pm(show.change(delta.peak_delta, delta.half_width_95, dimension)), verdict(delta, result)]
        for name, delta, dimension in deltas(result)
    ]  # fmt: skip
    power = result.power
    mean = show.change(power.mean_delta, power.mean_half_width_95, "power")
    rows.insert(1, [f"mean, {show.unit('power').text}", "", "", _pm(mean), ""])
    ends = (("largest gain", result.largest_gain), ("largest loss", result.largest_loss))
    for name, extreme in ends:
        if extreme is not None:
            value = _pm(show.change(extreme.value, None, "power"))
            at = axis_value(extreme.at, result.axis)
            told = "" if extreme.shown else "too small to tell"
            rows.append([f"{name}, {show.unit('power').text}, at {at}", "", "", value, told])
    return rows


def _pm(text: str) -> str:
    """A change without its unit, which its row names."""
    return text.rpartition(" ")[0]


def _changes(found: Diff) -> list[tuple[str, str, str, bool]]:
    """The changes, weightiest first: field, was, now, whether others made it."""
    weighty = sorted(found.changes, key=lambda change: rank(change.path))
    return [
        (key_words(one.path.replace(".", ", ")), value_text(one.old, one.path),
         value_text(one.new, one.path), not one.made)
        for one in weighty
    ]  # fmt: skip


def _margins(found: Diff, show: Display) -> list[Ruled]:
    """What is left of each limit that moved, before and after; the tightest first."""
    rows = []
    for one in found.margins.changes if found.margins else ():
        row = one.after or one.before
        if row is None or row.kind.information or row.margin.left is None:
            continue
        was = left_words(one.before, show) if one.before else "not there"
        now = left_words(one.after, show) if one.after else "not there"
        if was == now:
            continue
        rows.append(Ruled(one.name, "", row.state.value, f"{was}, now {now}; {row.basis}"))
    return rows


def _parts(found: Diff) -> str:
    """How many parts left and came."""
    came = sum(one.came for one in found.replaced)
    gone = len(found.replaced) - came
    return f"{counted(gone, 'part', 'parts')} out, {number(came)} in" if found.replaced else ""
