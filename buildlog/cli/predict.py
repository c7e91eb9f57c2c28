"""`buildlog predict`: what another version would give, as a band."""

from __future__ import annotations

from pathlib import Path

import click

from buildlog.cli import names
from buildlog.cli.common import AnswerForm, shop_option, standard_option, units_form


@click.command()
@click.argument("before", metavar="[FROM]", required=False, shell_complete=names.version)
@click.argument("after", metavar="[TO]", required=False, shell_complete=names.version)
@click.option("--air-temperature", "temperature", help='Air to predict for: "35 degC".')
@click.option("--air-pressure", "pressure", help='Station pressure: "84 kPa".')
@click.option("--altitude", help='Instead of a pressure: "1600 m".')
@click.option("--humidity", help='Relative humidity: "40 percent".')
@standard_option
@shop_option
@click.option("--back-test", is_flag=True, help="How past predictions came out, instead.")
@click.option("--full", is_flag=True, help="Each assumption with its range and source.")
@units_form
def command(
    form: AnswerForm,
    before: str | None,
    after: str | None,
    standard: str | None,
    shop: Path | None,
    back_test: bool,
    full: bool,
    **air: str | None,
) -> None:
    """What TO would make, as a band, from the curve that FROM was measured with.

    \b
    buildlog predict stage-1 working
    buildlog predict stage-1 plan:turbo --altitude "1600 m"
    buildlog predict --back-test --shop ~/cars

    TO may be working, plan:NAME, or any version; without it, working. Figures are in the
    air of the measured curve's standard unless other air is asked for.
    """
    from buildlog.desk.questions.predict import past_predictions, prediction
    from buildlog.desk.snapshot import opening
    from buildlog.errors import UsageError
    from buildlog.report.as_json.prediction_json import back_test_json, prediction_json
    from buildlog.report.as_text.prediction_text import back_test_lines, prediction_lines

    with opening.snapshot(form.ledger) as book:
        if back_test:
            tested = past_predictions(book, standard, shop)
            form.answer("predict-back-test", tested, back_test_json, back_test_lines)
            return
        if before is None:
            raise UsageError("say which version to start from", hint="buildlog predict FROM TO")
        to = after or "working"
        result = prediction(book, before, to, standard=standard, shop=shop, **air)
        form.answer("predict", result, prediction_json, prediction_lines, full, ledger=book.ledger)
