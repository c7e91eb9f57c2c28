"""The application: each request through the decision table, then to a screen, an act or a door."""

from __future__ import annotations

import hmac
import re
from collections.abc import MutableMapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any
from urllib.parse import parse_qsl

from anyio import CapacityLimiter, to_thread
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.formparsers import MultiPartException
from starlette.requests import Request
from starlette.responses import Response

from buildlog.errors import (
    BuildlogError,
    ChangedUnderYou,
    DiskError,
    InvalidInput,
    NotFound,
    UsageError,
    kind_and_place,
)
from buildlog.page.acts import ACTS, UNDOABLE, act, undo_words
from buildlog.page.acts.for_the_customer import sheet
from buildlog.page.asked import RIGHTS, Asked, Question, Right, Undo
from buildlog.page.came_of import ActAnswer, hint_here
from buildlog.page.cars import Cars
from buildlog.page.customer_links import CustomerLinks
from buildlog.page.screens import SCREENS, error_screen, screen
from buildlog.page.sent import Sent
from buildlog.page.server import act_log, answers_sent, form_reading
from buildlog.page.server.addresses import Address, may_be_kept, place_of
from buildlog.page.server.body_limits import Receive, Send
from buildlog.page.server.doors import OWNERS, PUBLIC, Doors
from buildlog.page.server.gatekeeper import TOKEN_HEADER, Knock, Refusal, refused
from buildlog.page.server.paired_devices import Device, Devices, form_token

_ACTS_AT_ONCE = 6  # each opens its ledger, and a process may open only so many files
_STATUS = {"question": 409, "refused": 422}


@dataclass
class Served:
    """What is served: the cars, who may, under which names, and where uploads lie meanwhile."""

    cars: Cars
    devices: Devices
    hosts: frozenset[str]
    spool: Path
    links: CustomerLinks
    secure: bool = False
    authority: Path | None = None  # the certificate that phones install, where there is one
    tell: act_log.Tell = act_log.to_terminal
    said: dict[str, str] = field(default_factory=dict)  # by device: what its last act said
    last: dict[str, Undo] = field(default_factory=dict)  # by device: its last act, to be undone

    @property
    def cookie(self) -> str:
        """The session cookie's name; over https a browser binds `__Host-` to this name alone."""
        return "__Host-buildlog" if self.secure else "buildlog"


class PageApp:
    """An ASGI application."""

    def __init__(self, served: Served) -> None:
        self._of = served
        self._doors = Doors(served.devices)
        self._acting = CapacityLimiter(_ACTS_AT_ONCE)

    async def __call__(self, scope: MutableMapping[str, Any], receive: Receive, send: Send) -> None:
        request = Request(scope, receive)
        knock = _knock(scope)
        found = refused(knock, self._of.hosts, self._of.cookie)
        answer = _refusal(found) if found else await self._answered(request, knock)
        await answer(scope, receive, send)

    async def _answered(self, request: Request, knock: Knock) -> Response:
        place = place_of(knock.path)
        device, secret = await run_in_threadpool(self._who, knock)
        asked = self._asked(request, knock, place, device, secret)
        if place.kind == "static":
            known = request.headers.get("if-none-match", "")
            return await run_in_threadpool(answers_sent.static, place.key, known)
        if place.kind == "link":
            return await run_in_threadpool(self._link, knock, asked)
        if place.key in PUBLIC:
            return await self._door_before(request, asked, place)
        if device is None:
            return await run_in_threadpool(self._doors.not_in, asked, _shows(knock, place))
        if knock.method == "POST":
            return await self._posted(request, knock, asked, place, device, secret)
        if place.kind == "act":
            return answers_sent.plain("There is no such place.", 404)
        return await run_in_threadpool(self._shown, asked, place, device)

    # who asks

    def _who(self, knock: Knock) -> tuple[Device | None, str]:
        secret = next(iter(knock.cookies(self._of.cookie)), "")
        return (self._of.devices.of(secret) if secret else None), secret

    def _asked(
        self, request: Request, knock: Knock, place: Address, device: Device | None, secret: str
    ) -> Asked:
        told = self._of.said.pop(device.id, None) if device and _shows(knock, place) else None
        undo = self._of.last.get(device.id) if device else None
        return Asked(
            self._of.cars, knock.path, place.slug, place.name, dict(request.query_params),
            device.person if device else None, device.right if device else "read",
            form_token(secret) if device else "", told=told,
            undo=undo, links=self._of.links, origin=f"{knock.scheme}://{knock.one(b'host')}",
        )  # fmt: skip

    # doors

    async def _door_before(self, request: Request, asked: Asked, place: Address) -> Response:
        if place.key == "/favicon.ico":
            return Response(b"", 204, answers_sent.HEADERS)
        if place.key == "/authority.crt":
            return self._authority()
        if place.key == "/worker.js":
            return self._worker(request.headers.get("if-none-match", ""))
        if request.method != "POST":
            show = self._doors.enter if place.key == "/enter" else self._doors.knock
            return await run_in_threadpool(show, asked)
        async with form_reading.read(request, self._of.spool) as sent:
            if place.key == "/enter":
                answer, secret = await run_in_threadpool(self._doors.spend, asked, sent)
            else:
                address = request.client.host if request.client else ""
                answer, secret = await run_in_threadpool(
                    self._doors.show_code, asked, sent, address
                )
        if secret:
            self._seal(answer, secret)
        return answer

    def _link(self, knock: Knock, asked: Asked) -> Response:
        """A customer's sheet on a screen in the shop; whoever has the words sees it alone."""
        found = self._of.links.of(asked.name or "") if knock.method != "POST" else None
        if found is None:
            return answers_sent.plain("There is no such place, or it has ended.", 404)
        try:
            book = self._of.cars.open(self._of.cars.place(found.slug))
            return answers_sent.shown_to_customer(sheet(book, found.stage, found.photos))
        except BuildlogError:
            return answers_sent.plain("This cannot be shown at this moment.", 503)

    def _authority(self) -> Response:
        """The certificate that a phone installs once; it says nothing that is secret."""
        if self._of.authority is None:
            return answers_sent.plain("There is no such place.", 404)
        data = self._of.authority.read_bytes()
        return answers_sent.kept_file("authority.crt", data, "application/x-x509-ca-cert")

    def _worker(self, known: str) -> Response:
        """What keeps visited pages in a phone: over https alone, where a browser lets it."""
        if not self._of.secure:
            return answers_sent.plain("There is no such place.", 404)
        return answers_sent.static("worker.js", known)

    def _seal(self, answer: Response, secret: str) -> None:
        answer.set_cookie(
            self._of.cookie, secret, max_age=400 * 86400, path="/", secure=self._of.secure,
            httponly=True, samesite="strict",
        )  # fmt: skip

    # screens

    def _shown(self, asked: Asked, place: Address, device: Device) -> Response:
        try:
            if place.kind == "door":
                return self._own_door(asked, place, device)
            if place.kind == "state":
                head, digest = self._of.cars.state(asked.place)
                return answers_sent.as_json({"head": head, "digest": digest})
            if place.kind == "file":
                return _photo(asked)
            return self._screen(asked, place)
        except Exception as error:
            return self._wrong(asked, error)

    def _own_door(self, asked: Asked, place: Address, device: Device) -> Response:
        if place.key == OWNERS and asked.may("owner"):
            return self._doors.list_(asked)
        if place.key == "/person":
            return self._doors.knock(asked)
        raise NotFound("there is no such place", hint="go to the first page")

    def _screen(self, asked: Asked, place: Address, status: int = 200) -> Response:
        if place.key == "/" and asked.cars.alone:
            return answers_sent.going_to(self._home())
        if place.key not in SCREENS:
            raise NotFound("there is no such place", hint="go to the first page")
        module, right = SCREENS[place.key]
        if not asked.may(_right(right)):
            return self._wrong(asked, InvalidInput("this device may not see this"), 403)
        keep = self._of.secure and status == 200 and may_be_kept(place)
        headers = {answers_sent.KEEP: "pages"} if keep else {}
        return answers_sent.html(screen(module)(asked), status, headers)

    def _wrong(self, asked: Asked, error: Exception, status: int | None = None) -> Response:
        """The screen that says what is wrong; nobody is shown a traceback."""
        if not isinstance(error, BuildlogError):
            self._of.tell(f"{asked.path.split('/')[1:2]}: {kind_and_place(error)}")
            error = BuildlogError(
                "the page itself failed; nothing was written",
                hint="what was done stands in the terminal where serve runs",
            )
        found = status or next((s for kind, s in _STATUSES if isinstance(error, kind)), 500)
        try:
            return answers_sent.html(error_screen.page(asked, found, error), found)
        except BuildlogError:  # the car's own name cannot be read: said without it
            away = replace(asked, slug=None)
            return answers_sent.html(error_screen.page(away, found, error), found)

    # acts

    async def _posted(
        self,
        request: Request,
        knock: Knock,
        asked: Asked,
        place: Address,
        device: Device,
        secret: str,
    ) -> Response:
        try:
            async with form_reading.read(request, self._of.spool) as sent:
                if not _has_token(knock, sent, secret):
                    return await run_in_threadpool(self._stale, asked, sent)
                return await to_thread.run_sync(
                    self._act, asked, place, device, sent, knock, limiter=self._acting
                )
        except (InvalidInput, MultiPartException, HTTPException):
            return answers_sent.plain("This form cannot be read.", 400)

    def _stale(self, asked: Asked, sent: Sent) -> Response:
        """A form of an older session comes back as it was filled in, to be sent again."""
        typed = replace(
            asked, typed=sent.typed, wrong="This page was old: look, and send it again."
        )
        shown = self._where_it_stood(typed, sent)
        try:
            return self._screen(shown, place_of(shown.path), 403)
        except Exception as error:
            return self._wrong(asked, error, 403)

    def _act(
        self, asked: Asked, place: Address, device: Device, sent: Sent, knock: Knock
    ) -> Response:
        if place.kind == "door":
            return self._door_act(asked, place, device, sent)
        if place.kind != "act" or place.key not in ACTS:
            return answers_sent.plain("There is no such place.", 404)
        if not asked.may(_right(ACTS[place.key][2])):
            return answers_sent.plain("This device may not do this.", 403)
        asked = _at(asked, asked.path)
        try:
            done = act(place.key)(asked, sent)
        except (InvalidInput, NotFound, UsageError) as error:
            done = ActAnswer("refused", error.what, error.hint)
        except Exception as error:
            self._of.tell(act_log.line(asked.person, asked.slug, place.key, "failed"))
            return self._failed(asked, error, _wants_json(knock))
        self._of.tell(act_log.line(asked.person, asked.slug, place.key, done.word))
        self._remember(device, place.key, done, sent)
        if _wants_json(knock):
            return self._as_json(asked, done, sent)
        return self._as_page(asked, done, sent, device)

    def _remember(self, device: Device, kind: str, done: ActAnswer, sent: Sent) -> None:
        """Keep what can be undone; what was recorded or undone cannot be."""
        if done.word == "done" and kind in UNDOABLE:
            self._of.last[device.id] = Undo(sent.one("act"), undo_words(kind, sent.one("what")))
        elif done.stands:
            self._of.last.pop(device.id, None)

    def _door_act(self, asked: Asked, place: Address, device: Device, sent: Sent) -> Response:
        if place.key == "/person":
            return self._doors.switch(asked, sent, device)
        if place.key == "/leave":
            self._of.devices.remove(device.id)
            answer = answers_sent.going_to("/pair")
            answer.delete_cookie(self._of.cookie, path="/")
            return answer
        if place.key.startswith(f"{OWNERS}/"):
            if not asked.may("owner"):
                return answers_sent.plain("This device may not do this.", 403)
            self._of.tell(act_log.line(asked.person, None, place.key.strip("/"), "done"))
            return self._doors.act(asked, sent)
        return answers_sent.plain("There is no such place.", 404)

    def _failed(self, asked: Asked, error: Exception, as_json: bool) -> Response:
        """What was not an outcome: the client keeps the act and sends it again."""
        if not as_json:
            return self._wrong(asked, error)
        known = isinstance(error, BuildlogError)
        status = next((s for kind, s in _STATUSES if isinstance(error, kind)), 500)
        said = error.what if isinstance(error, BuildlogError) else "the page itself failed"
        if not known:
            self._of.tell(kind_and_place(error))
        return answers_sent.as_json({"done": False, "word": "failed", "said": said}, status)

    def _as_json(self, asked: Asked, done: ActAnswer, sent: Sent) -> Response:
        head, digest = self._of.cars.state(asked.place) if asked.slug else ("", "")
        body: dict[str, object] = {
            "done": done.stands, "word": done.word, "said": done.said, "again": done.again,
            "hint": hint_here(done.hint) or None,
            "act": sent.one("act"), "head": head, "digest": digest,
        }  # fmt: skip
        if done.word == "question":
            body["question"] = {"what": done.what, "old": done.old, "now": done.now}
        return answers_sent.as_json(body, _STATUS.get(done.word, 200))

    def _as_page(self, asked: Asked, done: ActAnswer, sent: Sent, device: Device) -> Response:
        if done.file:
            return answers_sent.kept_file(*done.file)
        if done.stands:
            self._of.said[device.id] = done.said
            return answers_sent.going_to(done.path or self._ours(sent.one("back")))
        wrong = _sentences(done.said, hint_here(done.hint)) if done.word == "refused" else None
        kind = asked.path.rpartition("/")[2]
        asking = Question(done.what, done.old, done.now, done.said, kind)
        shown = replace(
            self._where_it_stood(asked, sent), typed=sent.typed, wrong=wrong,
            question=asking if done.word == "question" else None,
        )  # fmt: skip
        try:
            return self._screen(shown, place_of(shown.path), _STATUS[done.word])
        except Exception as error:
            return self._wrong(asked, error)

    def _where_it_stood(self, asked: Asked, sent: Sent) -> Asked:
        """The sheet of a form that comes back, with what was asked for there."""
        path, _, query = (sent.one("here") or sent.one("back")).partition("?")
        return replace(_at(asked, self._ours(path)), query=dict(parse_qsl(query)))

    def _ours(self, wanted: str) -> str:
        """A place of ours, whatever was sent."""
        path = wanted.partition("?")[0]
        plain = path.startswith("/") and not any(bad in path for bad in ("//", "\\", "..", "%"))
        found = path if plain and path.isprintable() and path.isascii() else "/"
        return self._home() if found == "/" else found

    def _home(self) -> str:
        """The first sheet: the shop's, or the only car's."""
        cars = self._of.cars
        return f"/car/{next(iter(cars.places()))}/" if cars.alone else "/"


_STATUSES: tuple[tuple[type[Exception], int], ...] = (
    (NotFound, 404), (UsageError, 422), (InvalidInput, 422), (ChangedUnderYou, 503),
    (DiskError, 507),
)  # fmt: skip


def _knock(scope: MutableMapping[str, Any]) -> Knock:
    target = scope.get("raw_path") or scope["path"].encode("utf-8", "replace")
    return Knock(scope["method"], target, tuple(scope["headers"]), scope["scheme"])


def _refusal(found: Refusal) -> Response:
    return answers_sent.plain(found.said, found.status)


def _shows(knock: Knock, place: Address) -> bool:
    return knock.method == "GET" and place.kind == "screen"


def _has_token(knock: Knock, sent: Sent, secret: str) -> bool:
    given = knock.one(TOKEN_HEADER) or sent.one("token")
    return hmac.compare_digest(given.encode(), form_token(secret).encode())


def _wants_json(knock: Knock) -> bool:
    return "application/json" in knock.one(b"accept")


def _right(name: str) -> Right:
    return next(one for one in RIGHTS if one == name)


def _sentences(*texts: str) -> str:
    """As sentences; what begins with the name of a file keeps its small letter."""
    named = re.compile(r"\S*[\d._/]")
    told = (one if named.match(one) else f"{one[:1].upper()}{one[1:]}" for one in texts if one)
    return " ".join(f"{one.rstrip('.')}." for one in told)


def _at(asked: Asked, path: str) -> Asked:
    """The same who asks, at another place."""
    place = place_of(path)
    return replace(asked, path=path, slug=place.slug, name=place.name)


def _photo(asked: Asked) -> Response:
    """A photo of the working files, by a path that is among them: none from outside is opened."""
    kinds = {"jpg": "image/jpeg", "jpeg": "image/jpeg", "png": "image/png"}
    path = f"attachments/{asked.name or ''}"
    kind = kinds.get(path.rpartition(".")[2].casefold())
    data = asked.cars.attachment(asked.place, path) if kind else None
    if kind is None or data is None:
        raise NotFound("there is no such photo")
    return answers_sent.picture(data, kind)
