"""Answers with the headers that each has: nothing is cached, framed, guessed or taken elsewhere."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from importlib import resources

from starlette.responses import JSONResponse, Response

POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; "
    "img-src 'self' blob:; connect-src 'self'; worker-src 'self'; form-action 'self'; "
    "frame-ancestors 'none'; base-uri 'none'"
)
# `same-origin` and not `no-referrer`: under that a browser sends `Origin: null` with our own forms.
HEADERS = {
    "Content-Security-Policy": POLICY,
    "Referrer-Policy": "same-origin",
    "X-Content-Type-Options": "nosniff",
    "X-Frame-Options": "DENY",
    "Cross-Origin-Resource-Policy": "same-origin",
    "Cross-Origin-Opener-Policy": "same-origin",
    "Cache-Control": "no-store",
}
KEEP = "X-Buildlog-Keep"  # what the service worker may keep, and with which others
_STATIC = {
    "page.css": ("buildlog.page", "static/page.css", "text/css; charset=utf-8"),
    "page.js": ("buildlog.page", "static/page.js", "text/javascript; charset=utf-8"),
    "worker.js": ("buildlog.page", "static/worker.js", "text/javascript; charset=utf-8"),
    "BuildlogSans-Regular.ttf": (
        "buildlog.report.pictures", "fonts/BuildlogSans-Regular.ttf", "font/ttf",
    ),
    "BuildlogSans-Semibold.ttf": (
        "buildlog.report.pictures", "fonts/BuildlogSans-Semibold.ttf", "font/ttf",
    ),
}  # fmt: skip


def html(text: str, status: int = 200, headers: Mapping[str, str] | None = None) -> Response:
    """A whole document."""
    return Response(text, status, HEADERS | dict(headers or {}), "text/html; charset=utf-8")


def plain(text: str, status: int) -> Response:
    """One sentence."""
    return Response(text + "\n", status, HEADERS, "text/plain; charset=utf-8")


def as_json(body: dict[str, object], status: int = 200) -> Response:
    return JSONResponse(body, status, HEADERS)


def going_to(path: str) -> Response:
    """See there."""
    return Response(b"", 303, HEADERS | {"Location": path})


def kept_file(name: str, data: bytes, kind: str = "application/octet-stream") -> Response:
    """A file to be kept by who asked, never shown by a browser that guesses."""
    told = {"Content-Disposition": f'attachment; filename="{name}"'}
    return Response(data, 200, HEADERS | told, kind)


def shown_to_customer(data: bytes) -> Response:
    """A self-contained file of ours on a screen; its address is told to nobody it leads to."""
    policy = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; font-src data:"
    own = {"Content-Security-Policy": f"{policy}; frame-ancestors 'none'; base-uri 'none'",
           "Referrer-Policy": "no-referrer"}  # fmt: skip
    return Response(data, 200, HEADERS | own, "text/html; charset=utf-8")


def picture(data: bytes, kind: str) -> Response:
    """A photo, shown where the page names it."""
    own = {"Content-Security-Policy": "default-src 'none'", KEEP: "assets"}
    return Response(data, 200, HEADERS | own, kind)


def static(name: str, known: str) -> Response:
    """A file of ours by its name; 304 where the browser has it (`known` is its tag)."""
    if name not in _STATIC:
        return plain("There is no such place.", 404)
    package, path, kind = _STATIC[name]
    data = resources.files(package).joinpath(path).read_bytes()
    tag = f'"{hashlib.sha256(data).hexdigest()[:20]}"'
    headers = HEADERS | {"Cache-Control": "no-cache", "ETag": tag, KEEP: "assets"}
    return Response(b"", 304, headers) if known == tag else Response(data, 200, headers, kind)
