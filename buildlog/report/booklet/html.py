"""A document as one self-contained HTML file: no script, no network, nothing of a user's
text taken for markup.

The style sheet stands in the file and is allowed by its digest alone; pictures are data
within the file. Whatever else a browser might be asked for, its policy forbids.
"""

from __future__ import annotations

import base64
import hashlib
import re
from collections.abc import Iterable, Mapping
from functools import cache
from typing import TYPE_CHECKING, Any

from buildlog.report.booklet.document import Block, Document, Spans
from buildlog.report.booklet.templated import read

if TYPE_CHECKING:
    from jinja2 import Environment

_PRODUCT = re.compile(r"(?<![A-Za-z])(N|kN|lb|lbf|kg)\*(m|ft|in)(?![A-Za-z])")
_POWER = re.compile(r"(?<=[a-z])\^([23])(?![\w^])")
_UNITS = re.compile(
    r"(?<=\d) (?=(?:hp|kW|rpm|mi|km|psi|kPa|bar|mm|N·m|lb·ft|lb|kg|%|°[CF]|mph)\b|%)"
)
Paper = str  # "a4" or "letter"


def html(
    document: Document, *, paper: Paper | None = None, pages: Mapping[str, int] | None = None
) -> str:
    """The file. `paper` fixes the size of the page; without it, the reader's printer decides.
    `pages`: on which page each name of the contents stands, where that is known."""
    from markupsafe import Markup

    style = _style(document, paper)
    digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
    return _environment().get_template("booklet.html.j2").render(
        document=document,
        # Our own style sheet, not a user's text: in a style element nothing is escaped.
        style=Markup(style),
        policy=f"default-src 'none'; img-src data:; style-src 'sha256-{digest}'; "
        "base-uri 'none'; form-action 'none'",
        qr=_qr(document.qr) if document.qr else None,
        pages=pages or {},
    )  # fmt: skip


def fragment(blocks: Iterable[Block]) -> str:
    """Blocks alone, to stand in a page that somebody else makes."""
    module: Any = _environment().get_template("blocks.html.j2").module
    return "".join(str(module.block(one)) for one in blocks)


def paged_style() -> str:
    """What only a paginating engine understands: running headers, numbers in the contents."""
    return read("paged.css")


def _style(document: Document, paper: Paper | None) -> str:
    """Our style sheet, the running header, and the paper's size where it is fixed."""
    running = f'@page {{ @top-left {{ content: "{_quoted(document.title)}"; }} }}\n'
    size = f"@page {{ size: {paper}; }}\n" if paper else ""
    return read("booklet.css") + running + size


def _quoted(text: str) -> str:
    """A user's text within a string of CSS: whatever is no plain letter as its number."""
    short = text if len(text) <= 80 else f"{text[:79].rstrip()}…"
    return "".join(c if c.isascii() and c.isalnum() else f"\\{ord(c):x} " for c in short)


def typeset(text: str) -> str:
    r"""Signs as print has them: "N*m" with its dot, "^2" raised, "degC", a true minus, and no
    unit at the beginning of a line.

    >>> typeset("385 N*m at 95 degC, -4 hp; stage-2, 0.062 kg*m^2").replace("\xa0", "~")
    '385~N·m at 95~°C, \u22124~hp; stage-2, 0.062~kg·m²'
    """
    text = text.replace(" ± ", "\u00a0±\u00a0")
    text = _PRODUCT.sub("\\1·\\2", text)
    text = _POWER.sub(lambda found: "²" if found.group(1) == "2" else "³", text)
    text = re.sub(r"(?<=\d )deg([CF])\b", r"°\1", text)
    text = re.sub(r"(?<![\w.)\-/])-(?=\d)", "\u2212", text)
    return _UNITS.sub("\u00a0", text)


@cache
def _environment() -> Environment:
    from jinja2 import DictLoader, Environment, StrictUndefined

    names = ("booklet.html.j2", "blocks.html.j2")
    environment = Environment(
        loader=DictLoader({name: read(name) for name in names}),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["as_data"] = _as_data
    environment.filters["typeset"] = typeset
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
