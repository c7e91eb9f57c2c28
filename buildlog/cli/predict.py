"""`buildlog predict`: what another version would give, as a band."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from buildlog.cli.common import (
    display,
    json_option,
    ledger_option,
    read_ledger,
    say,
    say_json,
    standard_option,
    units_option,
)

if TYPE_CHECKING:
    from buildlog.analysis.prediction.prediction_air import Day
    from buildlog.desk.questions.predict import Predictor


@click.command()
@click.argument("before", metavar="[FROM]", required=False)
@click.argument("after", metavar="[TO]", required=False)
@click.option("--air-temperature", help='Air to predict for: "35 degC".')
@click.option("--air-pressure", help='Station pressure: "84 kPa".')
@click.option("--altitude", help='Instead of a pressure: "1600 m".')
@click.option("--humidity", help='Relative humidity: "40 percent".')
@standard_option
@click.option(
    "--shop", type=click.Path(path_type=Path), help="A folder of ledgers to learn from, too."
)
@click.option("--back-test", is_flag=True, help="How past predictions came out, instead.")
@click.option("--full", is_flag=True, help="Each assumption with its range and source.")
@ledger_option
@units_option
@json_option
def command(
    before: str | None,
    after: str | None,
    air_temperature: str | None,
    air_pressure: str | None,
    altitude: str | None,
    humidity: str | None,
    standard: str | None,
    shop: Path | None,
    back_test: bool,
    full: bool,
    ledger_folder: Path | None,
    units: str | None,
    as_json: bool,
) -> None:
    """What TO would make, as a band, from the curve that FROM was measured with.

    \b
    buildlog predict stage-1 working
    buildlog predict stage-1 plan:turbo --altitude "1600 m"
    buildlog predict --back-test --shop ~/cars

    TO may be working, plan:NAME, or any version; without it, working. Figures are in the
    air of the measured curve's standard unless other air is asked for.
    """
    from buildlog.desk.questions.predict import Predictor
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.errors import UsageError

    with read_ledger(ledger_folder) as ledger:
        predictor = Predictor(Snapshot(ledger), standard, shop)
        if back_test:
            _back_test(predictor, as_json)
            return
        if before is None:
            raise UsageError("say which version to start from", hint="buildlog predict FROM TO")
        one, other = predictor.book.version(before), predictor.book.version(after or "working")
        start = predictor.start(one)
        day = _day(start.day, air_temperature, air_pressure, altitude, humidity)
        result = predictor.predict(one, other, start=start, day=day)
        lie = predictor.lies(result) if day == start.day else None
        from buildlog.report.as_json.prediction_json import prediction_json
        from buildlog.report.as_text.prediction_text import prediction_lines

        if as_json:
            say_json("predict", prediction_json(result, lie, predictor.unread))
        else:
            lines = prediction_lines(result, lie, display(ledger, units), full, predictor.unread)
            say(lines)


def _day(
    base: Day,
    temperature: str | None,
    pressure: str | None,
    altitude: str | None,
    humidity: str | None,
) -> Day:
    from buildlog.analysis.prediction.prediction_air import asked
    from buildlog.units import parse

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


def _back_test(predictor: Predictor, as_json: bool) -> None:
    from buildlog.analysis.prediction.learned import reports
    from buildlog.report.as_json.prediction_json import back_test_json
    from buildlog.report.as_text.prediction_text import back_test_lines

    past, left_out = predictor.history()
    found = reports(past)
    if as_json:
        say_json("predict-back-test", back_test_json(found, past, left_out))
    else:
        say(back_test_lines(found, past, left_out))
