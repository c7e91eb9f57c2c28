"""`buildlog torque`: what a joint asks for and what its fasteners got."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from buildlog.cli import names, torque_sheet
from buildlog.cli.common import DAY, AnswerForm, judged_form, ledger_option, open_ledger, say

if TYPE_CHECKING:
    from buildlog.desk.acts.fault_acts import How


@click.group()
def command() -> None:
    """Tightening records: spec, value, tool, who; what the thread's grade can carry.

    \b
    buildlog torque sheet head-and-mains.csv
    buildlog torque do
    buildlog torque add "header flange" --count 12 --torque "22 N*m"
    buildlog torque list
    """


for one in (torque_sheet.sheet, torque_sheet.do, torque_sheet.show):
    command.add_command(one)


@command.command("add")
@click.argument("joint")
@click.argument("fasteners", metavar="[POSITION=TORQUE...]", nargs=-1)
@click.option("--torque", help='One torque for all: "22 N*m"; with --count.')
@click.option("--count", type=click.IntRange(1, 200), help="How many fasteners got it.")
@click.option("--angle", help='The angle all were turned on after the torque: "90 deg".')
@click.option(
    "--how",
    type=click.Choice(["tool setting", "reading"]),
    help="Whether the torque is what the tool was set to, or was read.",
)
@click.option(
    "--part", help="The part concerned, by its path: exhaust.headers", shell_complete=names.part
)
@click.option("--thread", help="M10x1.5 or 3/8-16.")
@click.option("--grade", help="10.9, or SAE 5.")
@click.option(
    "--condition",
    type=click.Choice(["dry", "plated", "oiled", "anti-seize", "waxed"]),
    help="What was on the threads.",
)
@click.option("--spec-low", help='The least torque asked for: "20 N*m".')
@click.option("--spec-high", help="The largest torque asked for.")
@click.option("--spec-angle", help='The angle asked for after the torque: "90 deg".')
@click.option("--spec-source", help="Who asks for it.")
@click.option("--single-use", is_flag=True, help="The fasteners serve only once.")
@click.option("--new", is_flag=True, help="All fasteners are new pieces.")
@click.option(
    "--retorque-after", help='When to tighten again: "200 mi", "2 heat cycles", or both by "or".'
)
@click.option(
    "--retorque-of",
    help="The record whose tightening this one repeats.",
    shell_complete=names.joint,
)
@click.option("--tool", help="The tool, with its number.")
@click.option("--odometer", help='The reading: "42310 mi" (else that of the newest entry).')
@click.option("--note", help="Anything else.")
@click.option(
    "--by", help="Who tightened them: initials or a staff number.", shell_complete=names.staff
)
@click.option("--date", "on", type=DAY, help="The day (else today).")
@ledger_option
def add(
    joint: str,
    fasteners: tuple[str, ...],
    torque: str | None,
    count: int | None,
    angle: str | None,
    how: How | None,
    new: bool,
    odometer: str | None,
    by: str | None,
    on: dt.date | None,
    ledger_folder: Path | None,
    **fields: Any,
) -> None:
    """Write down how JOINT was tightened.

    \b
    buildlog torque add "flywheel to crankshaft" bolt1="105 N*m" bolt2="105 N*m" \\
        --thread M12x1.5 --grade 10.9 --condition oiled --single-use --new
    buildlog torque add "header flange" --count 12 --torque "22 N*m" \\
        --retorque-after "200 mi"
    """
    from buildlog.desk.acts.fault_acts import Tightening, add_joint
    from buildlog.report.as_text.day_text import tightened_lines

    torques, said = _torques(fasteners, torque, count), Tightening(**fields)
    with open_ledger(ledger_folder) as ledger:
        done = add_joint(
            ledger, joint, torques, said, angle=angle, how=how, new=new, odometer=odometer, by=by,
            on=on,
        )  # fmt: skip
    say(tightened_lines(done))


@command.command("list")
@click.option("--full", is_flag=True, help="Notes too.")
@judged_form
def list_(form: AnswerForm, full: bool) -> None:
    """List the tightened joints: what they got against the spec, and which are due again.

    \b
    buildlog torque list
    """
    from buildlog.desk.questions.day_books import joints
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.report.as_json.day_json import joints_json
    from buildlog.report.as_text.day_text import joint_lines

    with open_ledger(form.ledger) as ledger:
        found = joints(Snapshot(ledger))
        form.answer("torque-list", found, joints_json, joint_lines, full, ledger=ledger)
    form.end(one for state in found for one in state.findings)


def _torques(
    named: tuple[str, ...], torque: str | None, count: int | None
) -> list[tuple[str, str | None]]:
    """Place and torque of each fastener."""
    from buildlog.desk.acts.car_fields import split
    from buildlog.errors import UsageError

    if named and (torque or count):
        raise UsageError("name the fasteners or give --count and --torque, not both")
    if named:
        return [split(one) for one in named]
    if torque is None:
        raise UsageError(
            "no fastener is named", hint='bolt1="105 N*m" ..., or --count 12 --torque "22 N*m"'
        )
    return [(f"{place}", torque) for place in range(1, (count or 1) + 1)]
