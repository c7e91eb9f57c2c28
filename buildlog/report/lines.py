"""Plain text for a terminal: tables, wrapped lines, findings."""

from __future__ import annotations

import re
import textwrap
import unicodedata
from collections.abc import Iterable, Sequence
from itertools import zip_longest

from buildlog.findings import Finding as Finding
from buildlog.findings import worst_first


class _Page:
    """How wide a screen's lines may be; the terminal's own width, where there is one."""

    width = 80


PAGE = _Page()
_UNITS = re.compile(r"\b(?:N|lbf?|kgf?)\*(?:m|ft|in)\b|\bdeg[CF]\b")
# A figure and its sign or unit stay on one line; _HELD stands for the blank while lines are broken.
_BOUND = re.compile(
    r"(?<=\d) (?=[%±]|(?:hp|kW|lb[·*]ft|N[·*]m|psi|kPa|bar|rpm|mi|km|mph|km/h|lb/h|kg/h|kg|lb|°[CF]"
    r"|deg[CF]|MPa|mm|in|V|K)\b)|(?<=±) (?=\d)"
)
_HELD = "\ue000"
_LEAST_ROOM = 24  # letters in which a sentence still says something
_HIDDEN = {"Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"}


def clean(text: str) -> str:
    """Text with every character that a terminal would obey written as an escape.

    >>> clean("a\\x1b[31mb")
    'a\\\\x1b[31mb'
    """
    if text.isascii() and text.isprintable():
        return text
    return "".join(
        c if c == "\n" or unicodedata.category(c) not in _HIDDEN else _escaped(c) for c in text
    )


def printed(text: str) -> str:
    """Units as print has them; what stands in quotes is to be typed and stays.

    >>> printed('284 lb*ft at 26.5 degC: --torque "22 N*m"')
    '284 lb·ft at 26.5 °C: --torque "22 N*m"'
    """
    return "\n".join(map(_printed, text.split("\n"))) if _UNITS.search(text) else text


def _printed(line: str) -> str:
    parts = line.split('"')
    parts[::2] = [_UNITS.sub(lambda m: m[0].replace("*", "·").replace("deg", "°"), part)
                  for part in parts[::2]]  # fmt: skip
    return '"'.join(parts)


def _escaped(character: str) -> str:
    code = ord(character)
    return f"\\x{code:02x}" if code < 256 else f"\\u{code:04x}"


def table(
    rows: Iterable[Sequence[str]], right: Iterable[int] = (), indent: int = 2, gap: int = 2
) -> list[str]:
    """Rows as aligned columns; `right` names the columns that are set flush right.

    One text for each row. In a table that is wider than the page what does not fit into its column
    goes on in the line below, within the same text; a figure keeps its sign and its unit.
    """
    body = [[printed(clean(cell)) for cell in row] for row in rows]
    if not body:
        return []
    columns = max(len(row) for row in body)
    body = [row + [""] * (columns - len(row)) for row in body]
    widths = [max(len(row[i]) for row in body) for i in range(columns)]
    flush = set(right)
    for apart in (gap, 1):
        room = PAGE.width - indent - apart * (columns - 1)
        fitted = _fitting(body, widths, room)
        if sum(fitted) <= room:
            widths, gap = fitted, apart
            break
    else:
        gap = 1 if PAGE.width < _Page.width else gap
    return [
        "\n".join(
            (
                " " * indent
                + (" " * gap).join(
                    cell.rjust(widths[i]) if i in flush else cell.ljust(widths[i])
                    for i, cell in enumerate(line)
                )
            ).rstrip()
            for line in zip_longest(*map(pieces, row, widths), fillvalue="")
        )
        for row in body
    ]


def _fitting(body: Sequence[Sequence[str]], widths: Sequence[int], room: int) -> list[int]:
    """Widths of columns that fit, the widest made narrower first, none below its longest word; a
    word as long as a digest is broken, too."""
    least = [
        min(max(len(word) for row in body for word in _words(row[i])), _LEAST_ROOM)
        for i in range(len(widths))
    ]
    fitted = list(widths)
    while sum(fitted) > room:
        loose = [i for i, width in enumerate(fitted) if width > least[i]]
        if not loose:
            break
        fitted[max(loose, key=fitted.__getitem__)] -= 1
    return fitted


def _words(text: str) -> list[str]:
    """What is never broken: words, and figures with their sign and unit."""
    lead = text[: len(text) - len(text.lstrip())]
    return [f"{lead}{word}" for word in _BOUND.sub(_HELD, text).split()] or [""]


def pieces(text: str, width: int) -> list[str]:
    """A text in lines of a width, indented as it is; only a word that is wider, such as a digest,
    is broken."""
    if len(text) <= width:
        return [text]
    lead = " " * (len(text) - len(text.lstrip()))
    lines = textwrap.wrap(
        _BOUND.sub(_HELD, text.strip()), width, initial_indent=lead, subsequent_indent=lead,
        break_on_hyphens=any(len(word) > width for word in text.split()),
    )  # fmt: skip
    return [line.replace(_HELD, " ") for line in lines]


def cut_table(
    rows: Sequence[Sequence[str]], full: bool, right: Iterable[int] = (), least: int = 12
) -> list[str]:
    """A table whose last column is cut at the edge of the page; whole with `full`. On a narrow page
    it stands below its row."""
    head = table([row[:-1] for row in rows], right=right, indent=0, gap=1)
    room = max(map(len, head)) + 1
    if PAGE.width < _Page.width and PAGE.width - room < _LEAST_ROOM and not full:
        told = (f"{line}\n   {shorten(row[-1], PAGE.width - 3)}" if row[-1] else line
                for line, row in zip(head, rows, strict=True))  # fmt: skip
        return list(told)
    cells = [row[-1] if full else shorten(row[-1], max(PAGE.width - room, least)) for row in rows]
    return [f"{line.ljust(room)}{cell}".rstrip() for line, cell in zip(head, cells, strict=True)]


def wrap(
    text: str,
    indent: int = 0,
    first: int | None = None,
    width: int | None = None,
    lead: str | None = None,
) -> list[str]:
    """Text broken at blanks, a figure kept with its unit; continuation lines are indented. `lead`:
    what stands before the first, in place of blanks.

    >>> wrap("7 % left, 66 ± 17 hp", width=12)
    ['7 % left,', '66 ± 17 hp']
    """
    lead = " " * (indent if first is None else first) if lead is None else lead
    lines = textwrap.wrap(
        _BOUND.sub(_HELD, clean(text)), width or PAGE.width, initial_indent=lead,
        subsequent_indent=" " * indent, break_long_words=False, break_on_hyphens=False,
    )  # fmt: skip
    return [line.replace(_HELD, " ") for line in lines] or [""]


def shorten(text: str, width: int) -> str:
    """Text cut to a width, the cut shown."""
    return text if len(text) <= width else text[: max(width - 3, 1)].rstrip() + "..."


def shorten_start(text: str, width: int) -> str:
    """Text cut at its start: of a field's name the end says most."""
    return text if len(text) <= width else "..." + text[3 - width :].lstrip()


def folded(line: str) -> list[str]:
    """A line of an ordinary page on a narrower one: a sentence is broken, of a row what stands
    last; a command stays whole, to be copied."""
    if len(line) <= PAGE.width:
        return [line]
    indent = len(line) - len(line.lstrip())
    ends = [found.end() for found in re.finditer(r"(?<=\S)  +(?=\S)", line)]
    if ends and "buildlog " not in line[ends[-1] :]:
        at = ends[-1]
        if at <= 0.6 * PAGE.width:
            first, *more = pieces(line[at:], PAGE.width - at)
            return [line[:at] + first, *(" " * at + one for one in more)]
        below = pieces(" " * (indent + 4) + line[at:], PAGE.width)
        return [*folded(line[:at].rstrip()), *below]
    if "buildlog " in line:
        return [line]
    return wrap(line.strip(), indent + 2, indent)


def finding_lines(findings: Iterable[Finding], indent: int = 2) -> list[str]:
    """Findings, worst first: severity, sentence, and what to do below it."""
    from buildlog.report.in_units import in_units

    lines: list[str] = []
    for finding in worst_first(findings):
        where = f"{finding.where}: " if finding.where else ""
        lead = f"{finding.severity:<8}"
        lines += wrap(f"{lead}{where}{in_units(finding.text)}", indent + 8, indent)
        if finding.hint:
            lines += wrap(f"do: {in_units(finding.hint)}", indent + 12, indent + 8)
    return lines
