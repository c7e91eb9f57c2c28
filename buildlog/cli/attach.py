"""`buildlog attach`: copy files beside the car's history, photos without what they give away."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from buildlog.cli.common import AnswerForm, json_form, open_ledger

FILE = click.Path(path_type=Path, exists=True, dir_okay=False)


@click.command()
@click.argument("files", metavar="FILE...", nargs=-1, required=True, type=FILE)
@click.option("--folder", default="", help="A folder below attachments: invoices, photos.")
@click.option("--cover", is_flag=True, help="A photo for the booklet's first page.")
@click.option("--caption", help="What one photo shows; its copy is named by these words.")
@click.option("--outside", is_flag=True, help="Keep it outside the ledger: by digest and size.")
@click.option("--personal", is_flag=True, help="The same; shows a person or a license plate.")
@click.option("--note", help="For a file outside: what it is; nothing about persons.")
@json_form
def command(
    form: AnswerForm, files: tuple[Path, ...], folder: str, outside: bool, personal: bool,
    note: str | None, **said: Any,
) -> None:  # fmt: skip
    """Copy calibration files, photos, scans into attachments/, to be recorded next.

    \b
    buildlog attach T26-005.bin photos/manifold.jpg
    buildlog attach IMG_0412.jpg --caption "header flange, gap at port 3"
    buildlog attach --outside walk-round.mp4

    A photo's copy leaves out where it was taken, by which camera and by whom; the digest of
    the original stays in it. The original is not touched.

    A film, or a file of more than 25 MB, can be kept outside: the ledger holds its digest and size.
    What shows a person is --personal: it never leaves, and buildlog redact can delete it later.
    """
    from buildlog.desk.acts.attachments import attach
    from buildlog.desk.acts.kept_outside import keep_outside
    from buildlog.errors import UsageError
    from buildlog.report.as_json.acts_json import attached_json
    from buildlog.report.as_text.acts_text import attached_lines

    with open_ledger(form.ledger) as ledger:
        if not (outside or personal):
            done = attach(ledger, files, folder, **said)
        elif any(said.values()):
            raise UsageError("a cover or a caption is for the booklet: it cannot be kept outside")
        else:
            done = keep_outside(ledger, files, folder, personal=personal, note=note)
    form.answer("attach", done, attached_json, attached_lines)
