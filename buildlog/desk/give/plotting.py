"""Figures as they are handed over: of versions, of one session, of what changes gave in a shop."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from buildlog.analysis.answers.shop_tables import ShopGains
from buildlog.analysis.car.history_files import match
from buildlog.analysis.car.version import Version
from buildlog.analysis.pulls.measured import Measured
from buildlog.analysis.pulls.sheet_report import SheetReport
from buildlog.desk.give import made_files
from buildlog.desk.questions.visits import compared, pooled
from buildlog.desk.snapshot import opening
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.errors import InvalidInput, NothingToDraw, UsageError
from buildlog.report.numbers import Display, speaking
from buildlog.report.pictures import curve_model, drawn_curves, peaks, power_pictures
from buildlog.report.pictures.look import PAGE, PHONE, SHEET, WIDE
from buildlog.report.pictures.paper import Paper
from buildlog.report.pictures.peaks import PeakPoint
from buildlog.report.pictures.power_pictures import Item
from buildlog.report.pictures.printing import ending_of, figure, render

if TYPE_CHECKING:
    from buildlog.analysis.prediction.learned import PastStage
    from buildlog.report.pictures.printing import Figure as Figure

LAYOUTS = {"wide": WIDE, "page": PAGE, "phone": PHONE, "sheet": SHEET}
What = Literal["power", "torque", "air-fuel", "boost", "predicted", "margins"]
Against = Literal["odometer", "date"]


@dataclass(frozen=True)
class Look:
    """How a picture is laid out, on which ground, and what of many versions stands out; `bare`
    without headline, conditions and notes, where a page has them."""

    layout: str = "wide"
    dark: bool = False
    pulls: bool = False
    focus: tuple[str, ...] = ()
    bare: bool = False


AS_USUAL = Look()


@dataclass(frozen=True)
class Drawn:
    """A picture that is not yet written, and a sentence on each thing that could not be drawn."""

    paper: Paper
    left_out: tuple[str, ...] = ()
    dark: bool = False

    @property
    def figure(self) -> Figure:
        """The picture as a figure of matplotlib."""
        return figure(self.paper, dark=self.dark)

    def write(self, out: Path) -> None:
        """Write it as PNG, SVG or PDF by the file's ending; UsageError for any other."""
        ending = ending_of(out)
        made_files.put(out, render(self.paper, ending, dark=self.dark), "the picture")


def plot(
    book: Snapshot,
    versions: Sequence[str | Version] = (),
    what: What = "power",
    *,
    against: Against | None = None,
    predicted: bool = False,
    standard: str | None = None,
    units: str | None = None,
    look: Look = AS_USUAL,
) -> Drawn:
    """Curves of the versions that were measured, all of them where none is named.

    "margins" is about one version; `predicted` draws the band of the second from the first;
    "predicted" draws all past stages; `against` draws peaks over the car's life.
    NothingToDraw where nothing of it was measured.
    """
    drawing = _Drawing(book, standard, shown_in(book, units), look)
    if predicted:
        if len(versions) != 2:
            raise UsageError(
                "a predicted band needs two versions", hint="buildlog plot FROM TO --predicted"
            )
        return drawing.band(*versions)
    if what == "predicted":
        return drawing.stages(against)
    if what == "margins":
        if len(versions) > 1:
            raise UsageError(
                "a figure of margins is about one version",
                hint="buildlog plot VERSION --what margins",
            )
        return drawing.limits(versions[0] if versions else "working")
    chosen = [book.version(name) for name in versions] or book.measured_versions
    if against is not None:
        return drawing.peaks(chosen, what, against)
    if what in ("air-fuel", "boost"):
        return drawing.channel(chosen, what)
    return drawing.curves(chosen, what)


def sheet_figure(
    book: Snapshot, report: SheetReport, units: str | None = None, look: Look = AS_USUAL
) -> Drawn:
    """One session's curves, mixture and boost; NothingToDraw where it has only stated figures."""
    if not report.sheet.groups:
        raise NothingToDraw(
            f"{report.sheet.name} has no curve to draw",
            hint="a figure needs a pull that counts: buildlog dyno add",
        )
    configuration = book.owner(report.sheet.name).configuration
    picture = power_pictures.sheet_picture(report, configuration, shown_in(book, units))
    return Drawn(drawn_curves.draw(picture, LAYOUTS[look.layout], bare=look.bare), (), look.dark)


def life_figure(book: Snapshot, look: Look = AS_USUAL, units: str | None = None) -> Drawn:
    """What each visit gave over the car's life, beside what was predicted before it: over the
    odometer where it is known of all, else over the date.

    NothingToDraw where nothing was measured.
    """
    return _Drawing(book, None, shown_in(book, units), look).life()


def shop_figure(found: ShopGains) -> Drawn:
    """Gains by kind of change, and predictions against what was measured."""
    from buildlog.report.pictures.shop_pictures import shop_picture

    if not found.table:
        raise NothingToDraw(
            "no stage of this shop was measured before and after, like for like",
            hint="buildlog shop list DIR... --gains says why",
        )
    return Drawn(shop_picture(found.table, [stage for _, stage in found.stages]))


def shown_in(book: Snapshot, units: str | None) -> Display:
    """The units of a figure: those asked for ("us", "metric"), else the user's or the author's."""
    return speaking(opening.units_of(book.ledger, units))


@dataclass(frozen=True)
class _Drawing:
    """Pictures of one ledger, by one power correction, in one system of units."""

    book: Snapshot
    standard: str | None
    show: Display
    look: Look

    def _drawn(self, picture: curve_model.Picture, left_out: Sequence[str] = ()) -> Drawn:
        paper = drawn_curves.draw(picture, LAYOUTS[self.look.layout], bare=self.look.bare)
        return Drawn(paper, tuple(left_out), self.look.dark)

    # measured

    def curves(self, versions: Sequence[Version], quantity: str) -> Drawn:
        """Power or torque of the versions; below, the difference of the first and the last."""
        items, missing = self._items(versions)
        known = [item for item in items if item.top(quantity) is not None]
        if not known:
            raise NothingToDraw(
                "none of these versions was measured" if not items else
                f"{quantity} of these versions is unknown",
                why="; ".join(missing) or (items[0].sheet.torque_reason if items else None),
                hint="buildlog dyno add FILE... --session NAME",
            )  # fmt: skip
        comparison: Measured | None = None
        if len(items) > 1:
            one, other = items[0], items[-1]
            before, after = (
                (self.book.sheet(item.sheet.name, self.standard), item.group)
                for item in (one, other)
            )
            result = compared(self.book, before, after, self.standard)
            comparison = result if isinstance(result, Measured) else None
        chosen = [self.book.version(name).name for name in self.look.focus]
        picture = power_pictures.power_history(
            items, comparison, self.show, quantity, chosen=chosen, pulls=self.look.pulls
        )
        return self._drawn(picture, missing)

    def channel(self, versions: Sequence[Version], what: str) -> Drawn:
        """Mixture ("air-fuel") or boost of the versions, with the declared target."""
        items, missing = self._items(versions)
        picture = power_pictures.channel_history(items, what, self.show) if items else None
        if picture is None:
            raise NothingToDraw(
                f"none of these versions has {what.replace('-', ' ')} in its files",
                why="; ".join(missing) or None,
                hint="name the column with --map when the files are added",
            )
        return self._drawn(picture, missing)

    def peaks(self, versions: Sequence[Version], quantity: str, against: str) -> Drawn:
        """Peaks of power or torque over "odometer" or "date"."""
        if quantity not in ("power", "torque"):
            raise UsageError(
                f"--against draws peaks, and {quantity} has none", hint="--what power or torque"
            )
        items, missing = self._items(versions)
        found = [_peak(item, quantity, against) for item in items]
        missing += [one for one in found if isinstance(one, str)]
        points = [one for one in found if not isinstance(one, str)]
        if not points:
            raise NothingToDraw(
                "no peak of these versions can be drawn", why="; ".join(missing) or None
            )
        ends = [points[0], points[-1]] if len(points) > 1 else points
        told = " to ".join(f"{one.name} {self.show.value(one.value, quantity, 0)}" for one in ends)
        standards = " / ".join(dict.fromkeys(item.sheet.standard for item in items))
        said = f"{standards}. {power_pictures.dynos(items)}."
        headline = f"Peak {quantity}, {told}"
        return self._peaks(points, against, quantity, headline, said, missing)

    def life(self) -> Drawn:
        """The peaks of all measured versions with what was predicted before each."""
        items, missing = self._items(self.book.measured_versions)
        lacking = [item for item in items if item.sheet.session.odometer is None]
        against = "date" if lacking else "odometer"
        bands = self._bands() if len(items) > 1 else {}
        points = [
            replace(point, band=bands.get(point.name))
            for item in items
            if isinstance(point := _peak(item, "power", against), PeakPoint)
        ]
        if not points:
            why = "; ".join(missing) or None
            raise NothingToDraw(
                "nothing was measured yet", why=why, hint="add the files of a session"
            )
        told = "; ".join(f"{one.name} {self.show.value(one.value, 'power', 0)}" for one in points)
        return self._peaks(points, against, "power", f"What each visit gave: {told}", "", missing)

    def _bands(self) -> dict[str, tuple[float, float, float]]:
        """What was predicted before each measured version: P10, P50, P90 [W]."""
        from buildlog.desk.questions.predict import predictor_of

        past, _ = predictor_of(self.book, self.standard).history()
        return {one.after: _band(one) for one in past}

    def _peaks(
        self, points: Sequence[PeakPoint], against: str, quantity: str, headline: str,
        conditions: str, left_out: Sequence[str], **more: str,
    ) -> Drawn:  # fmt: skip
        told = peaks.Peaks(tuple(points), against, quantity, headline, conditions, **more)
        paper = peaks.draw(told, self.show, LAYOUTS[self.look.layout], bare=self.look.bare)
        return Drawn(paper, tuple(left_out), self.look.dark)

    def _slot(self, name: str) -> int:
        """The place of a version among the measured ones: its colour in every picture."""
        names = [version.name for version in self.book.measured_versions]
        return names.index(name) if name in names else len(names)

    def _items(self, versions: Sequence[Version]) -> tuple[list[Item], list[str]]:
        """The sheet and group that stand for each version; sentences for those that have none."""
        items: list[Item] = []
        missing: list[str] = []
        for version in versions:
            found = match(version, self.book.visits)
            if found is None:
                missing.append(f"{version.name}: no dyno session measured it")
                continue
            sheet = pooled(self.book, self.book.sheet(found.visit.name, self.standard))
            group = sheet.group(found.calibration)
            if group is None:
                missing.append(f"{version.name}: only stated values, no curve")
                continue
            owner = self.book.owner(sheet.name).configuration
            items.append(Item(version.name, sheet, group, self._slot(version.name), owner))
        return items, missing

    # not measured

    def band(self, before: str | Version, after: str | Version) -> Drawn:
        """One prediction beside what was measured."""
        from buildlog.desk.questions.predict import predictor_of

        predictor = predictor_of(self.book, self.standard)
        one, other = self.book.version(before), self.book.version(after)
        result = predictor.predict(one, other)
        if result.unpredictable:
            raise InvalidInput(
                f"not predictable: {result.unpredictable}", hint="declare an effect, or measure"
            )
        start, point = predictor.point(one), predictor.point(other)
        own = point and not (start and start.group is point.group)  # else it is the start's curve
        beside = Item(other.name, point.sheet, point.group) if point and own else None
        return self._drawn(power_pictures.band_beside(result, beside, self.show))

    def stages(self, against: str | None) -> Drawn:
        """All past stages: the predicted band and the measured peak of each.

        Over the odometer where it is known of all of them, else over the date; or as asked.
        """
        from buildlog.desk.questions.predict import predictor_of

        past, left_out = predictor_of(self.book, self.standard).history()
        lacking = [stage for stage in past if stage.odometer is None]
        if against == "odometer":
            past = [stage for stage in past if stage.odometer is not None]
            left_out += [f"{stage.after}: its odometer is not recorded" for stage in lacking]
        if not past:
            raise NothingToDraw(
                "no stage of this ledger was predicted and measured yet",
                why="; ".join(left_out) or None,
                hint="buildlog predict FROM TO",
            )
        points = [
            PeakPoint(
                stage.after, stage.odometer, stage.date,
                stage.result.measured * stage.start_peak,
                1.96 * stage.result.measured_sd * stage.result.measured * stage.start_peak,
                self._slot(stage.after),
                _band(stage),
            )
            for stage in past
        ]  # fmt: skip
        inside = sum(stage.result.inside for stage in past)
        headline = _came_out(inside, len(past))
        cars = ", ".join(dict.fromkeys(stage.car for stage in past))
        said = (
            f"{cars}. Predicted from the curve before, without what was learned from this stage; "
            "the dyno's scatter counts."
        )
        axis = against or ("date" if lacking else "odometer")
        interval = "Interval: 95 % of the measured change."
        return self._peaks(points, axis, "power", headline, said, left_out, interval=interval)

    def limits(self, version: str | Version) -> Drawn:
        """What one version asks of each of its limits."""
        from buildlog.desk.questions.limits import margins_of
        from buildlog.report.as_text.margins_text import power_words
        from buildlog.report.pictures.margin_pictures import margin_picture

        found = margins_of(self.book, version)
        name = found.version.name
        whose = "The car as it stands" if name == "working" else name
        power = power_words(found.subject, self.show)
        title = f"{whose}. {power[:1].upper()}{power[1:]}."
        layout = PAGE if self.look.layout == "wide" else LAYOUTS[self.look.layout]
        return Drawn(margin_picture(found.rows, title, self.show, layout), (), self.look.dark)


def _came_out(inside: int, many: int) -> str:
    """How many predicted stages kept to their band, in words where they are few.

    >>> for inside, many in ((1, 1), (0, 1), (2, 2), (2, 3)):
    ...     print(_came_out(inside, many))
    The predicted stage came out inside its band
    The predicted stage came out outside its band
    Both predicted stages came out inside their bands
    2 of 3 predicted stages came out inside their bands
    """
    if many == 1:
        return f"The predicted stage came out {'inside' if inside else 'outside'} its band"
    whole = {2: "Both", 3: "All three"}.get(many) if inside == many else None
    return f"{whole or f'{inside} of {many}'} predicted stages came out inside their bands"


def _band(stage: PastStage) -> tuple[float, float, float]:
    """What was predicted of a past stage: P10, P50, P90 [W]."""
    result, start = stage.result, stage.start_peak
    return result.p10 * start, result.p50 * start, result.p90 * start


def _peak(item: Item, quantity: str, against: str) -> PeakPoint | str:
    """A version's peak with its 95 % half-width, or why it cannot be drawn."""
    power, session, top = item.group.peak_power, item.sheet.session, item.top(quantity)
    if top is None:
        return f"{item.name}: torque is unknown"
    if against == "odometer" and session.odometer is None:
        return f"{item.name}: its odometer is not recorded"
    half = item.sheet.peak_half_width(item.group) / power.value * top.value
    odometer = session.odometer.si if session.odometer else None
    return PeakPoint(item.name, odometer, session.date, top.value, half, item.slot)
