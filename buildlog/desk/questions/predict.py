"""From the names on the command line to predictions: starts, priors, past stages."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import replace
from pathlib import Path
from typing import TypeVar

from buildlog.analysis.car.history_files import match
from buildlog.analysis.car.priors import uncertain
from buildlog.analysis.car.version import Version
from buildlog.analysis.prediction.learned import (
    MeasuredPoint,
    PastPredictions,
    PastStage,
    kind_of,
    past_stage,
    reports,
)  # fmt: skip
from buildlog.analysis.prediction.learned import before as before_it
from buildlog.analysis.prediction.predicted import Predicted, beside_measured, predicted
from buildlog.analysis.prediction.prediction_anchor import (
    Day,
    Start,
    asked,
    from_rating,
    from_sheet,
)
from buildlog.analysis.prediction.prediction_inputs import refuse_power_source
from buildlog.analysis.pulls.measured import Measured
from buildlog.desk.questions.dynos import shop_repeats_of, take
from buildlog.desk.questions.shop_index import Facts, ledgers_in
from buildlog.desk.questions.visits import compared
from buildlog.desk.snapshot import settings
from buildlog.desk.snapshot.snapshot import Snapshot
from buildlog.errors import BuildlogError, InvalidInput, NotFound
from buildlog.store.ledger.ledger import Ledger
from buildlog.units import parse

T = TypeVar("T")
Taught = tuple[list[PastStage], list[str]]  # stages, and sentences on what counts for nothing
_AIR = {"temperature": "temperature", "pressure": "pressure", "altitude": "length",
        "humidity": "ratio"}  # fmt: skip


class Predictor:
    """Predictions within one ledger; each session is worked out once."""

    def __init__(
        self, book: Snapshot, standard: str | None = None, shop: Path | None = None
    ) -> None:
        self.book, self.standard = book, standard
        self.shop = shop or settings.shop_folder()
        self.shop_asked = shop is not None

    def _once(self, *key: object, make: Callable[[], T]) -> T:
        return self.book.once((self, *key), make)

    def remember(self, point: MeasuredPoint) -> None:
        """Take a curve that was worked out already."""
        self._once("point", point.version.id or point.version.name, make=lambda: point)

    def point(self, version: Version) -> MeasuredPoint | None:
        """A version with its measured curve; None if no session measured it."""
        return self._once("point", version.id or version.name, make=lambda: self._point(version))

    def _point(self, version: Version) -> MeasuredPoint | None:
        found = match(version, self.book.visits)
        if found is None:
            return None
        sheet = self.book.sheet(found.visit.name, self.standard)
        group = sheet.group(found.calibration)
        return None if group is None else MeasuredPoint(version, sheet, group)

    def start(self, version: Version, estimate: bool = True) -> Start:
        """The measured curve of a version, else (if allowed) an estimate from the rating.

        InvalidInput of a car that no formula covers, before anything that it lacks.
        """
        refuse_power_source(version.configuration)
        point, drawn = self.point(version), uncertain(self.book.priors)
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

    def predict(
        self,
        before: Version,
        after: Version,
        *,
        start: Start | None = None,
        day: Day | None = None,
    ) -> Predicted:
        """The prediction, with what the stages before it taught."""
        begun, recorded = start or self.start(before), self._as_recorded(after)
        # The stages of this ledger that can teach: later and other kinds' stay unread.
        number, kind = recorded.number or None, kind_of(after.configuration)
        own = self._once("own", number, kind, make=lambda: self.own_stages(number, kind)[0])
        past = before_it([*own, *self.shop_stages[0]], self.ledger_id, recorded)
        result = predicted(before, after, begun, self.book.priors, day=day, past=past)
        notes = (*result.notes, *self._apart())
        return replace(result, notes=notes, not_learned_from=tuple(self.unread))

    def _apart(self) -> Iterator[str]:
        """That this band is not the one of other answers, where another folder was named for it."""
        standing = settings.shop_folder()
        if not self.shop_asked or self.shop is None:
            return
        if standing is None or standing.resolve() != self.shop.resolve():
            others = f"from those in {standing}" if standing else "from this ledger alone"
            yield (
                f"this band learns from the cars in {self.shop}, for this answer alone; diff, "
                f"margins and quotes learn {others} (cars in the settings)"
            )

    def _as_recorded(self, version: Version) -> Version:
        """The entry that was measured, for a plan or working files that are physically the same:
        what was measured of it must not teach its own prediction."""
        point = None if version.number else self.point(version)
        return version if point is None else self.book.owner(point.sheet.name)

    def beside_measured(self, result: Predicted) -> Predicted:
        """The prediction with where the measured peaks lie, where TO was measured alike."""
        one, other = self.point(result.before), self.point(result.after)
        if one is None or other is None or one.sheet.name == other.sheet.name:
            return result
        sides = (one.sheet, one.group), (other.sheet, other.group)
        found = compared(self.book, *sides, self.standard)
        return beside_measured(result, found) if isinstance(found, Measured) else result

    @property
    def ledger_id(self) -> str:
        """The ledger's id, so that its own stages are told from other cars'."""
        return self.book.ledger.id or ""

    def history(self) -> Taught:
        """Predicted and measured stages of this ledger and of the shop's others, and sentences
        for pairs of measured versions that count for nothing."""
        found, left_out = self.own_stages()
        more, gone = self.shop_stages
        return found + more, [*left_out, *self.unread, *gone]

    @property
    def shop_stages(self) -> Taught:
        """The same of the shop's other cars, each car once, however many copies lie there."""
        return self._shop[:2]

    @property
    def unread(self) -> list[str]:
        """Sentences on ledgers of the shop that could not be read."""
        return self._shop[2]

    @property
    def _shop(self) -> tuple[list[PastStage], list[str], list[str]]:
        return self._once("shop", make=self._read_shop)

    def _read_shop(self) -> tuple[list[PastStage], list[str], list[str]]:
        found: list[PastStage] = []
        left_out: list[str] = []
        unread: list[str] = []
        seen = {self.ledger_id}
        try:
            folders = ledgers_in(self.shop) if self.shop else []
        except NotFound as error:
            if self.shop_asked:
                raise
            return [], [], [f"{error.what} (cars in the settings)"]
        repeats = shop_repeats_of(self.book)
        for folder in folders:
            try:
                more, gone = _of_folder(folder, seen, self.standard, repeats)
            except BuildlogError as error:
                unread.append(f"{folder.name}: {error.what}")
                continue
            found += more
            left_out += gone
        return found, left_out, unread

    def own_stages(self, before: int | None = None, kind: str | None = None) -> Taught:
        """The stages of this ledger alone: those before an entry and of one induction kind,
        where they are named."""
        versions = self.book.measured_versions
        left_out: list[str] = []
        found: list[PastStage] = []
        for index, version in enumerate(versions):
            if before is not None and version.number >= before:
                break
            if kind is not None and kind_of(version.configuration) != kind:
                continue
            other = self._read_point(version, left_out)
            earlier = (self._read_point(one, left_out) for one in reversed(versions[:index]))
            one = next((point for point in earlier if point), None) if other else None
            if one is None or other is None:
                continue
            taught = self.past_stage(one, other)
            if isinstance(taught, str):
                left_out.append(f"{one.version.name} to {other.version.name}: {taught}")
            else:
                found.append(taught)
        return found, list(dict.fromkeys(left_out))

    def past_stage(self, one: MeasuredPoint, other: MeasuredPoint) -> PastStage | str:
        """What two measured versions teach, by the same comparison as in `diff`, or why nothing."""

        def taught() -> PastStage | str:
            sides = (one.sheet, one.group), (other.sheet, other.group)
            found = compared(self.book, *sides, self.standard)
            return past_stage(one, other, found, self.book.priors, self.ledger_id)

        return self._once(one.version.id, other.version.id, make=taught)

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
    /,
    before: str | Version,
    after: str | Version = "working",
    *,
    standard: str | None = None,
    shop: Path | None = None,
    **air: str | None,
) -> Predicted:
    """What `after` would make, from the curve that `before` was measured with.

    In the air of the curve's standard, unless other `air` is asked for: temperature "35 degC",
    pressure "84 kPa" or altitude "1600 m", humidity "40 percent". `shop`: a folder of ledgers to
    learn from, too.
    """
    predictor = predictor_of(book, standard, shop)
    one, other = book.version(before), book.version(after)
    start = predictor.start(one)
    given = {name: parse(text, (_AIR[name],)).si for name, text in air.items() if text is not None}
    day = asked(start.day, **given)
    result = predictor.predict(one, other, start=start, day=day)
    return predictor.beside_measured(result) if day == start.day else result


def past_predictions(
    book: Snapshot, standard: str | None = None, shop: Path | None = None
) -> PastPredictions:
    """How past predictions of this ledger, and of the shop's others, came out."""
    past, left_out = predictor_of(book, standard, shop).history()
    return PastPredictions(tuple(reports(past)), tuple(past), tuple(left_out))


def _of_folder(
    folder: Path, seen: set[str], standard: str | None, repeats: Mapping[str, Facts]
) -> Taught:
    """Another car's stages; nothing of one that was seen. BuildlogError for a damaged ledger."""
    with Ledger.open(folder) as ledger:
        if ledger.id is None or ledger.id in seen:
            return [], []
        book = Snapshot(ledger)
        take(book, repeats)
        found, left_out = Predictor(book, standard).own_stages()
        seen.add(ledger.id)
    return found, [f"{folder.name}, {sentence}" for sentence in left_out]
