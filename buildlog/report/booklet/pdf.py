"""PDF from the booklet's HTML: by WeasyPrint if it is installed, else by a browser.

Nothing is fetched: WeasyPrint is given a fetcher that refuses everything but data within
the file, a browser runs offline with an empty profile of its own.
"""

from __future__ import annotations

import os
import re
import subprocess
import tempfile
from collections.abc import Callable
from pathlib import Path

from buildlog.errors import DiskError, MissingExtra
from buildlog.programs import program
from buildlog.report.booklet import html as page
from buildlog.report.booklet.document import Document

Engine = Callable[[Document, str], bytes]
_BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable",
             "microsoft-edge", "msedge", "brave-browser")  # fmt: skip
_PLACES = (
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Microsoft Edge.app/Contents/MacOS/Microsoft Edge",
    r"C:\Program Files\Google\Chrome\Application\chrome.exe",
    r"C:\Program Files (x86)\Microsoft\Edge\Application\msedge.exe",
)
_PATIENCE = 120  # seconds


def engine() -> Engine:
    """What makes PDFs on this computer. MissingExtra where nothing does."""
    if _weasyprint_is_here():
        return by_weasyprint
    if browser() is not None:
        return by_browser
    raise MissingExtra(
        "nothing on this computer makes a PDF",
        hint='install it with pip install "buildlog[pdf]", or write .html and print that',
    )


def pdf(document: Document, paper: str = "a4") -> bytes:
    """The document as PDF, with no author, producer or date in it."""
    return engine()(document, paper)


def by_weasyprint(document: Document, paper: str) -> bytes:
    """By WeasyPrint: running headers, page numbers in the contents, tagged."""
    import weasyprint

    fetcher = weasyprint.URLFetcher(allowed_protocols=["data"])
    source = weasyprint.HTML(string=page.html(document, paper=paper), url_fetcher=fetcher)
    style = weasyprint.CSS(string=page.paged_style())
    made = source.render(stylesheets=[style])
    made.metadata.generator = None
    data = made.write_pdf(pdf_variant="pdf/ua-1", finisher=_nameless)
    assert isinstance(data, bytes)
    return data


def by_browser(document: Document, paper: str) -> bytes:
    """By a browser of the Chromium family, run without a network. It cannot number the contents
    by itself: printed once, the PDF says on which page each name stands, then it is printed
    with these numbers."""
    program = browser()
    if program is None:
        raise MissingExtra("no browser of the Chromium family is installed", hint="buildlog[pdf]")
    first = _printed(program, page.html(document, paper=paper))
    pages = pages_of(first)
    data = _printed(program, page.html(document, paper=paper, pages=pages)) if pages else first
    return _without_information(data)


def pages_of(data: bytes) -> dict[str, int]:
    """The page of each named place in a PDF as browsers write it; empty where it is unlike that.

    >>> pages_of(b"3 0 obj\\n<</Type /Page\\n>>\\nendobj\\n9 0 obj\\n<</parts [3 0 R /XYZ 0 1 0]>>")
    {'parts': 1}
    """
    found = re.findall(rb"(?m)^(\d+) 0 obj\s*<<\s*/Type\s*/Page\s", data)
    number = {one: place for place, one in enumerate(found, 1)}
    places = re.findall(rb"/([\w-]+)\s*\[(\d+) 0 R\s*/XYZ", data)
    return {name.decode(): number[one] for name, one in places if one in number}


def _printed(program: str, markup: str) -> bytes:
    with tempfile.TemporaryDirectory(prefix="buildlog-") as folder:
        source, target = Path(folder, "booklet.html"), Path(folder, "booklet.pdf")
        source.write_text(markup, encoding="utf-8")
        command = [
            program, "--headless", "--disable-gpu", "--no-first-run", "--disable-sync",
            "--disable-background-networking", "--disable-component-update", "--disable-quic",
            "--host-resolver-rules=MAP * ~NOTFOUND", f"--user-data-dir={folder}/profile",
            *(["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []),
            "--no-pdf-header-footer", f"--print-to-pdf={target}", source.as_uri(),
        ]  # fmt: skip
        try:
            subprocess.run(command, capture_output=True, timeout=_PATIENCE, check=False)
        except (OSError, subprocess.TimeoutExpired) as error:
            raise DiskError(f"the browser did not make the PDF: {error}") from error
        if not target.exists():
            raise DiskError("the browser made no PDF", hint="open the HTML and print it")
        return target.read_bytes()


def browser() -> str | None:
    """An installed browser of the Chromium family, by fixed names only."""
    return program(*_BROWSERS) or next((place for place in _PLACES if Path(place).exists()), None)


def _weasyprint_is_here() -> bool:
    try:
        import weasyprint  # noqa: F401 - it fails here, not later, without its system libraries
    except (ImportError, OSError):
        return False
    return True


def _nameless(document: object, made: object) -> None:
    """Take the program's and every other name out of the document's information."""
    information = made.info  # type: ignore[attr-defined]
    for key in ("Producer", "Creator", "Author", "CreationDate", "ModDate"):
        information.pop(key, None)
    for item in made.objects:  # type: ignore[attr-defined]
        if str(getattr(item, "extra", {}).get("Type")) == "/Metadata":
            item.stream = [re.sub(rb' [\w:]*Producer="[^"]*"', b"", part) for part in item.stream]


def _without_information(data: bytes) -> bytes:
    """Blank out what a browser writes of itself; lengths stay, so that every offset holds."""
    pattern = rb"/(Producer|Creator|Author|CreationDate|ModDate)\s*\(((?:[^()\\]|\\.)*)\)"

    def blank(match: re.Match[bytes]) -> bytes:
        return match.group(0).replace(b"(" + match.group(2) + b")",
                                      b"(" + b" " * len(match.group(2)) + b")")  # fmt: skip

    return re.sub(pattern, blank, data)
