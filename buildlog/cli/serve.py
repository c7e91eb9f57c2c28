"""`buildlog serve`: the page for this computer's browser and the workshop's phones."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from buildlog.cli.common import PATH, say, say_json

if TYPE_CHECKING:
    from buildlog.page.server.serving import Serving


@click.command()
@click.argument("folder", metavar="[DIR]", default=".", type=PATH)
@click.option("--lan", is_flag=True, help="Let the workshop's devices in, once they are paired.")
@click.option("--port", type=click.IntRange(1024, 65535), help="The port, always the same.")
@click.option("--open", "opened", is_flag=True, help="Open this computer's browser.")
@click.option(
    "--make-certificate",
    "https",
    is_flag=True,
    help="Serve https by an authority of this computer, which a phone installs once.",
)
@click.option("--public", is_flag=True, help="Even on an address that the whole world reaches.")
@click.option("--json", "as_json", is_flag=True, help="Print the addresses as one JSON document.")
def command(
    folder: Path,
    lan: bool,
    port: int | None,
    opened: bool,
    https: bool,
    public: bool,
    as_json: bool,
) -> None:
    """Serve the page of a ledger, or of a folder of ledgers, until Ctrl-C.

    \b
    buildlog serve cars --open
    buildlog serve --lan

    What is done on the page is done by the same commands and files as here. Only this computer is
    served without --lan. Plain http in a workshop can be overheard.
    """
    from buildlog.page.server.serving import PORT, ServeSaid, Serving

    serving = Serving(folder, ServeSaid(port or PORT, lan, public, https))
    link = serving.start_link()
    if as_json:
        say_json("serve", serving.facts(link))
    else:
        say(_lines(serving, link))
    if opened:
        click.launch(serving.link_file().as_uri())
    serving.run()
    if not as_json:
        say("stopped; everything that was answered as saved is on the disk")


def _lines(serving: Serving, link: str) -> list[str]:
    from buildlog.report.qr_lines import qr_lines

    lines = [f"Serving {serving.cars.folder}", "", "This computer, once:", f"  {link}"]
    if serving.lan_addresses:
        first = serving.lan_addresses[0]
        lines += ["", "The workshop's devices (pair each from this computer's page):"]
        lines += [f"  {one}" for one in serving.lan_addresses]
        lines += ["", *qr_lines(f"{first}/pair")]
        if not serving.said.https:
            lines.append("Plain http can be overheard by whoever is in this network.")
    if not serving.ipv6:
        lines += ["", "This computer has no IPv6: only its addresses of IPv4 are served."]
    if serving.authority:
        lines += ["", f"A phone installs this once: {serving.authority}"]
    return [*lines, "", "Ctrl-C stops it."]
