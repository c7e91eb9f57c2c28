"""A text as a two-dimensional code, with the quiet zone of four modules that ISO/IEC 18004 asks
for."""

from __future__ import annotations

import io
from html import escape


def qr_svg(text: str, title: str) -> str:
    """The code as an element of SVG, black on white whatever the ground."""
    import segno

    out = io.BytesIO()
    segno.make(text, error="m", micro=False).save(
        out, kind="svg", border=4, xmldecl=False, svgns=True, dark="#000", light="#fff",
        omitsize=True, svgclass="qr", lineclass=None,
    )  # fmt: skip
    named = f'<svg role="img" aria-label="{escape(title)}"'
    return out.getvalue().decode().replace("<svg", named, 1).strip()
