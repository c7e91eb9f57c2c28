"""`buildlog attach`: copy files beside the car's history, photos without what they give away."""

from __future__ import annotations

from pathlib import Path

import click

from buildlog.cli.common import AnswerForm, json_form, open_ledger

FILE = click.Path(path_type=Path, exists=True, dir_okay=False)


@click.command()
@click.argument("files", metavar="FILE...", nargs=-1, required=True, type=FILE)
@click.option("--folder", default="", help="A folder below attachments: invoices, photos.")
@click.option("--cover", is_flag=True, help="A photo for the booklet's first page.")
@click.option("--caption", help="What one photo shows; its copy is named by these words.")
@json_form
def command(
    form: AnswerForm, files: tuple[Path, ...], folder: str, cover: bool, caption: str | None
) -> None:
    """Copy calibration files, photos, scans into attachments/, to be recorded next.

    \b
    buildlog attach T26-005.bin photos/manifold.jpg
    buildlog attach IMG_0412.jpg --caption "header flange, gap at port 3"

    A photo's copy leaves out where it was taken, by which camera and by whom; the digest of
    the original stays in it. The original is not touched.
    """
    from buildlog.desk.acts.attachments import attach
    from buildlog.report.as_json.acts_json import attached_json
    from buildlog.report.as_text.acts_text import attached_lines

    with open_ledger(form.ledger) as ledger:
        done = attach(ledger, files, folder, cover=cover, caption=caption)
    form.answer("attach", done, attached_json, attached_lines)
