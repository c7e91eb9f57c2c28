"""A document as one self-contained HTML file: no script, no network, nothing of a user's
text taken for markup.

The style sheet stands in the file and is allowed by its digest alone; pictures are data
within the file. Whatever else a browser might be asked for, its policy forbids.
"""

from __future__ import annotations

import base64
import hashlib
from functools import cache
from importlib import resources
from typing import TYPE_CHECKING

from buildlog.report.booklet.document import Document, Spans

if TYPE_CHECKING:
    from jinja2 import Environment

_FOLDER = "templates"
Paper = str  # "a4" or "letter"


def html(document: Document, *, paper: Paper | None = None) -> str:
    """The file. `paper` fixes the size of the page; without it, the reader's printer decides."""
    from markupsafe import Markup

    style = _style(paper)
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    return _environment().get_template("booklet.html.j2").render(
        document=document,
        # Our own style sheet, not a user's text: in a style element nothing is escaped.
        style=Markup(style),
        policy=f"default-src 'none'; img-src data:; style-src 'sha256-{digest}'; "
        "base-uri 'none'; form-action 'none'",
        qr=_qr(document.qr) if document.qr else None,
    )  # fmt: skip


def paged_style() -> str:
    """What only a paginating engine understands: running headers, numbers in the contents."""
    return _read("paged.css")


@cache
def _read(name: str) -> str:
    place = resources.files("buildlog.report.booklet").joinpath(_FOLDER, name)
    return place.read_text("utf-8")


def _style(paper: Paper | None) -> str:
    style = _read("booklet.css")
    return style + f"@page {{ size: {paper}; }}\n" if paper else style


@cache
def _environment() -> Environment:
    from jinja2 import DictLoader, Environment, StrictUndefined

    names = ("booklet.html.j2", "blocks.html.j2")
    environment = Environment(
        loader=DictLoader({name: _read(name) for name in names}),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["as_data"] = _as_data
    environment.filters["kind"] = lambda block: type(block).__name__
    environment.filters["empty"] = _empty
    return environment


def _as_data(svg: bytes) -> str:
    """A picture as the address of its own bytes."""
    return f"data:image/svg+xml;base64,{base64.b64encode(svg).decode()}"


def _empty(content: Spans) -> bool:
    return not any(span.text for span in content)


def _qr(text: str) -> bytes:
    import io

    import segno

    out = io.BytesIO()
    segno.make(text, error="m", micro=False).save(
        out, kind="svg", border=2, xmldecl=True, svgns=True, dark="#000", light="#fff",
        omitsize=True,
    )  # fmt: skip
    return out.getvalue()
