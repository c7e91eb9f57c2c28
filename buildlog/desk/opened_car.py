"""An opened car: everything that is asked of one ledger, as it stood when it was opened."""

from __future__ import annotations

import difflib
import threading
import warnings
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Concatenate, ParamSpec, Self, TypeVar

from buildlog.desk.views.car_version import CarVersion, HistoryView
from buildlog.errors import InvalidInput, NotFound

if TYPE_CHECKING:
    from buildlog.analysis.car.version import Version
    from buildlog.desk.edit import Edit
    from buildlog.desk.give.plotting import Against, Figure, What
    from buildlog.desk.questions.verifying import Unpacked
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.desk.views.compared_views import DiffView, PredictionView
    from buildlog.desk.views.limit_views import HeadroomView, MarginsView
    from buildlog.desk.views.measured_views import SheetView
    from buildlog.desk.views.workshop_views import CheckView, NextView, PartsView, VerifyView
    from buildlog.units import System

P = ParamSpec("P")
T = TypeVar("T")
Name = str | int | CarVersion  # an entry's number may be one
_DRAWING = threading.Lock()  # matplotlib keeps its settings for all threads together


class OpenedCar:
    """One car's ledger, to be asked; pinned to the head that it had when it was opened.

    Whatever another process records, plans or edits meanwhile, answers stay those of that head,
    and of the working files as they stood when they were first asked for; `fresh()` opens a newer
    one. A version is named as on the command line ("stage-2", "latest", "working", "plan:cam",
    12, an id), or is a `CarVersion`. Threads may share a car. Close it, or use it in a `with`.
    """

    def __init__(
        self,
        book: Snapshot,
        place: Path,
        units: System | None,
        again: Callable[[Snapshot], OpenedCar],
        unpacked: Unpacked | None = None,
    ) -> None:
        from buildlog.desk.snapshot.opening import units_of

        self._book, self._again = book, again
        self.place = place
        """The folder, bundle or package that was opened."""
        self.verdict = unpacked.result.verdict if unpacked else None
        """Of a bundle or a package: what `verify` says of it, in a word. None of a folder."""
        self._units = units_of(book.ledger, units)
        self._unpacked = unpacked
        self._open = True

    # what it is

    @property
    def head(self) -> str | None:
        """The id of the newest entry; None before anything is recorded."""
        return self._snapshot.head

    @property
    def id(self) -> str | None:
        """The ledger's id, which is that of its first entry."""
        return self._snapshot.ledger.id

    @property
    def name(self) -> str:
        """What the car is called in the newest configuration."""
        return self._ask(lambda book: book.newest).configuration.car.name

    @property
    def history(self) -> HistoryView:
        """The entries, first to last."""
        return HistoryView(self._snapshot, self._units)

    @property
    def sessions(self) -> tuple[str, ...]:
        """The names of the dyno sessions, in the order in which they came."""
        return tuple(self._ask(lambda book: book.session_places))

    def version(self, name: str | int = "latest") -> CarVersion:
        """The version a name means; NotFound lists the nearest names."""
        found = self._ask(lambda book: book.ledger.resolve(str(name)))
        return CarVersion(self._snapshot, found, self._units)

    # what it is asked

    def diff(
        self, before: Name | None = None, after: Name | None = None, *, standard: str | None = None
    ) -> DiffView:
        """What changed between two versions and what it did; without names, since the last dyno.

        `standard`: the power correction, by any of its trade names; SAE J1349 without one.
        """
        from buildlog.desk.questions.compare import diff
        from buildlog.desk.views.compared_views import DiffView

        one, other = (None if name is None else self._resolved(name) for name in (before, after))
        found = self._ask(diff, one, other, _standard(standard))
        return DiffView(found, (self._side(found.before), self._side(found.after)), self._units)

    def sheet(self, session: str | None = None, *, standard: str | None = None) -> SheetView:
        """A dyno session by its name or enough of it to be unique; the newest without one."""
        from buildlog.desk.questions.visits import session_sheet
        from buildlog.desk.views.measured_views import SheetView

        return SheetView(self._ask(session_sheet, session, _standard(standard)), self._units)

    def plot(
        self,
        *versions: Name,
        what: What = "power",
        against: Against | None = None,
        predicted: bool = False,
        standard: str | None = None,
    ) -> Figure:
        """A figure of matplotlib: the curves of the versions that were measured, with bands.

        `what`, `against` and `predicted` as of `buildlog plot`. What cannot be drawn is a warning.
        """
        from buildlog.desk.give.plotting import plot

        named = [self._resolved(one) for one in versions]
        with _DRAWING:
            drawn = self._ask(
                plot, named, what, against=against, predicted=predicted,
                standard=_standard(standard), units=self._units,
            )  # fmt: skip
        for sentence in drawn.left_out:
            warnings.warn(sentence, stacklevel=2)
        return drawn.figure

    def predict(
        self,
        before: Name,
        after: Name = "working",
        *,
        standard: str | None = None,
        shop: str | Path | None = None,
        temperature: str | None = None,
        pressure: str | None = None,
        altitude: str | None = None,
        humidity: str | None = None,
    ) -> PredictionView:
        """What `after` would make, as bands, from the curve that `before` was measured with.

        In the air of the curve's standard, unless other air is asked for: "35 degC", "84 kPa" or
        "1600 m", "40 percent". `shop`: a folder of ledgers to learn from, too.
        """
        from buildlog.desk.questions.predict import prediction
        from buildlog.desk.views.compared_views import PredictionView

        one, other = self._resolved(before), self._resolved(after)
        found = self._ask(
            prediction, one, other, standard=_standard(standard), shop=Path(shop) if shop else None,
            temperature=temperature, pressure=pressure, altitude=altitude, humidity=humidity,
        )  # fmt: skip
        return PredictionView(found, (self._side(one), self._side(other)), self._units)

    def margins(self, version: Name = "working") -> MarginsView:
        """How far each demand of a version is from its limit, tightest first."""
        from buildlog.desk.questions.limits import margins_of
        from buildlog.desk.views.limit_views import MarginsView

        asked = self._resolved(version)
        return MarginsView(self._ask(margins_of, asked), self._side(asked), self._units)

    def headroom(self, version: Name = "working") -> HeadroomView:
        """What runs out first when the power or boost of a version is raised."""
        from buildlog.desk.questions.limits import headroom_of
        from buildlog.desk.views.limit_views import HeadroomView

        asked = self._resolved(version)
        return HeadroomView(self._ask(headroom_of, asked), self._side(asked), self._units)

    def next(self) -> NextView:
        """What to do now, what must not be started before, and why."""
        from buildlog.desk.questions.check_all import what_next
        from buildlog.desk.views.workshop_views import NextView

        return NextView(self._ask(what_next), self._units)

    @property
    def parts(self) -> PartsView:
        """The parts in the car now; of another version, `version(...).parts`."""
        return self._side(self._ask(lambda book: book.newest)).parts

    def check(self) -> CheckView:
        """What is wrong or doubtful in the working files."""
        from buildlog.desk.questions.check_all import look
        from buildlog.desk.views.workshop_views import CheckView

        return CheckView(self._ask(look), self._units)

    def verify(
        self, *, paper: str | None = None, signers: tuple[str | Path, ...] = ()
    ) -> VerifyView:
        """Whether the history is complete and unaltered, as it lies there now.

        `paper` is a fingerprint as printed, `signers` are files of public keys got elsewhere.
        """
        from buildlog.desk.questions.verifying import verified
        from buildlog.desk.views.workshop_views import VerifyView

        self._refuse_closed()
        keys = tuple(map(Path, signers))
        return VerifyView(verified(self.place, signers=keys, paper=paper), self.place)

    def raw(self, path: str, version: Name | None = None) -> bytes:
        """The bytes of one file by its path in the ledger: "dyno/2026-05-09-stage-2/pull-1.csv".

        As in the working files, or as it was recorded at a version.
        """
        named = None if version is None else self._resolved(version)

        def read(book: Snapshot) -> bytes:
            of = book.ledger.resolve("working" if named is None else named.id or named.name)
            known = book.ledger.files(of)
            if path not in known:
                near = difflib.get_close_matches(path, known, n=3)
                hint = f"did you mean {', '.join(near)}?" if near else None
                raise NotFound(f"there is no file {path} in {of.name}", hint=hint)
            return book.ledger.read(of, path)

        return self._ask(read)

    # a newer one, and an edit

    def fresh(self) -> OpenedCar:
        """The same car as it stands now; what this one read is not read again."""
        return self._again(self._snapshot)

    def edit(self, *, by: str | None = None) -> Edit:
        """Begin an edit: collected in memory, recorded as one entry or not at all.

        `by`: who does it, initials or a staff number; as the settings say without it.
        """
        from buildlog.desk.edit import Edit

        if self._unpacked:
            raise InvalidInput(
                "a handover cannot be edited", where=str(self.place),
                hint="make the next owner's copy with `buildlog receive`, and open that",
            )  # fmt: skip
        return Edit(self._snapshot, by)

    # closing

    def close(self) -> None:
        """Let go of the files; what was unpacked of a package is removed."""
        if self._open:
            self._open = False
            self._book.ledger.close()
            if self._unpacked:
                self._unpacked.remove()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *exc: object) -> None:
        self.close()

    def __repr__(self) -> str:
        if not self._open:
            return f"<car {self.place}: closed>"
        entries = self._book.entries
        head = f"entry {entries[-1].number}, {entries[-1].short}" if entries else "nothing recorded"
        verdict = f", {self.verdict}" if self.verdict else ""
        return f"<car {self.place.name}: {head}{verdict}>"

    # inside

    @property
    def _snapshot(self) -> Snapshot:
        self._refuse_closed()
        return self._book

    def _refuse_closed(self) -> None:
        if not self._open:
            raise InvalidInput("this car was closed", where=str(self.place), hint="open it again")

    def _ask(
        self, question: Callable[Concatenate[Snapshot, P], T], *args: P.args, **kwargs: P.kwargs
    ) -> T:
        """One thread at a time: what one works out is there for the next."""
        book = self._snapshot
        with book.alone:
            return question(book, *args, **kwargs)

    def _resolved(self, name: Name) -> Version:
        if isinstance(name, CarVersion):
            return self._ask(name._in)
        return self._ask(lambda book: book.version(str(name)))

    def _side(self, version: Version) -> CarVersion:
        return self.version(version.id if version.number else version.name)


def _standard(name: str | None) -> str | None:
    """A power correction by any of its trade names."""
    from buildlog.desk.questions.visits import standard_named

    return None if name is None else standard_named(name)
