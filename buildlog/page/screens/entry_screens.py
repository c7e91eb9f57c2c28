"""The doors as sheets: the button of the start link, the pairing code, the owner's devices."""

from __future__ import annotations

import datetime as dt
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from buildlog.page.asked import RIGHTS
from buildlog.page.drawing.say import counted, sentence
from buildlog.page.drawing.templating import drawn

if TYPE_CHECKING:
    from buildlog.page.asked import Asked

_MEANT = {
    "read": "sees everything but prices",
    "write": "answers lists, writes and records",
    "approve": "approves what was recorded, too",
    "owner": "everything: prices, links, devices",
}


def enter_page(asked: Asked) -> str:
    """The start link's page: a button, because a preview that only looks must spend nothing."""
    said = "This link opens the page on this computer, once."
    lead, key = "Press the button to begin.", asked.query.get("key", "")
    return drawn("enter", asked, said=said, lead=lead, key=key, title="Enter · buildlog")


def pair_page(asked: Asked, onward: str = "/", *, waits: bool = False, there: bool = False) -> str:
    """A device shows its code, or `waits` for the owner's word. `onward` is where it goes on to;
    `there` says that what was asked for is a sheet, which this page stands in the place of."""
    if asked.person or asked.token:
        return drawn("person", asked, said="Who is at this device?", title="Person · buildlog")
    said, lead = "This device is not paired yet.", "Type the code that the shop’s computer shows."
    if waits:
        said, lead = "Now the owner has to say yes on the computer.", "Then press Continue."
    return drawn("pair", asked, said=said, lead=lead, waits=waits, onward=onward,
                 there=there,
                 title="Pair · buildlog")  # fmt: skip


def devices_page(
    asked: Asked,
    devices: Sequence[dict[str, Any]],
    offers: Sequence[dict[str, Any]],
    code: tuple[str, str] | None = None,
) -> str:
    """Every device with its end, who asks to join, and the form of a new code."""
    asking = [one for one in offers if one["waiting"]]
    return drawn(
        "devices", asked, said=_sentence(len(devices), len(asking)), title="Devices · buildlog",
        devices=[one | {"state": _state(one), "why": _why(one)} for one in devices],
        asking=[one | {"wish": _wish(one)} for one in asking], code=code,
        rights=[(right, f"{right}: {_MEANT[right]}") for right in RIGHTS],
    )  # fmt: skip


def _sentence(devices: int, asking: int) -> str:
    told = counted(devices, "device is paired", "devices are paired")
    more = f"; {counted(asking, 'asks', 'ask')} to join" if asking else ""
    return sentence(f"{told}{more}")


def _wish(one: dict[str, Any]) -> str:
    who = f" as {one['person']}" if one["person"] else ""
    return f"“{one['name']}” asks to join{who}, to {one['right']}."


def _state(one: dict[str, Any]) -> str:
    return f"{one['right']}{', ' + one['person'] if one['person'] else ''}"


def _why(one: dict[str, Any]) -> str:
    ends = f"ends {_when(one['ends'])} if not used" if one["ends"] else "stays paired"
    shared = f"; short codes of {', '.join(one['codes'])}" if one["codes"] else ""
    return f"last used {_when(one['last'])}; {ends}{shared}"


def _when(at: float) -> str:
    return f"{dt.datetime.fromtimestamp(at):%d\u00a0%B, %H:%M}".lstrip("0")
