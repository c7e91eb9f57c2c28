"""The picture of margins: the load as a share of its limit, by state; distances and what is
unknown in words below."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from buildlog.analysis.margins.figures.margin_rows import Row, Rule, State
from buildlog.records.key_words import key_words
from buildlog.records.paths import assembly, words
from buildlog.report.as_text.margins_text import left_words, number, past_words, value
from buildlog.report.numbers import Display
from buildlog.report.pictures import letters
from buildlog.report.pictures.look import PAGE, PageSizes
from buildlog.report.pictures.paper import (
    Area,
    Mark,
    Paper,
    Stroke,
    heading,
    notes,
    panel_title,
    shown,
)

_STATES = {State.OVER: "Over", State.CLOSE: "Close", State.CLEAR: "Clear"}
_STANDS = {
    State.OVER: "past its limit",
    State.CLOSE: "close to its limit",
    State.CLEAR: "clear of its limit",
}
_USUAL, _FAR = 1.15, 1.6  # ends of the axis, as shares of the limit
_NAMES = 0.29  # of the width, at most


def margin_picture(
    found: Sequence[Row],
    conditions: str,
    show: Display,
    layout: PageSizes = PAGE,
    *,
    bare: bool = False,
    stated: Mapping[str, str] | None = None,
) -> Paper:
    """A track for each limit, over, close and clear apart; no filled bars."""
    paper = Paper(layout)
    first = next((one for one in found if one.state is not State.UNKNOWN), None)
    headline = _headline(first, show) if first else "no limit can be judged yet"
    headline, conditions = (f"{one[:1].upper()}{one[1:]}" for one in (headline, conditions))
    if bare:
        paper.title, paper.y = headline, -1.1 * layout.panel
    else:
        heading(paper, headline, conditions)
    bars = [one for one in found if _is_bar(one)]
    paper.description = "; ".join(f"{one.name} {left_words(one, show)}" for one in found)
    if bars:
        panel_title(paper, "Share of the limit used", "%; gray: where close begins; line: 8 in 10")
        _Tracks(paper, bars, show, stated or {}).draw()
    counted = [one for one in found if not one.kind.information]
    apart = [one for one in counted if not _is_bar(one) and one.state is not State.UNKNOWN]
    unknown = [one for one in counted if one.state is State.UNKNOWN]
    _words(paper, "Counted as a distance", [
        (_name(one), f"{left_words(one, show)}, {one.state.value}") for one in apart])  # fmt: skip
    _words(paper, "Unknown, which is not clear", [
        (_name(one), f"missing: {', '.join(map(_asked, one.ask[:2]))}")
        for one in unknown])  # fmt: skip
    if bare:
        paper.y -= layout.margin * 0.8 - 2
    else:
        signs = "Filled: over or close. Open: clear."
        notes(paper, f"{signs} Distances from stated limits, not approvals; local codes decide.")
    return paper


def _headline(one: Row, show: Display) -> str:
    """Which limit comes first, both its figures, and where that leaves it."""
    stands = f"{_STANDS[one.state]}{past_words(one)}"
    demand, capacity = one.margin.demand, one.margin.capacity
    if demand is None or capacity is None or one.kind.rule is not Rule.RATIO:
        return f"{_name(one)} comes first: {left_words(one, show)}, {stands}"
    load, limit = number(demand.p50, one.kind, show), value(capacity.p50, one.kind, show)
    return f"{_name(one)} comes first: {load} of {limit}, {stands}"


def _name(one: Row) -> str:
    """A limit's name; of a joint its own."""
    return one.name.removeprefix("fastener: ")


def _asked(path: str) -> str:
    """A missing field in words: "gearbox rated torque"; else what is asked for, as it is."""
    if " " in path:
        return key_words(path)
    return f"{key_words(assembly(path))} {words(path).removesuffix(' value')}"


def _is_bar(one: Row) -> bool:
    answers = one.state is not State.UNKNOWN and not one.kind.information
    return answers and one.kind.rule is Rule.RATIO


def _words(paper: Paper, title: str, rows: Sequence[tuple[str, str]]) -> None:
    """Rows in words: the name, and what is said of it."""
    if not rows:
        return
    layout, size = paper.layout, paper.layout.name
    paper.y += 2.6 * size
    paper.say(layout.margin, paper.y, f"{title}, {len(rows)}", size, bold=True)
    paper.y += 0.3 * size
    middle = layout.margin + 0.37 * (layout.width - 2 * layout.margin)
    for name, said in rows:
        lines = letters.wrapped(shown(said), size, layout.width - layout.margin - middle - 18)
        if layout.narrow:
            lines = letters.wrapped(shown(said), size, layout.width - 2 * layout.margin)
            paper.y += 1.55 * size
            paper.say(layout.margin, paper.y, name, size)
        for i, line in enumerate(lines):
            paper.y += 0.9 * layout.row
            if not layout.narrow and i == 0:
                told = letters.fitted(shown(name), size, middle - layout.margin)
                paper.say(middle, paper.y, told, size, anchor="end")
            paper.say(layout.margin if layout.narrow else middle + 18, paper.y, line, size, "soft")
    paper.y += 0.4 * size


class _Tracks:
    """The rows of one picture on their common scale."""

    def __init__(
        self, paper: Paper, rows: Sequence[Row], show: Display, stated: Mapping[str, str]
    ) -> None:
        self.paper, self.rows, self.show = paper, rows, show
        self.stated = {} if paper.layout.narrow else stated
        layout = paper.layout
        self.figures = {one.name: _figures(one, show) for one in rows}
        size = layout.name
        names = max(letters.width(shown(_name(one)), size) for one in rows)
        load = max(letters.width(shown(a), size) for a, _ in self.figures.values())
        limit = max(letters.width(shown(f" of {b}"), size) for _, b in self.figures.values())
        inner = layout.width - 2 * layout.margin
        self.left = (
            layout.margin if layout.narrow else layout.margin + min(names, _NAMES * inner) + 18
        )
        self.by = 0.25 * inner if self.stated else 0.0
        self.of = layout.width - layout.margin - limit - self.by
        self.right = layout.width - layout.margin if layout.narrow else self.of - load - 18
        far = max(1 - (one.margin.left.p10 if one.margin.left else 0) for one in rows)
        self.end = _FAR if far > 1.12 else _USUAL

    def draw(self) -> None:
        """The axis on top, the rows by state, the limit through all of them."""
        paper, layout, size = self.paper, self.paper.layout, self.paper.layout.tick
        paper.y += 1.2 * size
        top = paper.y
        last = -1.0
        for percent in (0, 25, 50, 75):
            x = self.x(percent / 100)
            half = letters.width(str(percent), size) / 2
            if (
                x - half > last + 6
                and x + half < self.x(1) - letters.width("limit", size, True) / 2 - 6
            ):
                paper.say(x, top, str(percent), size, "soft", anchor="middle")
                last = x + half
        paper.say(self.x(1), top, "limit", size, bold=True, anchor="middle")
        if self.stated:
            right = layout.width - layout.margin
            paper.say(right, top, "who states the limit", size, bold=True, anchor="end")
        line = len(paper.things)
        for state, title in _STATES.items():
            rows = [one for one in self.rows if one.state is state]
            if rows:
                paper.y += 1.25 * layout.row
                paper.say(layout.margin, paper.y, f"{title}, {len(rows)}", layout.name, bold=True)
            for one in rows:
                self._row(one)
        if not layout.narrow:
            rule = Stroke(((self.x(1), top + 5), (self.x(1), paper.y + 6)), "ink", 1.4)
            paper.things.insert(line, rule)

    def x(self, share: float) -> float:
        """The place of a share of the limit."""
        return self.left + min(share, self.end) / self.end * (self.right - self.left)

    def _row(self, one: Row) -> None:
        paper, layout, size = self.paper, self.paper.layout, self.paper.layout.name
        load, limit = self.figures[one.name]
        paper.y += layout.row
        base = paper.y
        if layout.narrow:
            said = shown(f"{load} of {limit}")
            room = layout.width - 2 * layout.margin - letters.width(said, size) - 10
            paper.say(layout.margin, base, letters.fitted(shown(_name(one)), size, room), size)
            paper.say(layout.width - layout.margin, base, said, size, "soft", anchor="end")
            paper.y += 0.8 * layout.row
        else:
            told = letters.fitted(shown(_name(one)), size, self.left - 18 - layout.margin)
            paper.say(self.left - 18, base, told, size, anchor="end")
            paper.say(self.of, base, load, size, anchor="end")
            paper.say(self.of, base, f"\N{NO-BREAK SPACE}of {limit}", size, "soft")
            if one.name in self.stated:
                by = letters.fitted(shown(self.stated[one.name]), size, self.by - 16)
                paper.say(paper.width - layout.margin, base, by, size, "soft", anchor="end")
        self._track(one, paper.y - 0.35 * size)

    def _track(self, one: Row, y: float) -> None:
        paper, left = self.paper, one.margin.left
        assert left is not None
        low, middle, high = (1 - end for end in (left.p90, left.p50, left.p10))
        caution = max(1 - one.kind.caution, 0.0)
        x0, x1 = self.x(caution), self.x(1)
        paper.put(Area(((x0, y - 7), (x1, y - 7), (x1, y + 7), (x0, y + 7)), "faint"))
        paper.put(Stroke(((self.x(0), y), (self.x(middle), y)), "context", 1.0))
        if self.paper.layout.narrow:
            paper.put(Stroke(((x1, y - 7), (x1, y + 7)), "ink", 1.4))
        if high > low:
            paper.put(Stroke(((self.x(max(low, 0)), y), (self.x(high), y)), "ink", 3))
        x = self.x(middle)
        if high > self.end:
            tip = self.x(self.end)
            paper.put(Area(((tip, y - 5), (tip + 7, y), (tip, y + 5)), "ink"))
        if one.state is State.OVER:
            paper.put(Mark(x, y, 10.5, "ink", diamond=True))
        elif one.state is State.CLOSE:
            paper.put(Mark(x, y, 9.5, "ink"))
        else:
            paper.put(Mark(x, y, 9.0, "ground", "ink", 1.5))


def _figures(one: Row, show: Display) -> tuple[str, str]:
    demand, capacity = one.margin.demand, one.margin.capacity
    if demand is None or capacity is None:
        return "", ""
    return number(demand.p50, one.kind, show), value(capacity.p50, one.kind, show)
