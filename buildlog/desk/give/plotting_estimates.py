"""Figures of what was not measured: predictions beside what came of them, and margins."""

from __future__ import annotations

from typing import TYPE_CHECKING

from buildlog.desk.give.drawn import Drawn, shown_in
from buildlog.errors import NotFound

if TYPE_CHECKING:
    from buildlog.analysis.car.version import Version
    from buildlog.desk.snapshot.snapshot import Snapshot


def band(
    book: Snapshot,
    before: str | Version,
    after: str | Version,
    standard: str | None = None,
    units: str | None = None,
) -> Drawn:
    """One prediction beside what was measured."""
    from buildlog.desk.questions.predict import predictor_of
    from buildlog.report.pictures.figures import draw
    from buildlog.report.pictures.prediction_pictures import band_beside

    predictor = predictor_of(book, standard)
    other = book.version(after)
    result = predictor.predict(book.version(before), other)
    point = predictor.point(other)
    measured = (point.sheet, point.group) if point else None
    return Drawn(draw(band_beside(result, measured, shown_in(book, units))))


def stages(
    book: Snapshot,
    against: str | None = None,
    standard: str | None = None,
    units: str | None = None,
) -> Drawn:
    """All past stages: the predicted band and the measured peak of each.

    Over the odometer where it is known of all of them, else over the date; or as asked.
    """
    from buildlog.desk.questions.predict import predictor_of
    from buildlog.report.pictures.stage_pictures import stages_figure

    past, left_out = predictor_of(book, standard).history()
    lacking = [stage for stage in past if stage.odometer is None]
    if against == "odometer":
        past = [stage for stage in past if stage.odometer is not None]
        left_out += [f"{stage.after}: its odometer is not recorded" for stage in lacking]
    if not past:
        raise NotFound(
            "no stage of this ledger was predicted and measured yet",
            why="; ".join(left_out) or None,
            hint="buildlog predict FROM TO",
        )
    axis = against or ("date" if lacking else "odometer")
    return Drawn(stages_figure(past, axis, shown_in(book, units)), tuple(left_out))


def limits(book: Snapshot, version: str | Version = "working", units: str | None = None) -> Drawn:
    """What one version asks of each of its limits."""
    from buildlog.desk.questions.limits import margins_of
    from buildlog.report.as_text.margins_text import power_words
    from buildlog.report.pictures.margin_pictures import margin_figure

    found, show = margins_of(book, version), shown_in(book, units)
    title = f"{found.version.name}; {power_words(found.subject, show)}"
    return Drawn(margin_figure(found.rows, title, show))
