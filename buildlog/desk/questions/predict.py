"""From the names on the command line to predictions: starts, priors, past stages."""

from __future__ import annotations

from dataclasses import replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from buildlog.analysis.car.history_files import match
from buildlog.analysis.prediction.prediction_anchor import Start, from_rating, from_sheet
from buildlog.desk.snapshot.made_once import one_at_a_time
from buildlog.errors import BuildlogError, InvalidInput, NotFound
from buildlog.units import parse

if TYPE_CHECKING:
    from buildlog.analysis.car.version import Version
    from buildlog.analysis.prediction.learned import MeasuredPoint, PastPredictions, PastStage
    from buildlog.analysis.prediction.predicted import Lies, Predicted
    from buildlog.analysis.prediction.prediction_anchor import Day
    from buildlog.desk.snapshot.snapshot import Snapshot


class Predictor:
    """Predictions within one ledger; each session is worked out once."""

    def __init__(
        self, book: Snapshot, standard: str | None = None, shop: Path | None = None
    ) -> None:
        self.book, self.standard, self.shop = book, standard, shop
        self._points: dict[str, MeasuredPoint | None] = {}
        self._own: dict[tuple[int | None, str], list[PastStage]] = {}
        self._pairs: dict[tuple[str, str], tuple[list[PastStage], list[str]]] = {}
        self.unread: list[str] = []
        """Sentences on ledgers of the shop that could not be read, once `shop_stages` was."""

    @one_at_a_time
    def remember(self, point: MeasuredPoint) -> None:
        """Take a curve that was worked out already."""
        self._points[point.version.id or point.version.name] = point

    @one_at_a_time
    def point(self, version: Version) -> MeasuredPoint | None:
        """A version with its measured curve; None if no session measured it."""
        key = version.id or version.name
        if key not in self._points:
            self._points[key] = self._point(version)
        return self._points[key]

    def _point(self, version: Version) -> MeasuredPoint | None:
        from buildlog.analysis.prediction.learned import MeasuredPoint

        found = match(version, self.book.visits)
        if found is None:
            return None
        sheet = self.book.sheet(found.visit.name, self.standard)
        group = sheet.group(found.calibration)
        return None if group is None else MeasuredPoint(version, sheet, group)

    @one_at_a_time
    def start(self, version: Version, estimate: bool = True) -> Start:
        """The measured curve of a version, else (if allowed) an estimate from the rating."""
        from buildlog.analysis.car.priors import uncertain

        point = self.point(version)
        drawn = uncertain(self.book.priors)
        if point is not None:
            return from_sheet(point.sheet, point.group, version.configuration, drawn)
        if not estimate:
            raise InvalidInput(f"no dyno session measured {version.name}")
        try:
            return from_rating(version.configuration, drawn)
        except InvalidInput as error:
            raise InvalidInput(error.what, where=version.name, hint=self._instead(error)) from None

    def _instead(self, error: InvalidInput) -> str | None:

        known = self.book.measured_versions
        if not known:
            return error.hint
        name = known[-1].stage or str(known[-1].number)
        return f"predict from a version that was measured: {name}"

    @one_at_a_time
    def predict(
        self,
        before: Version,
        after: Version,
        *,
        start: Start | None = None,
        day: Day | None = None,
    ) -> Predicted:
        """The prediction, with what the stages before it taught."""
        from buildlog.analysis.prediction.learned import before as known_before
        from buildlog.analysis.prediction.learned import kind_of
        from buildlog.analysis.prediction.predicted import predicted

        begun, recorded = start or self.start(before), self._as_recorded(after)
        own = self._own_before(recorded.number or None, kind_of(after.configuration))
        past = known_before([*own, *self.shop_stages[0]], self.ledger_id, recorded)
        result = predicted(before, after, begun, self.book.priors, day=day, past=past)
        return replace(result, not_learned_from=tuple(self.unread))

    def _as_recorded(self, version: Version) -> Version:
        """The entry that was measured, for a plan or working files that are physically the same:
        what was measured of it must not teach its own prediction."""
        point = None if version.number else self.point(version)
        return version if point is None else self.book.owner(point.sheet.name)

    @one_at_a_time
    def lies(self, result: Predicted) -> Lies | None:
        """Where the measured peak lies in the band; None where TO was not measured alike."""
        from buildlog.analysis.prediction.predicted import lies
        from buildlog.analysis.pulls.measured import Measured, measured

        one, other = self.point(result.before), self.point(result.after)
        if one is None or other is None or one.sheet.name == other.sheet.name:
            return None
        found = measured(one.sheet, other.sheet, (one.group, other.group))
        return lies(result, found) if isinstance(found, Measured) else None

    @property
    def ledger_id(self) -> str:
        """The ledger's id, so that its own stages are told from other cars'."""
        return self.book.ledger.id or ""

    def _own_before(self, number: int | None, kind: str) -> list[PastStage]:
        """The stages of this ledger that can teach: later and other kinds' stay unread."""
        if (number, kind) not in self._own:
            self._own[number, kind] = self.own_stages(number, kind)[0]
        return self._own[number, kind]

    @one_at_a_time
    def history(self) -> tuple[list[PastStage], list[str]]:
        """Predicted and measured stages of this ledger and of the shop's others, and sentences
        for pairs of measured versions that count for nothing."""
        found, left_out = self.own_stages()
        more, gone = self.shop_stages
        return found + more, [*left_out, *self.unread, *gone]

    @cached_property
    def shop_stages(self) -> tuple[list[PastStage], list[str]]:
        """The same of the shop's other cars, each car once, however many copies lie there."""
        found: list[PastStage] = []
        left_out: list[str] = []
        seen = {self.ledger_id}
        for folder in _ledgers(self.shop):
            try:
                more, gone = _of_folder(folder, seen, self.standard)
            except BuildlogError as error:
                self.unread.append(f"{folder.name}: {error.what}")
                continue
            found += more
            left_out += gone
        return found, left_out

    @one_at_a_time
    def own_stages(
        self, before: int | None = None, kind: str | None = None
    ) -> tuple[list[PastStage], list[str]]:
        """The stages of this ledger alone: those before an entry and of one induction kind,
        where they are named."""
        from buildlog.analysis.prediction.learned import kind_of

        measured = self.book.measured_versions
        left_out: list[str] = []
        found: list[PastStage] = []
        for index, version in enumerate(measured):
            if before is not None and version.number >= before:
                break
            if kind is not None and kind_of(version.configuration) != kind:
                continue
            other = self._read_point(version, left_out)
            earlier = (self._read_point(one, left_out) for one in reversed(measured[:index]))
            one = next((point for point in earlier if point), None) if other else None
            if one is not None and other is not None:
                stages, why = self._taught(one, other)
                found += stages
                left_out += why
        return found, list(dict.fromkeys(left_out))

    def _taught(
        self, one: MeasuredPoint, other: MeasuredPoint
    ) -> tuple[list[PastStage], list[str]]:
        """What two measured versions teach, or why nothing; worked out once."""
        from buildlog.analysis.prediction.learned import past_stages

        key = (one.version.id, other.version.id)
        if key not in self._pairs:
            self._pairs[key] = past_stages([one, other], self.book.priors, self.ledger_id)
        return self._pairs[key]

    def _read_point(self, version: Version, left_out: list[str]) -> MeasuredPoint | None:
        """A version's curve; a sentence in `left_out` where its files cannot be read."""
        try:
            return self.point(version)
        except BuildlogError as error:
            left_out.append(f"{version.name}: {error.what}")
            return None


def predictor_of(
    book: Snapshot, standard: str | None = None, shop: Path | None = None
) -> Predictor:
    """The predictions of a ledger by one standard: what it taught is worked out once."""
    return book.once((Predictor, standard, shop), lambda: Predictor(book, standard, shop))


def prediction(
    book: Snapshot,
    before: str | Version,
    after: str | Version = "working",
    *,
    standard: str | None = None,
    shop: Path | None = None,
    temperature: str | None = None,
    pressure: str | None = None,
    altitude: str | None = None,
    humidity: str | None = None,
) -> Predicted:
    """What `after` would make, from the curve that `before` was measured with.

    In the air of the curve's standard, unless other air is asked for: "35 degC", "84 kPa" or
    "1600 m", "40 percent". `shop`: a folder of ledgers to learn from, too.
    """
    predictor = predictor_of(book, standard, shop)
    one, other = book.version(before), book.version(after)
    start = predictor.start(one)
    day = _day(start.day, temperature, pressure, altitude, humidity)
    result = predictor.predict(one, other, start=start, day=day)
    return replace(result, lies=predictor.lies(result)) if day == start.day else result


def _day(
    base: Day,
    temperature: str | None,
    pressure: str | None,
    altitude: str | None,
    humidity: str | None,
) -> Day:
    from buildlog.analysis.prediction.prediction_anchor import asked

    given = {
        name: parse(text, (dimension,)).si
        for name, dimension, text in (
            ("temperature", "temperature", temperature),
            ("pressure", "pressure", pressure),
            ("altitude", "length", altitude),
            ("humidity", "ratio", humidity),
        )
        if text is not None
    }
    return asked(base, **given)


def past_predictions(
    book: Snapshot, standard: str | None = None, shop: Path | None = None
) -> PastPredictions:
    """How past predictions of this ledger, and of the shop's others, came out."""
    from buildlog.analysis.prediction.learned import PastPredictions, reports

    past, left_out = predictor_of(book, standard, shop).history()
    return PastPredictions(tuple(reports(past)), tuple(past), tuple(left_out))


def _ledgers(shop: Path | None) -> list[Path]:
    if shop is None:
        return []
    if not shop.is_dir():
        raise NotFound(f"the folder {shop} does not exist", hint="look at --shop")
    found = sorted(path.parent for path in shop.glob("*/car.toml"))
    folders = [folder for folder in found if (folder / ".git").exists()]
    if not folders:
        raise NotFound(f"no ledger lies in {shop}", hint="name the folder that holds the cars")
    return folders


def _of_folder(
    folder: Path, seen: set[str], standard: str | None
) -> tuple[list[PastStage], list[str]]:
    """Another car's stages; nothing of one that was seen. BuildlogError for a damaged ledger."""
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.store.ledger.ledger import Ledger

    with Ledger.open(folder) as ledger:
        if ledger.id is None or ledger.id in seen:
            return [], []
        found, left_out = Predictor(Snapshot(ledger), standard).own_stages()
        seen.add(ledger.id)
    return found, [f"{folder.name}, {sentence}" for sentence in left_out]
