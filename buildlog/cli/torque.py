"""`buildlog torque`: what a joint asks for and what its fasteners got."""

from __future__ import annotations

import datetime as dt
from pathlib import Path
from typing import Any

import click

from buildlog.cli.common import (
    display,
    end,
    json_option,
    ledger_option,
    open_ledger,
    say,
    say_json,
    strict_option,
    units_option,
)


@click.group()
def command() -> None:
    """Tightening records: spec, value, tool, who; what the thread's grade can carry.

    \b
    buildlog torque add "header flange" --count 12 --torque "22 N*m"
    buildlog torque list
    """


@command.command("add")
@click.argument("joint")
@click.argument("fasteners", metavar="[POSITION=TORQUE...]", nargs=-1)
@click.option("--torque", help='One torque for all: "22 N*m"; with --count.')
@click.option("--count", type=click.IntRange(1, 200), help="How many fasteners got it.")
@click.option("--angle", help='The angle all were turned on after the torque: "90 deg".')
@click.option("--part", help="The part concerned, by its path: exhaust.headers")
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
@click.option("--retorque-after", help='The distance after which to tighten again: "200 mi".')
@click.option("--retorque-of", help="The record whose tightening this one repeats.")
@click.option("--tool", help="The tool, with its number.")
@click.option("--odometer", help='The reading: "42310 mi" (else that of the newest entry).')
@click.option("--note", help="Anything else.")
@click.option("--by", help="Who tightened them: initials or a staff number.")
@click.option("--date", "on", type=click.DateTime(["%Y-%m-%d"]), help="The day (else today).")
@ledger_option
def add(
    joint: str,
    fasteners: tuple[str, ...],
    torque: str | None,
    count: int | None,
    angle: str | None,
    new: bool,
    odometer: str | None,
    by: str | None,
    on: dt.datetime | None,
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
    from buildlog.analysis.workshop.fastener_book import judged
    from buildlog.cli.fault import refuse_no_part
    from buildlog.desk.acts import filing
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.errors import InvalidInput
    from buildlog.records.fasteners import Joint
    from buildlog.records.reading import read
    from buildlog.report.lines import finding_lines

    pieces = _pieces(fasteners, torque, count)
    items = [
        {"position": name, "torque": value, "angle": angle, "new": True if new else None}
        for name, value in pieces
    ]
    if fields["part"]:
        refuse_no_part(fields["part"])
    with open_ledger(ledger_folder) as ledger:
        book = Snapshot(ledger)
        known = {name for version in book.until_now for name in version.joints}
        again = fields["retorque_of"]
        if again and again not in known:
            raise InvalidInput(f'there is no record "{again}"', hint=_names(known))
        day = filing.day(on)
        path = filing.free_path(ledger, "torque", f"{day}-{filing.slug(joint)}")
        head = {
            "joint": joint, "date": day, "odometer": filing.odometer(book, odometer), **fields,
            "single_use": fields["single_use"] or None, "by": filing.who(by),
        }  # fmt: skip
        order = [name for name in Joint.model_fields if name in head]
        data = filing.text_of(Joint, path, {n: head[n] for n in order}, "fastener", items)
        ledger.write_working(path, data)
    found, usual, _ = judged(path.split("/")[1].removesuffix(".toml"), read(Joint, data, path))
    again = f"; usual for this thread and grade {usual:.0f} N*m at 75 % of proof" if usual else ""
    say(f"{joint}: {len(items)} fasteners{again}")
    say(finding_lines(found) or ["  nothing to look at"])
    say(f"  {path}, not yet recorded")
    say(f'next: buildlog record -m "{joint} tightened"')


@command.command("list")
@click.option("--full", is_flag=True, help="Notes too.")
@ledger_option
@units_option
@json_option
@strict_option
def list_(
    full: bool, ledger_folder: Path | None, units: str | None, as_json: bool, strict: bool
) -> None:
    """List the tightened joints: what they got against the spec, and which are due again.

    \b
    buildlog torque list
    """
    from buildlog.analysis.workshop.fastener_book import joints
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.report.as_text.torque_text import joint_json, joint_lines

    with open_ledger(ledger_folder) as ledger:
        book = Snapshot(ledger)
        found = joints(book.until_now, book.papers)
        if as_json:
            say_json("torque-list", {"joints": [joint_json(one) for one in found]})
        else:
            say(joint_lines(found, display(ledger, units), full))
    end((one for state in found for one in state.findings), strict)


def _pieces(
    named: tuple[str, ...], torque: str | None, count: int | None
) -> list[tuple[str, str | None]]:
    """Position and torque of each fastener."""
    from buildlog.desk.acts.editing import split
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


def _names(known: set[str]) -> str:
    return f"known: {', '.join(sorted(known)[-8:])}" if known else "there is none yet"
