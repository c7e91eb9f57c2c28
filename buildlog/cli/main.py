"""The command group: names and one-line helps; a command's module is imported when it is used."""

from __future__ import annotations

import gc
import os
import re
import sys

import click

from buildlog import __version__
from buildlog.cli import terminal
from buildlog.cli.lazy import LazyGroup, Table
from buildlog.cli.names import note_ledger
from buildlog.errors import (
    BuildlogError,
    UsageError,
    kind_and_place,
    nothing_begun,
    standing,
)

# In the order of the work. name -> (module, what it does in a line)
COMMANDS: Table = {
    "demo": ("demo", "Build the demo car's ledger and show the main job on it."),
    "new": ("new", "Start a ledger for a car."),
    "check": ("check", "Say what is wrong or doubtful in the files, and what to write."),
    "set": ("set", "Set fields of car.toml, keeping comments and order."),
    "record": ("record", "Record the working files as one entry; put an earlier one right."),
    "history": ("history", "List the entries, newest first."),
    "show": ("show", "Show the configuration at a version, part by part."),
    "diff": ("diff", "What changed between two versions, and what it did."),
    "dyno": ("dyno", "Add raw dyno files; show a session's sheet."),
    "predict": ("predict", "What another version would give, as a band, and what it rests on."),
    "plan": ("plan", "Propose stages, put them side by side, adopt one."),
    "margins": ("margins", "How far each load is from its limit, worst case first."),
    "headroom": ("headroom", "What runs out first when power is raised."),
    "explain": ("explain", "What a figure means, and what it does not say."),
    "plot": ("plot", "Draw the dyno history across versions."),
    "next": ("next", "What to do now, and what must not be started before."),
    "checklist": ("checklist", "Go through a list before a step; say what was found."),
    "torque": ("torque", "Write down how joints were tightened."),
    "fault": ("fault", "Write down what broke, and what was done about it."),
    "work": ("work", "Add work without physics: paint, seats, detailing."),
    "waiting": ("waiting", "What the car waits for: a part, a go-ahead, outside work."),
    "due": ("due", "What comes due again: oil, belt, recheck of joints."),
    "key": ("key", "Whose signature counts, from which entry on."),
    "attach": ("attach", "Copy files and photos beside the history, without positions."),
    "discard": ("discard", "Take what is not recorded out of the folder; kept for a week."),
    "redact": ("redact", "Delete a personal file kept outside; the history says so."),
    "report": ("report", "One stage's sheet, as it goes with the invoice."),
    "handover": ("handover", "Give the car's history on, with a booklet."),
    "receive": ("receive", "Take a history over, after checking it."),
    "shop": ("shop", "All cars of the shop: where each stands, who has a part, what gave what."),
    "serve": ("serve", "Serve the page for a browser at the car, until Ctrl-C."),
    "verify": ("verify", "Check that the history is complete and unaltered."),
    "repair": ("repair", "Put back a lost or damaged branch, and say what proves it."),
    "sync": ("sync", "Join what two people recorded: a folder or a git server."),
    "pack": ("pack", "Pack the repository, on request."),
    "schema": ("schema", "Print the JSON Schema of a file, for editors."),
    "completion": ("completion", "Print the completion script of a shell."),
}


@click.command(
    cls=LazyGroup,
    table=COMMANDS,
    heading="Commands, in the order of the work",
    context_settings={"help_option_names": ["-h", "--help"]},
    invoke_without_command=True,
)
@click.option(
    "--ledger",
    metavar="FOLDER",
    expose_value=False,
    callback=note_ledger,
    help="The car's folder.",
)
@click.option("--no-pager", is_flag=True, expose_value=False, help="No pager for long answers.")
@click.version_option(__version__, prog_name="buildlog")
@click.pass_context
def cli(ctx: click.Context) -> None:
    """A build-history ledger for modified road cars.

    Each car is a car.toml in a git repository of its own. Record every stage, ask what
    changed since the last dyno, and hand on a history that can be checked.

    \b
    buildlog demo                  see it work on an invented car
    buildlog new my-car            start a ledger
    buildlog diff                  what changed since the last dyno, what it did
    buildlog diff first latest     what is in it now, against how it came
    buildlog report                what was done, and what it means
    buildlog report stage-2        what was promised, what was delivered
    buildlog margins               what is close to its limit
    buildlog next                  what to do now, what must not be started
    buildlog check                 why a file is refused, what to write
    buildlog record --corrects 5   put right what was entered wrongly
    buildlog plan show turbo       change one thing: what else must change
    buildlog shop list ~/cars      where each car stands, what holds it up
    buildlog verify                is the history complete and unaltered
    buildlog sync /media/stick     a second copy, should this computer die
    buildlog handover OUT --dry-run    what leaves with the car, what stays
    """
    if ctx.invoked_subcommand is None:
        from buildlog.cli.alone import where_it_stands

        where_it_stands()
        click.echo(ctx.get_help())


def run(arguments: list[str] | None = None) -> None:
    """The entry point: every error ends as a sentence and an exit status."""
    if arguments is None:  # a process of our own
        gc.set_threshold(200_000, 20, 50)  # what a command makes lives until it ends: seldom look
        os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # small matrices: threads only wait
    if sys.stdin is None:  # closed by the caller: nobody is there to ask
        sys.stdin = open(os.devnull)  # noqa: SIM115
    status = _run(arguments)
    if arguments is None:
        gc.freeze()  # what is left goes with the process: no last look through all of it
    sys.exit(status)


def _run(arguments: list[str] | None) -> int:
    nothing_begun()
    try:
        typed, asked = _wherever(sys.argv[1:] if arguments is None else arguments)
        _refuse_dots(typed)
        terminal.begin(no_pager="--no-pager" in asked)
        status = cli.main(args=typed, prog_name="buildlog", standalone_mode=False)
        return status if isinstance(status, int) else 0
    except BuildlogError as error:
        _complain(str(error))
        return error.exit_status
    except click.ClickException as error:
        _complain(_wrong_call(error))
        return 2
    except (click.Abort, KeyboardInterrupt):
        _complain(f"stopped; {standing()}")
        return 130
    except BrokenPipeError:
        sys.stdout = open(os.devnull, "w")  # noqa: SIM115 - the reader of the pipe has left
        return 0
    except OSError as error:
        _complain(f"{error.filename or 'the disk'}: {error.strerror or error}")
        if isinstance(error, PermissionError):
            _complain("  do: ask for permission on it, or name a folder of your own")
        return 7
    except Exception as error:
        _complain(f"buildlog itself failed ({kind_and_place(error)}); {standing()}")
        if os.environ.get("BUILDLOG_DEBUG"):
            _complain("what follows may hold values of the car, its VIN and names of folders: read "
                      "it, and take out what is nobody's business, before you send it")  # fmt: skip
            raise
        _complain("  do: run it again with BUILDLOG_DEBUG=1, read the output, and send what may "
                  "leave to the maintainers")  # fmt: skip
        return 70


def _not_there(found: re.Match[str]) -> str:
    return f"{found[2]}: there is no such {'folder' if found[1] == 'Directory' else 'file'}"


def _wrong_call(error: click.ClickException) -> str:
    """What is wrong with a call in one sentence as ours are, and the help that says more."""
    text = re.sub(r"^Invalid value for (.+?): ", r"\1: ", error.format_message()).rstrip(".")
    text = re.sub(r"^'.+?': (File|Path|Directory) '(.+)' does not exist", _not_there, text)
    context = getattr(error, "ctx", None)
    helped = context.command_path if context else "buildlog"
    return f"{text[:1].lower()}{text[1:]}\n  do: {helped} --help"


def _wherever(typed: list[str]) -> tuple[list[str], set[str]]:
    """The command's own words, and the flags that may stand anywhere; --ledger before the command
    is the command's own."""
    end = typed.index("--") if "--" in typed else len(typed)
    words = [word for word in typed[:end] if word != "--no-pager"]
    before: list[str] = []
    while words and words[0].partition("=")[0] == "--ledger":
        many = 1 if "=" in words[0] else 2
        before, words = [*before, *words[:many]], words[many:]
    return [*words, *before, *typed[end:]], {"--no-pager"} & set(typed[:end])


def _refuse_dots(arguments: list[str]) -> None:
    """UsageError where a hint was pasted as it stands: what is recorded is never changed."""
    for argument in arguments:
        if argument.partition("=")[2].startswith(("...", '"...')) or argument.startswith("..."):
            raise UsageError(
                f"{argument}: the three dots stand for what only you know",
                hint="write it in their place",
            )


def _complain(text: str) -> None:
    from buildlog.report.lines import clean

    terminal.show(clean(text), err=True)
