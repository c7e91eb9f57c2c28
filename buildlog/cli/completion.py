"""`buildlog completion`: the completion script of a shell."""

from __future__ import annotations

import click

_PLACES = {
    "bash": "~/.local/share/bash-completion/completions/buildlog",
    "zsh": "a folder in $fpath, as _buildlog",
    "fish": "~/.config/fish/completions/buildlog.fish",
}


@click.command()
@click.argument("shell", type=click.Choice([*_PLACES]))
def command(shell: str) -> None:
    """Print the completion script; where to put it is said on the error output.

    \b
    buildlog completion bash
    """
    from click.shell_completion import get_completion_class

    from buildlog.cli.main import cli
    from buildlog.errors import NotFound

    found = get_completion_class(shell)
    if found is None:
        raise NotFound(f"this program cannot complete for {shell}")
    click.echo(found(cli, {}, "buildlog", "_BUILDLOG_COMPLETE").source())
    click.echo(f"put it in {_PLACES[shell]}", err=True)
