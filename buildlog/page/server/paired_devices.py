"""Who is let in: devices with their person and right, codes to pair them, and wrong tries.

A device's cookie is a secret that only its browser holds; here lie digests. A removal counts at
the next request, because every request looks its device up.
"""

from __future__ import annotations

import hashlib
import hmac
import json
import secrets
import threading
import time
from collections.abc import Callable
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path

from buildlog.desk.snapshot import state_files
from buildlog.errors import InvalidInput, NotFound
from buildlog.page.asked import RIGHTS, Right

LETTERS = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"  # 32, none of which reads as another
CODE_LENGTH, CODE_SECONDS = 8, 300.0
HOURS_HTTP, HOURS_HTTPS = 12.0, 90 * 24.0  # from last use
FREE_TRIES, FIRST_WAIT, LONGEST_WAIT = 5, 2.0, 60.0
_NOTED = 60.0  # seconds between two notes of last use
Clock = Callable[[], float]


@dataclass(frozen=True)
class Device:
    """A browser that was let in."""

    id: str
    name: str
    person: str | None
    right: Right
    secret: str  # digest
    since: float
    last: float
    exempt: bool = False
    codes: dict[str, str] = field(default_factory=dict)  # digest of a short code -> person

    def ends(self, hours: float) -> float | None:
        """When it ends if it is not used; None for a tablet that the owner exempted."""
        return None if self.exempt else self.last + hours * 3600


@dataclass(frozen=True)
class Offer:
    """A code: whom it will let in, and who has shown it and waits for the owner's word."""

    id: str
    name: str
    person: str | None
    right: Right
    code: str  # digest
    until: float
    waiting: str = ""  # digest of the secret of the browser that showed the code
    let_in: bool = False


class Tries:
    """Wrong tries by address: after five each next one waits, twice as long every time.

    They burn nobody's code, and whoever tries from elsewhere does not wait.
    """

    def __init__(self, clock: Clock = time.monotonic) -> None:
        self._clock, self._lock = clock, threading.Lock()
        self._wrong: dict[str, tuple[int, float]] = {}

    def wait(self, address: str) -> float:
        """Seconds until this address may try again."""
        with self._lock:
            return max(0.0, self._wrong.get(address, (0, 0.0))[1] - self._clock())

    def wrong(self, address: str) -> None:
        with self._lock:
            count = self._wrong.get(address, (0, 0.0))[0] + 1
            over = count - FREE_TRIES
            pause = min(LONGEST_WAIT, FIRST_WAIT * 2**over) if over >= 0 else 0.0
            self._wrong[address] = count, self._clock() + pause

    def right(self, address: str) -> None:
        with self._lock:
            self._wrong.pop(address, None)


class Devices:
    """The devices of one served folder, kept in a file of this computer alone."""

    def __init__(self, place: Path, hours: float = HOURS_HTTP, clock: Clock = time.time) -> None:
        self._place, self._hours, self._clock = place, hours, clock
        self._lock = threading.RLock()
        self._devices = {one.id: one for one in _read(place)}
        self._offers: dict[str, Offer] = {}
        self._start: str | None = None
        self.tries = Tries()

    # the start link

    def start_key(self) -> str:
        """The key of a new one-use link; an older one does not count any more."""
        key = secrets.token_urlsafe(24)
        with self._lock:
            self._start = digest(key)
        return key

    def enter(self, key: str, name: str) -> str | None:
        """Spend the key: the secret of a new device with every right; None if it is not the key."""
        with self._lock:
            if self._start is None or not hmac.compare_digest(self._start, digest(key)):
                return None
            self._start = None
            return self._add(name, None, "owner")

    # devices

    def of(self, secret: str) -> Device | None:
        """The device with this secret, if it is in and has not ended; it is used now."""
        wanted, now = digest(secret), self._clock()
        with self._lock:
            found = next((one for one in self._devices.values()
                          if hmac.compare_digest(one.secret, wanted)), None)  # fmt: skip
            if found is None:
                return None
            ends = found.ends(self._hours)
            if ends is not None and now > ends:
                return None
            if now - found.last > _NOTED:
                found = self._keep(replace(found, last=now))
            return found

    def all(self) -> list[Device]:
        with self._lock:
            return sorted(self._devices.values(), key=lambda one: one.since)

    def ends(self, device: Device) -> float | None:
        """When a device ends if it is not used."""
        return device.ends(self._hours)

    def remove(self, device: str) -> None:
        with self._lock:
            self._one(device)
            del self._devices[device]
            self._write()

    def exempt(self, device: str) -> None:
        """Let a wall tablet stay in without end, or no longer."""
        with self._lock:
            one = self._one(device)
            self._keep(replace(one, exempt=not one.exempt))

    def short_code(self, device: str, person: str, code: str) -> None:
        """A person's short code on a shared device; an empty one takes it away."""
        with self._lock:
            one = self._one(device)
            codes = {known: whose for known, whose in one.codes.items() if whose != person}
            if code:
                if not (4 <= len(code) <= 12 and code.isalnum()):
                    raise InvalidInput("a short code has 4 to 12 letters or digits")
                codes[digest(f"{device} {code}")] = person
            self._keep(replace(one, codes=codes))

    def switch(self, device: str, code: str) -> str | None:
        """The person of a short code takes over the device; None where nobody has this code."""
        with self._lock:
            one = self._one(device)
            person = one.codes.get(digest(f"{device} {code}"))
            if person is not None:
                self._keep(replace(one, person=person))
            return person

    # pairing

    def offer(self, name: str, person: str | None, right: str) -> tuple[Offer, str]:
        """A code for a device whose person and right are said already; the code is shown once."""
        if right not in RIGHTS:
            raise InvalidInput(f'"{right}" is no right', hint=", ".join(RIGHTS))
        code = "".join(secrets.choice(LETTERS) for _ in range(CODE_LENGTH))
        one = Offer(
            secrets.token_hex(8), name, person, right, digest(code), self._clock() + CODE_SECONDS
        )
        with self._lock:
            self._offers[one.id] = one
        return one, code

    def show_code(self, code: str, address: str) -> str | None:
        """A browser shows a code: the secret it will be known by once the owner lets it in."""
        wanted = digest(code.strip().upper().replace(" ", "").replace("-", ""))
        with self._lock:
            hits = [one for one in self.offers() if not one.waiting
                    and hmac.compare_digest(one.code, wanted)]  # fmt: skip
            if not hits:
                self.tries.wrong(address)
                return None
            self.tries.right(address)
            secret = secrets.token_urlsafe(32)
            self._offers[hits[0].id] = replace(hits[0], waiting=digest(secret))
            return secret

    def offers(self) -> list[Offer]:
        """The codes that still count."""
        with self._lock:
            now = self._clock()
            self._offers = {key: one for key, one in self._offers.items() if one.until > now}
            return list(self._offers.values())

    def decide(self, offer: str, let_in: bool) -> None:
        """The owner's word about who has shown a code."""
        with self._lock:
            one = self._offers.pop(offer, None)
            if one is None or not one.waiting:
                raise NotFound("nobody waits with this code", hint="make a new one")
            if let_in:
                self._put(one.name, one.person, one.right, one.waiting)

    # inside

    def _one(self, device: str) -> Device:
        found = self._devices.get(device)
        if found is None:
            raise NotFound("there is no such device", hint="look at the list again")
        return found

    def _add(self, name: str, person: str | None, right: Right) -> str:
        secret = secrets.token_urlsafe(32)
        self._put(name, person, right, digest(secret))
        return secret

    def _put(self, name: str, person: str | None, right: Right, secret: str) -> None:
        now = self._clock()
        self._keep(Device(secrets.token_hex(8), name, person, right, secret, now, now))

    def _keep(self, device: Device) -> Device:
        self._devices[device.id] = device
        self._write()
        return device

    def _write(self) -> None:
        now = self._clock()
        told = [asdict(one) for one in self._devices.values()
                if (ends := one.ends(self._hours)) is None or ends > now]  # fmt: skip
        state_files.write(self._place, json.dumps({"devices": told}, indent=1).encode())


def digest(secret: str) -> str:
    """What is kept of a secret."""
    return hashlib.sha256(secret.encode("utf-8", "replace")).hexdigest()


def form_token(secret: str) -> str:
    """What every form of a session sends back; it follows from the cookie, which no page reads."""
    return hmac.new(secret.encode(), b"form", hashlib.sha256).hexdigest()


def _read(place: Path) -> list[Device]:
    data = state_files.read(place)
    if data is None:
        return []
    try:
        return [Device(**one) for one in json.loads(data)["devices"]]
    except (ValueError, TypeError, KeyError):
        return []  # torn or of another version: every device is paired anew
