"""From a version to what its margins ask for: power, joints, priors, the last known-good."""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Callable
from dataclasses import asdict, replace
from typing import TYPE_CHECKING, Any, TypeVar

from buildlog.analysis.answers.look_answers import HeadroomAnswer, MarginsAnswer
from buildlog.analysis.car.changes import power_neutral, unlike
from buildlog.analysis.car.history_files import Match, Visit, joints_of, match
from buildlog.analysis.margins.all_margins import findings, margins
from buildlog.analysis.margins.figures.demand_figure import Z90, DemandFigure, Source
from buildlog.analysis.margins.figures.margin_car import (
    KnownGood,
    PackDraws,
    Run,
    Subject,
    measured_run,
)
from buildlog.errors import BuildlogError
from buildlog.physics.numerics.band import Band
from buildlog.records.checked_paths import table
from buildlog.records.paths import assembly
from buildlog.records.recorded_peak import recorded_peak

if TYPE_CHECKING:
    from buildlog.analysis.car.version import Version
    from buildlog.analysis.margins.figures.margin_rows import Row
    from buildlog.analysis.prediction.predicted import Predicted
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.records.car.configuration import Configuration
    from buildlog.records.fasteners import Joint

RPM = math.pi / 30
_CHARGE = {table("induction")}
_MIXTURE = {*_CHARGE, table("fuel"), table("calibration")}
T = TypeVar("T")


class Margining:
    """The subjects of one ledger; each version's power is worked out once."""

    def __init__(self, book: Snapshot) -> None:
        self.book = book

    def _once(self, what: str, version: Version, make: Callable[[], T]) -> T:
        return self.book.once((self, what, version.id or version.name), make)

    def rows(self, version: Version) -> list[Row]:
        """All margins of a version, tightest first."""
        return self._once("rows", version, lambda: margins(self.subject(version)))

    def unknown(self, version: Version) -> str | None:
        """Why the power of a version is not known; None where it is."""
        run, why = self.run(version)
        return why if run is None else None

    def subject(self, version: Version) -> Subject:
        """What the margins of a version ask for."""
        run, why = self.run(version)
        return Subject(
            version.configuration,
            run,
            self.book.priors,
            self._day(version),
            self._joints(version),
            None if run is not None and run.basis == "measured" else self._known_good(version),
            why,
        )

    def run(self, version: Version) -> tuple[Run | None, str | None]:
        """The power of a version: measured, else predicted, else as its maker rated it; or why
        it is not known."""
        return self._once("run", version, lambda: self._run(version))

    def take(self, version: Version, found: Predicted) -> None:
        """Use a prediction that was worked out already, of a version that nobody measured."""
        if match(version, self.book.visits) is None:
            run = _predicted_run(found)
            self._once(
                "run", version, lambda: (self._with_what_stays(run, found.before, version), None)
            )

    def _run(self, version: Version) -> tuple[Run | None, str | None]:
        found = match(version, self.book.visits)
        if found is not None:
            run = self._evaluated(found) or self._recorded(found)
            if run is not None:
                return run, found.note
        rated = self._rated(version)
        first = self.book.history[0] if self.book.history else version
        as_it_came = not _moved(first.configuration, version.configuration)
        if rated is not None and as_it_came:
            return rated, None
        return self._predicted(version)

    # measured

    def _recorded(self, found: Match) -> Run | None:
        """From what was worked out when the entry was recorded, where its files cannot be read."""
        if not _kept(found):
            return None
        said = recorded_peak(self._trailer(found.visit))
        if said is None or said.unit != "rpm" or said.pulls is None:
            return None
        source = _session(f"power measured at the {said.place}", found.visit.name, said.standard)
        return _run_of(found, said.power_w, said.at * RPM, said.pulls, source)

    def _trailer(self, visit: Visit) -> str | None:
        """Of the entry that added the session, else of the one that last corrected it."""
        place = self.book.session_places[visit.name]
        if place.number == 0 or len(place.sessions) != 1:
            return None
        entries = self.book.entries
        first = entries[place.number - 1]
        later = [e for e in entries if e.corrects == first.id and e.measured]
        return (later[-1] if later else first).measured

    def _evaluated(self, found: Match) -> Run | None:
        """From the raw files: the peak, and the greatest torque of the same curve."""
        name, calibration = found.visit.name, found.calibration
        try:
            told = self.book.recalled(
                "measured run", name, calibration, lambda: self._figures(name, calibration)
            )
        except BuildlogError:
            return None
        if told is None:
            return None
        how, standard = "recovered" if told["u_speed"] else "logged", told["standard"]
        logged = {what: _logged(one, name) for what, one in told["logged"].items()}
        pack = _pack(told["pack"], name)
        return _run_of(
            found, told["power"], told["omega"], told["pulls"],
            _session(f"power measured at the {told['at']}", name, standard),
            at_crank=told["at"] == "crank", torque=told["torque"], u_speed=told["u_speed"],
            torque_source=_session(f"torque measured, engine speed {how}", name, standard),
            pack=pack, **logged,
        )  # fmt: skip

    def _figures(self, name: str, calibration: str | None) -> dict[str, Any] | None:
        """What a measured run is made of, in plain numbers [SI]; None without a curve."""
        sheet = self.book.sheet(name)
        group = sheet.group(calibration)
        if group is None:
            return None
        from buildlog.analysis.pulls.logged_load import logged_load

        top, turning = group.peak_power, group.peak_torque
        logged = asdict(logged_load(sheet, group, self.book.owner(name).configuration))
        return {
            "power": top.value,
            "omega": top.at * RPM if sheet.axis == "engine_speed" else None,
            "pulls": group.pulls,
            "at": sheet.at,
            "standard": sheet.standard,
            "torque": turning.value if turning else None,
            "u_speed": sheet.u_speed,
            "pack": logged.pop("pack"),
            "logged": logged,
        }

    # predicted, declared

    def _predicted(self, version: Version) -> tuple[Run | None, str | None]:
        """From the newest version that was measured before it."""
        number = version.number or 1 << 30
        known = [v for v in self.book.measured_versions if v.number < number]
        if not known:
            return None, f"no dyno session measured {version.name}, or anything before it"
        from buildlog.desk.questions.predict import predictor_of

        try:
            found = predictor_of(self.book).predict(known[-1], version)
        except BuildlogError as error:
            return None, f"{version.name} is not measured and cannot be predicted: {error.what}"
        if found.unpredictable and found.not_covered:
            return None, f"{version.name} is not measured, and {found.unpredictable}"
        if found.changes_nothing:  # the same figures from the same measurement
            run, why = self.run(known[-1])
            told = f"measured at {known[-1].name}; no formula has what changed since"
            return run and replace(run, note=told), why
        return self._with_what_stays(_predicted_run(found), known[-1], version), None

    def _with_what_stays(self, run: Run, base: Version, version: Version) -> Run:
        """What was logged of the car that a prediction starts from stays where nothing that it
        hangs on changed."""
        logged, _ = self.run(base)
        moved = {assembly(path) for path in _movers(base.configuration, version.configuration)}
        if logged is None or logged.basis != "measured":
            return run
        if not moved & _CHARGE:
            run = replace(run, boost=logged.boost)
        if not moved & _MIXTURE:
            run = replace(run, mixture=logged.mixture, leanest=logged.leanest)
        return run

    def _rated(self, version: Version) -> Run | None:
        engine = version.configuration.engine
        if engine is None or engine.rated_power is None:
            return None
        speed, torque = engine.rated_power_speed, engine.rated_torque
        return Run(
            Band.exact(engine.rated_power.si),
            speed.si if speed else None,
            "declared",
            Source(f"power as the maker rates it ({engine.rated_power.text}); not measured"),
            Band.exact(torque.si) if torque else None,
            at_crank=True,
        )

    # what else the history holds

    def _day(self, version: Version) -> dt.date | None:
        from buildlog.desk.snapshot.snapshot import today

        newest = self.book.history[-1] if self.book.history else None
        old = newest is not None and version.number and version.number < newest.number
        return version.date if old else today()

    def _joints(self, version: Version) -> dict[str, Joint]:
        """The newest record of each joint that a version has."""
        number = version.number or 1 << 30
        known = self.book.history if version.number else self.book.until_now
        versions = [v for v in known if (v.number or 1 << 30) <= number]
        newest: dict[str, str] = {}
        joints, _ = self.book.tightened
        for name in (name for v in versions for name in joints_of(v, joints)):
            newest[joints[name].joint] = name
        return {name: joints[name] for name in newest.values()}

    def _known_good(self, version: Version) -> KnownGood | None:
        """The newest other configuration that was pulled before this one; nobody asks for it of
        one that was pulled itself, and its sheet is as much work again."""
        number = version.number or 1 << 30
        earlier = [v for v in self.book.measured_versions if v.number < number]
        for base in reversed(earlier):
            if _moved(base.configuration, version.configuration):
                return KnownGood(base.name, base.configuration, self.run(base)[0])
        return None


def limits_of(book: Snapshot) -> Margining:
    """The margins of a ledger's versions, each version's worked out once."""
    return book.once(Margining, lambda: Margining(book))


def _run_of(
    found: Match, power: float, speed: float | None, pulls: int, source: Source, **facts: Any
) -> Run:  # fmt: skip
    """The run of a version that was measured, with what its dyno and its note say."""
    dyno = found.visit.session.dyno
    accuracy = dyno.accuracy.si if dyno is not None and dyno.accuracy else None
    return measured_run(
        power, speed, pulls, source, accuracy,
        note=found.note, nitrous_on=_nitrous_on(found.visit), **facts,
    )  # fmt: skip


def _logged(told: dict[str, Any] | None, name: str) -> DemandFigure | None:
    """A figure that the pulls of a session log, with what its instrument may be off."""
    if told is None:
        return None
    value, half = told["value"], Z90 * told["sd"]
    words = Source(f"{told['words']}, session {name}", told["words"])
    return DemandFigure(Band(value - half, value, value + half), "measured", (words,))


def _pack(told: dict[str, Any] | None, name: str) -> PackDraws | None:
    """What the pulls of a session log of a traction battery."""
    if told is None:
        return None
    words = Source(f"{told['words']}, session {name}", told["words"])
    draws = tuple((charge, power) for charge, power in told["draws"])
    return PackDraws(draws, told["sd"], words)


def _session(what: str, name: str, standard: str | None) -> Source:
    """What was measured, and where it is written down."""
    return Source(f"{what}, session {name} ({standard})", what)


def margins_of(book: Snapshot, version: str | Version = "working") -> MarginsAnswer:
    """How far each demand of a version is from its limit, tightest first."""
    asked, margining = book.version(version), limits_of(book)
    subject, found = margining.subject(asked), margining.rows(asked)
    return MarginsAnswer(asked, subject, tuple(found), tuple(findings(found, subject)))


def headroom_of(book: Snapshot, version: str | Version = "working") -> HeadroomAnswer:
    """What runs out first when the power or boost of a version is raised."""
    from buildlog.analysis.margins.first_reached import room

    found = margins_of(book, version)
    return HeadroomAnswer(found.version, room(found.subject), found.findings)


def _predicted_run(found: Predicted) -> Run:
    power, torque = found.peak_power, found.peak_torque
    return Run(
        Band(power.p10, power.p50, power.p90),
        float(found.start.rpm[int(found.curve.p50.argmax())]) * RPM,
        "predicted",
        Source(f"power predicted from the curve of {found.before.name}"),
        Band(torque.p10, torque.p50, torque.p90),
        found.start.at == "crank",
    )


def _movers(one: Configuration, other: Configuration) -> list[str]:
    """Paths that differ and may move power."""
    return [path for path in unlike(one, other) if not power_neutral(path)]


def _moved(one: Configuration, other: Configuration) -> bool:
    return bool(_movers(one, other))


def _nitrous_on(visit: Visit) -> bool:
    used = [pull for pull in visit.session.pull if pull.use]
    return bool(used) and all(pull.nitrous == "on" for pull in used)


def _kept(found: Match) -> bool:
    """Whether the recorded peak is that of the matched group: the only one, or the kept one."""
    visit = found.visit
    if any(pull.change for pull in visit.session.pull):
        return False
    if len(visit.calibrations) <= 1:
        return True
    kept = {pull.calibration for pull in visit.session.pull if pull.keep}
    return kept == {found.calibration}
