"""The frames before anything is shown: the start link's button, a device that asks to join, the
devices that may."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from buildlog.page.screens.say import capital, counted
from buildlog.page.screens.templating import drawn

if TYPE_CHECKING:
    from buildlog.page.asked import Asked

_RIGHTS = (("read", "read"), ("write", "write"), ("approve", "approve"), ("owner", "owner"))


def enter_page(asked: Asked) -> str:
    """One button, so that a preview of the link spends nothing."""
    return drawn(
        "enter", asked, said="This link opens the page on this computer, once.",
        lead="Press the button to begin.", key=asked.query.get("key", ""), title="Enter · buildlog",
    )  # fmt: skip


def pair_page(asked: Asked) -> str:
    """A device types the code that it was given."""
    return drawn("pair", asked, said="This device is not paired yet.", title="Pair · buildlog",
                 lead="Type the eight letters that the shop’s computer shows.")  # fmt: skip


def devices_page(asked: Asked, devices: Sequence[Any]) -> str:
    """Every device with who uses it and what it may, and the form for a new one."""
    said = f"{capital(counted(len(devices), 'device', 'devices'))} may use the page."
    return drawn("devices", asked, said=said, devices=devices, rights=_RIGHTS,
                 title="Devices · buildlog")  # fmt: skip
