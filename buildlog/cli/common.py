"""What the commands share: options, the ledger, output."""

from __future__ import annotations

import functools
import json
import sys
from collections.abc import Callable, Iterable
from contextlib import AbstractContextManager, nullcontext
from contextvars import copy_context
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from buildlog.report.lines import clean, printed

if TYPE_CHECKING:
    from buildlog.desk.snapshot.opening import Ledger, Reader
    from buildlog.desk.snapshot.settings import Ask
    from buildlog.report.lines import Finding
    from buildlog.report.numbers import Display

F = TypeVar("F", bound=Callable[..., Any])

PATH = click.Path(path_type=Path)

ledger_option = click.option(
    "--ledger",
    "ledger_folder",
    type=PATH,
    envvar="BUILDLOG_LEDGER",
    help="The car's folder (else the nearest one above with car.toml and a repository).",
)
json_option = click.option("--json", "as_json", is_flag=True, help="One JSON document instead.")
units_option = click.option(
    "--units",
    type=click.Choice(["us", "metric"]),
    help="Units of the results (else those the author writes odometers in).",
)
strict_option = click.option(
    "--strict", is_flag=True, help="Exit with 1 if there is a caution or an error."
)


@dataclass(frozen=True)
class AnswerForm:
    """What most commands are told: which ledger, and in what form the answer comes."""

    ledger: Path | None = None
    units: str | None = None
    as_json: bool = False
    strict: bool = False

    def display(self, ledger: Reader | None) -> Display:
        """The display units: asked for, set by the user, or the author's own."""
        from buildlog.desk.snapshot import opening
        from buildlog.report.numbers import speaking

        return speaking(opening.units_of(ledger, self.units))

    def display_here(self) -> Display:
        """The same of a command that needs no car: those of the car around, where there is one."""
        from buildlog.desk.snapshot import opening
        from buildlog.errors import BuildlogError

        try:
            with opening.ledger(self.ledger) as held:
                return self.display(held)
        except BuildlogError:
            return self.display(None)

    def answer(
        self,
        name: str,
        found: Any,
        body: Callable[[Any], dict[str, Any]],
        lines: Callable[..., list[str]],
        *more: Any,
        ledger: Reader | None = None,
    ) -> None:
        """Print what was found, as the JSON document of this name or as lines; with `ledger`
        the lines are in its units, `more` is what else they are told."""
        if self.as_json:
            say_json(name, body(found))
        else:
            say(lines(found, *([self.display(ledger)] if ledger else []), *more))

    def end(self, findings: Iterable[Finding]) -> None:
        """Exit with 1 where --strict is given and something is to be looked at."""
        if self.strict:
            end(findings)


def _all_in(units: str | None) -> AbstractContextManager[None]:
    """Declared values shown in the units that were asked for, where some were."""
    if units is None:
        return nullcontext()
    from buildlog.report.numbers import all_in

    return all_in(units)  # type: ignore[arg-type]


def _in_its_units(function: Callable[[], None], units: str | None) -> None:
    with _all_in(units):
        function()


def formed(*options: Callable[[F], F]) -> Callable[[Callable[..., None]], Callable[..., None]]:
    """These options, of which the command gets one `form` and not each by itself."""

    def decorate(function: Callable[..., None]) -> Callable[..., None]:
        @functools.wraps(function)
        def call(*args: Any, ledger_folder: Path | None = None, **given: Any) -> None:
            told = {
                name: given.pop(name) for name in ("units", "as_json", "strict") if name in given
            }
            form = AnswerForm(ledger_folder, **told)
            # What this call says of units ends with it.
            copy_context().run(_in_its_units, functools.partial(function, form, *args, **given),
                               form.units)  # fmt: skip

        for option in reversed(options):
            call = option(call)
        return call

    return decorate


json_form = formed(ledger_option, json_option)
text_form = formed(ledger_option, units_option)
units_form = formed(ledger_option, units_option, json_option)
strict_form = formed(ledger_option, units_option, strict_option, json_option)
judged_form = formed(ledger_option, units_option, json_option, strict_option)
bare_form = formed(json_option)
figures_form = formed(units_option, json_option)


class _Day(click.ParamType):  # type: ignore[type-arg]
    name = "day"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        if not isinstance(value, str):
            return value
        from buildlog.desk.questions.days import day_typed

        found = day_typed(value)
        if found is None:
            self.fail(f'"{value}" is not a day; write it as 2026-03-14', param, ctx)
        return found


# An option's day, as a date; as files have it, and as documents and pages print it.
DAY = _Day()


def _standard(ctx: click.Context, parameter: click.Parameter, value: str | None) -> str | None:
    """A power correction by any of its trade names."""
    if value is None:
        return None
    from buildlog.desk.questions.visits import standard_named
    from buildlog.errors import UsageError

    try:
        return standard_named(value)
    except UsageError as error:
        raise click.BadParameter(error.what, ctx, parameter) from None


standard_option = click.option(
    "--standard",
    callback=_standard,
    help="Power correction: SAE J1349 (the default), ISO 1585, "
    "60F-29.92-dry (the trade's STD), DIN 70020, none.",
)

paper_option = click.option(
    "--paper",
    type=click.Choice(["letter", "a4"]),
    help="The PDF's page: else letter with US units, a4 with metric ones.",
)
shop_option = click.option(
    "--shop", type=PATH, help="A folder of ledgers to learn from; else cars in the settings."
)


def open_ledger(folder: Path | None) -> Ledger:
    """The ledger named by --ledger, else the nearest one above the present folder."""
    from buildlog.desk.snapshot import opening

    return opening.ledger(folder)


def say(lines: str | Iterable[str], *, err: bool = False) -> None:
    """Print lines with nothing in them that a terminal would obey."""
    from buildlog.cli import terminal

    text = lines if isinstance(lines, str) else "\n".join(lines)
    terminal.show(printed(clean(text)), err=err)


def say_json(name: str, body: dict[str, Any]) -> None:
    """Print one JSON document; its first key says what it is."""
    document = {"format": f"buildlog/{name}/1", **body}
    click.echo(json.dumps(document, ensure_ascii=True, indent=1, allow_nan=False, default=str))


def end(findings: Iterable[Finding]) -> None:
    """Exit with 1 where something is to be looked at."""
    if any(finding.severity != "note" for finding in findings):
        sys.exit(1)


def at_terminal() -> bool:
    """Whether a person sits at both ends."""
    return sys.stdin.isatty() and sys.stdout.isatty()


def asking() -> Ask | None:
    """Who is asked for a signing key's passphrase: the person at the terminal, if there is one."""
    return _passphrase if at_terminal() else None


def _passphrase(place: Path) -> str:
    return str(click.prompt(f"Passphrase of {place}", hide_input=True, err=True))
