"""The files that a customer gets: a stage's sheet with the photos that were chosen, a quote."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from buildlog.desk.acts.promises_kept import make_quote
from buildlog.desk.give.customers_file import customers_sheet, with_short_vin
from buildlog.desk.give.plotting import shown_in
from buildlog.desk.give.quoting import write_quotes
from buildlog.desk.snapshot import opening
from buildlog.errors import InvalidInput
from buildlog.page.acts import doing
from buildlog.page.came_of import ActAnswer

if TYPE_CHECKING:
    from buildlog.desk.snapshot.snapshot import Snapshot
    from buildlog.page.asked import Asked
    from buildlog.page.sent import Sent


def sheet(book: Snapshot, stage: str, photos: Sequence[str], prices: bool = False) -> bytes:
    """The sheet as one HTML file; what it was quoted at only with `prices`."""
    with tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "sheet.html"
        customers_sheet(book, stage, photos, out, prices=prices)
        return out.read_bytes()


def shop_link(asked: Asked, sent: Sent) -> ActAnswer:
    """A link to the same for a screen in the shop; its words are said once."""
    until = doing.day(sent, "until")
    if until is None or asked.links is None or asked.slug is None:
        raise InvalidInput("the link has no end", hint="say until which day it counts")
    stage = sent.needed("what", "the stage")
    word = asked.links.make(asked.slug, stage, until, sent.all("photo"))
    return ActAnswer("done", f"until {until}: {asked.origin}/link/{word}")


def customer_file(asked: Asked, sent: Sent) -> ActAnswer:
    """The sheet as a file; nothing is written in the ledger."""
    stage = sent.needed("stage", "the stage")
    data = sheet(asked.car, stage, sent.all("photo"), sent.one("prices") == "yes")
    return ActAnswer("done", f"made: {stage}", file=(f"{asked.slug}-{stage}.html", data))


def quote_file(asked: Asked, sent: Sent) -> ActAnswer:
    """A plan's quote as a file. Its promise is stored the first time and only read after that, so
    that a form sent twice does nothing more."""
    plan = sent.needed("what", "the plan")
    with opening.ledger(asked.place) as ledger, tempfile.TemporaryDirectory() as folder:
        out = Path(folder) / "quote.html"
        quote = make_quote(ledger, plan)
        offer = replace(quote.offer, base=with_short_vin(quote.offer.base))
        told = replace(quote, offer=offer)
        write_quotes([told], [out, None], shown_in(asked.car, None))
        data = out.read_bytes()
    return ActAnswer("done", f"quoted: {plan}", file=(f"{asked.slug}-{plan}.html", data))
