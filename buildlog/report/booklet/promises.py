"""What was promised beside what was measured. A promise is what the quote stored; where none was
made the figures are those of the prediction, and the table says so."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from buildlog.analysis.answers.comparison import Diff
from buildlog.analysis.pulls.measured import Delta
from buildlog.records.recorded_promise import RecordedPromise
from buildlog.report.as_text.measured_text import deltas, verdict
from buildlog.report.as_text.promise_text import Gain, place, stored_gain
from buildlog.report.booklet import document as doc
from buildlog.report.booklet.content import StageStory
from buildlog.report.booklet.words import day
from buildlog.report.numbers import Display, gains

_ESTIMATE = "An estimate, no approval: 8 results in 10 are expected inside."


def promised(stages: Sequence[StageStory], show: Display) -> Iterator[doc.Block]:
    """Power and torque by stage: expected, measured, and where the result lies."""
    told = [one for one in stages if one.diff is not None and one.diff.measured is not None]
    if not told:
        return
    quoted = [one for one in told if one.promise is not None]
    rows: list[Sequence[doc.Cell]] = []
    for one in told:
        assert one.diff is not None
        if len(told) > 1:
            word = "" if one.promise is not None or not quoted else ", predicted, no quote"
            rows.append([f"{one.diff.before.name} to {one.diff.after.name}{word}"])
        rows += _rows(one.diff, one.promise, show)
    first = told[0].diff
    assert first is not None
    named = f", {first.before.name} to {first.after.name}" if len(told) == 1 else ""
    title, word = ("Promised and delivered", "promised") if quoted else (
        "Predicted and measured", "predicted")  # fmt: skip
    notes = [_quote_words(one) for one in quoted if one.promise is not None]
    yield doc.table(f"{title}{named}", ("", word, "measured", "result"), rows, right=(1, 2),
                    note=" ".join([*notes, _ESTIMATE]))  # fmt: skip


def _rows(
    found: Diff, promise: RecordedPromise | None, show: Display
) -> Iterator[Sequence[doc.Cell]]:
    result = found.measured
    assert result is not None
    for name, delta, dimension in deltas(result):
        unit, words = show.unit(dimension), verdict(delta, result)
        wanted = stored_gain(promise, dimension) if promise else _predicted(found, delta, dimension)
        band = "–"
        if wanted is not None:
            low, high = gains(wanted, unit.factor)
            band, words = f"{low} to {high} {unit.text}", place(wanted, delta, result)
        yield [name, band, show.change(delta.peak_delta, delta.half_width_95, dimension), words]


def _predicted(found: Diff, delta: Delta, dimension: str) -> Gain | None:
    predicted, start = found.predicted, delta.peak_from.value
    if predicted is None or predicted.changes_nothing:
        return None
    band = predicted.peak_power if dimension == "power" else predicted.peak_torque
    return Gain(band.p10 - start, band.p90 - start)


def _quote_words(one: StageStory) -> str:
    """When it was quoted and accepted, and from which curve, where that is another."""
    promise = one.promise
    assert promise is not None
    said = f"Quoted {day(promise.date)}"
    if promise.accepted is not None:
        said += f", accepted {day(promise.accepted)}"
        said += f" {promise.accepted_how}" if promise.accepted_how not in (None, "-") else ""
    if one.before is not None and promise.start not in (None, one.before.id):
        said += f", from the curve of entry {promise.start[:8]}"
    return f"{said}."
