"""The doors: the one-use link of the start, pairing, the list of devices, changing the person."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from starlette.responses import Response

from buildlog.errors import BuildlogError, InvalidInput
from buildlog.page.screens import entry_screens
from buildlog.page.server.addresses import car_of
from buildlog.page.server.answers_sent import going_to, html
from buildlog.page.server.paired_devices import Device, Offer

if TYPE_CHECKING:
    from buildlog.page.asked import Asked
    from buildlog.page.sent import Sent
    from buildlog.page.server.paired_devices import Devices

PUBLIC = frozenset({"/enter", "/pair", "/favicon.ico", "/authority.crt", "/worker.js"})
OWNERS = "/devices"


class Doors:
    """What stands before and beside the screens. `seal` puts a secret into a browser's cookie."""

    def __init__(self, devices: Devices) -> None:
        self.devices = devices

    # before somebody is in

    def enter(self, asked: Asked) -> Response:
        """The link's page: one button, because previews fetch links."""
        return html(entry_screens.enter_page(asked))

    def spend(self, asked: Asked, sent: Sent) -> tuple[Response, str | None]:
        """Spend the link: in, or told that it was used."""
        secret = self.devices.enter(sent.one("key"), "the computer itself")
        if secret is None:
            told = replace(asked, wrong="This link was used, or is not of this start.")
            return html(entry_screens.pair_page(told), 403), None
        return going_to("/"), secret

    def knock(self, asked: Asked) -> Response:
        """The pairing page; for who is in already, the page of the short codes."""
        return html(entry_screens.pair_page(asked))

    def not_in(self, asked: Asked, shown: bool) -> Response:
        """The pairing page instead of what was asked for, which it leads on to; a device that is
        let in then goes on to the car. It says nothing of it, not even whether there is one, and
        nothing that was sent comes back but the name of a car."""
        nobody = replace(asked, slug=None, name=None, query={})
        return html(entry_screens.pair_page(nobody, car_of(asked.path), there=shown), 401)

    def show_code(self, asked: Asked, sent: Sent, address: str) -> tuple[Response, str | None]:
        """A code shown by a device, which waits then for the owner's word."""
        onward = car_of(sent.one("onward"))
        pause = self.devices.tries.wait(address)
        if pause > 0:
            told = replace(asked, wrong=f"Too many wrong codes: wait {pause:.0f} s.")
            later = {"Retry-After": f"{pause:.0f}"}
            return html(entry_screens.pair_page(told, onward), 429, later), None
        secret = self.devices.show_code(sent.one("code"), address)
        if secret is None:
            told = replace(asked, wrong="This code is not known, or its five minutes are over.")
            return html(entry_screens.pair_page(told, onward), 403), None
        return html(entry_screens.pair_page(asked, onward, waits=True)), secret

    # the owner's list

    def list_(
        self, asked: Asked, code: tuple[str, str] | None = None, status: int = 200
    ) -> Response:
        """Every device with its end, who waits, and a code that was just made."""
        devices = [_device(self.devices, one) for one in self.devices.all()]
        offers = [_offer(one) for one in self.devices.offers()]
        return html(entry_screens.devices_page(asked, devices, offers, code), status)

    def act(self, asked: Asked, sent: Sent) -> Response:
        """What the owner does with devices; the list again, with what was wrong."""
        kind = asked.path.removeprefix(f"{OWNERS}/")
        try:
            code = self._act(kind, sent)
        except BuildlogError as error:
            return self.list_(replace(asked, wrong=error.what), status=422)
        return self.list_(asked, code) if code else going_to(OWNERS)

    def _act(self, kind: str, sent: Sent) -> tuple[str, str] | None:
        known = self.devices
        if kind == "add":
            name = sent.needed("name", "the device's name")
            offer, code = known.offer(name, sent.given("person"), sent.one("right") or "read")
            return offer.name, code
        if kind in ("let-in", "turn-away"):
            known.decide(sent.one("id"), kind == "let-in")
        elif kind == "remove":
            known.remove(sent.one("id"))
        elif kind == "exempt":
            known.exempt(sent.one("id"))
        elif kind == "code":
            known.short_code(sent.one("id"), sent.needed("person", "who"), sent.one("code"))
        else:
            raise InvalidInput("there is no such act")
        return None

    def switch(self, asked: Asked, sent: Sent, device: Device) -> Response:
        """Another person takes a shared tablet by a short code."""
        at = f"device {device.id}"
        pause = self.devices.tries.wait(at)
        if pause == 0:
            if self.devices.switch(device.id, sent.one("code")):
                self.devices.tries.right(at)
                return going_to("/")
            self.devices.tries.wrong(at)
        said = "Nobody here has this short code." if not pause else f"Wait {pause:.0f} s."
        return html(entry_screens.pair_page(replace(asked, wrong=said)), 403)


def _device(known: Devices, one: Device) -> dict[str, object]:
    return {
        "id": one.id, "name": one.name, "person": one.person, "right": one.right,
        "since": one.since, "last": one.last, "ends": known.ends(one), "exempt": one.exempt,
        "codes": sorted(one.codes.values()),
    }  # fmt: skip


def _offer(one: Offer) -> dict[str, object]:
    return {
        "id": one.id, "name": one.name, "person": one.person, "right": one.right,
        "until": one.until, "waiting": bool(one.waiting),
    }  # fmt: skip
