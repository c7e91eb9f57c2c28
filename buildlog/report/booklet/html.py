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

from buildlog.report.booklet.document import Block, Document, Spans, plain
from buildlog.report.booklet.templated import read
from buildlog.report.pictures import letters
from buildlog.report.pictures.look import palette
from buildlog.report.pictures.paper import Paper as Picture
from buildlog.report.pictures.printing import svg

if TYPE_CHECKING:
    from jinja2 import Environment
    from markupsafe import Markup

_PRODUCT = re.compile(r"(?<![A-Za-z])(N|kN|lb|lbf|kg)\*(m|ft|in)(?![A-Za-z])")
_POWER = re.compile(r"(?<=[a-z])\^([23])(?![\w^])")
_UNITS = re.compile(
    r"(?<=\d) (?=(?:hp|kW|rpm|mi|km|psi|ksi|kPa|MPa|bar|mm|N·m|lb·ft|lbf|lb|kg|°[CF]|mph|dB|ft|L|"
    r"cc)\b|%)"
)
# A staff code, a part number, a serial: capitals or digits around hyphens; or a number of capitals
# and digits with what a shop adds to it ("MT26-original").
_CODE = re.compile(
    r"(?<![\w&;-])(?:[A-Z0-9]{1,8}(?:-[A-Z0-9]{1,8})+|[A-Z]{1,4}\d{1,6}(?:-[A-Za-z0-9]{1,10})+)"
    r"(?![\w-])"
)
# The unit of a column where its head names it: behind a comma, or alone, or as "at mi".
_HEAD_UNIT = re.compile(r"(?:(?P<what>.+), |(?P<at>at) )?(?P<unit>mi|km|hp|kW|lb·ft|N·m|psi|kPa)")
_FIGURE = re.compile(r"[\d,.+\u2212±\s-]*\d")
Paper = str  # "a4" or "letter"
_FIRST = "@page :first { @top-left { content: none; } @top-right { content: none; } }\n"


def html(
    document: Document, *, paper: Paper | None = None, pages: Mapping[str, int] | None = None
) -> str:
    """The file. `paper` fixes the size of the page; without it, the reader's printer decides.
    `pages`: on which page each name of the contents stands, where that is known."""
    from markupsafe import Markup

    def rendered(style: str) -> str:
        digest = base64.b64encode(hashlib.sha256(style.encode()).digest()).decode()
        return _environment().get_template("booklet.html.j2").render(
            document=document,
            # Our own style sheet, not a user's text: in a style element nothing is escaped.
            style=Markup(style),
            policy="default-src 'none'; img-src data:; font-src data:; "
            f"style-src 'sha256-{digest}'; base-uri 'none'; form-action 'none'",
            qr=_qr(document.qr) if document.qr else None,
            pages=pages or {},
        )  # fmt: skip

    text = rendered("")  # first without, to know which letters the page needs
    return rendered(_style(document, paper, text))


def fragment(blocks: Iterable[Block]) -> str:
    """Blocks alone, to stand in a page that somebody else makes."""
    template = _environment().get_template("blocks.html.j2")
    module: Any = template.make_module({"pages": {}})
    return "".join(str(module.block(one)) for one in blocks)


def paged_style() -> str:
    """What only a paginating engine understands: the pages that links lead to."""
    return read("paged.css")


def _style(document: Document, paper: Paper | None, text: str) -> str:
    """The letters, our style sheet, colours of the dark, running lines, the paper's size."""
    letters_ = "".join(sorted({c for c in text if c.isprintable()}))
    fonts = letters.font_face([(letters_, False), (letters_, True)])
    title = document.title if document.sections else ""
    margins = {
        "top-left": f"{title} · {document.kicker.partition(' · ')[0].lower()}" if title else "",
        "top-right": document.running if document.sections else "",
        "bottom-left": document.foot,
    }
    running = "".join(
        f'@page {{ @{place} {{ content: "{_quoted(said)}"; font: 9pt "Buildlog Sans", sans-serif; '
        "color: #5a6168; } }\n"
        for place, said in margins.items()
    )
    size = f"@page {{ size: {paper}; }}\n" if paper else ""
    return fonts + read("booklet.css") + running + _FIRST + _dark() + size


def _dark() -> str:
    """The colours of pictures on a dark screen, role by role."""
    rules = "".join(
        f".f-{role}{{fill:{colour}}}.s-{role}{{stroke:{colour}}}"
        for role, colour in palette(dark=True).items()
    )
    return f"@media screen and (prefers-color-scheme:dark){{{rules}}}\n"


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


def phone_head(head: str, cell: str) -> tuple[str, str]:
    """What stands before and behind a figure where a row has no head above it: on a phone.

    >>> phone_head("run, mi", "570"), phone_head("mi", "88,312"), phone_head("at mi", "71,200")
    (('run', 'mi'), ('', 'mi'), ('at', 'mi'))
    >>> phone_head("run, mi", "unknown"), phone_head("pulls", "3")
    (('run', ''), ('pulls', ''))
    >>> phone_head("run, mi", "18,341 (declared)")
    ('run, mi', '')
    """
    found = _HEAD_UNIT.fullmatch(head)
    if found is None:
        return head, ""
    what = found["what"] or found["at"] or ""
    if _FIGURE.fullmatch(cell):
        return what, found["unit"]
    return (head, "") if any(letter.isdigit() for letter in cell) else (what or head, "")


def in_one_piece(text: str, style: str) -> Markup:
    """Codes as a shop writes them ("D-03", "T26-004", "26-0418") never broken in two; `style`: the
    class of what does not break."""
    from markupsafe import Markup, escape

    return Markup(_CODE.sub(rf'<span class="{style}">\g<0></span>', str(escape(text))))


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
    environment.filters["as_jpeg"] = lambda data: _as_data(data, "jpeg")
    environment.filters["drawn"] = _drawn
    environment.filters["typeset"] = typeset
    environment.filters["whole"] = lambda text: in_one_piece(typeset(text), "whole")
    environment.filters["kind"] = lambda block: type(block).__name__
    environment.filters["empty"] = _empty
    environment.globals["phone_head"] = phone_head
    environment.filters["plain"] = plain
    return environment


def _as_data(picture: bytes, kind: str = "svg+xml") -> str:
    """A picture as the address of its own bytes."""
    return f"data:image/{kind};base64,{base64.b64encode(picture).decode()}"


def _drawn(picture: Picture, name: str) -> Markup:
    """A picture as an element of the page, with the page's letters; its texts are escaped."""
    from markupsafe import Markup

    return Markup(svg(picture, palette(), name=name))


def _empty(content: Spans) -> bool:
    return not any(span.text for span in content)


def _qr(text: str) -> bytes:
    import io

    import segno

    out = io.BytesIO()
    segno.make(text, error="m", micro=False).save(
        out, kind="svg", border=4, xmldecl=True, svgns=True, dark="#000", light="#fff",
        omitsize=True,
    )  # fmt: skip
    return out.getvalue()
