"""`buildlog attach`: copy files beside the car's history, photos without what they give away."""

from __future__ import annotations

from pathlib import Path

import click

from buildlog.cli.common import json_option, ledger_option, open_ledger, say, say_json


@click.command()
@click.argument("files", metavar="FILE...", nargs=-1, required=True,
                type=click.Path(path_type=Path, exists=True, dir_okay=False))  # fmt: skip
@click.option("--folder", default="", help="A folder below attachments: invoices, photos.")
@ledger_option
@json_option
def command(
    files: tuple[Path, ...], folder: str, ledger_folder: Path | None, as_json: bool
) -> None:
    """Copy calibration files, photos, scans into attachments/, to be recorded next.

    \b
    buildlog attach T26-005.bin photos/manifold.jpg

    A photo's copy leaves out where it was taken, by which camera and by whom; the digest of
    the original stays in it. The original is not touched.
    """
    from buildlog.errors import InvalidInput
    from buildlog.store.exchange import photo

    done = []
    with open_ledger(ledger_folder) as ledger:
        for file in files:
            data = file.read_bytes()
            removed: tuple[str, ...] = ()
            if photo.is_photo(data):
                copy = photo.strip(data)
                data, removed = copy.data, copy.removed
            elif photo.tells_place(data):
                raise InvalidInput(
                    "this picture tells where it was taken, and can only be cleaned as a JPEG",
                    where=str(file),
                    hint="save it as a JPEG and attach that",
                )
            name = "/".join(part for part in ("attachments", folder.strip("/"), file.name) if part)
            if (ledger.folder / name).exists():
                raise InvalidInput(f"{name} is there already", hint="rename the file")
            ledger.write_working(name, data)
            done.append({"path": name, "left_out": list(removed)})
    if as_json:
        say_json("attach", {"files": done})
        return
    for one in done:
        left_out = f" (left out: {', '.join(one['left_out'])})" if one["left_out"] else ""
        say(f"copied to {one['path']}{left_out}")
    say('next: buildlog record -m "..."')
