"""`python -m buildlog` is the same as the `buildlog` command."""

from buildlog.cli.main import run

run()
