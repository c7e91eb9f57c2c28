"""What leaves with a handover and what stays; and what was made."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from buildlog.analysis.workshop.leaving import HandoverAnswer
from buildlog.report.lines import finding_lines, wrap
from buildlog.report.numbers import count

MADE = "booklet.html and .pdf, history.json, parts.csv, plots/*.svg, photos/ without positions"


def leaving_lines(answer: HandoverAnswer) -> list[str]:
    """The screen of a dry run: leaves, stays, proves, cannot."""
    found = answer.leaving
    lines = ["nothing was written (--dry-run)", *_four(answer)]
    lines += wrap(f"made of them: {MADE}", 4, 0)
    lines += ["files that leave, in every version they had:"]
    lines += [f"  {path}" for path in found.files]
    if found.gone:
        lines.append("files that a later entry took away, and that leave all the same:")
        lines += [f"  {path}" for path in found.gone]
    return [*lines, "names that leave:", *(f"  {name}" for name in found.references),
            "next: buildlog handover OUT"]  # fmt: skip


def written_lines(path: Path, no_pdf: str | None) -> list[str]:
    """Where a sheet was written, and how to get the PDF where nothing made one."""
    note = _no_pdf("it is no PDF", no_pdf, path.name) if no_pdf else []
    return [f"written: {path}", *note]


def _no_pdf(what: str, why: str, page: str) -> list[str]:
    return wrap(
        f'note: {what}: {why}; pip install "buildlog[pdf]", or open {page} and print it', 6, 0
    )


def handover_lines(answer: HandoverAnswer) -> list[str]:
    """What was made, and what it holds; or what would leave."""
    done = answer.made
    if done is None:
        return leaving_lines(answer)
    lines = [
        f"handed over: {done.folder} and {done.zip} ({done.bytes / 1e6:.1f} MB)",
        f"recorded: entry {done.entry}, {done.id[:8]}, handover {done.number}",
        *_four(answer),
    ]
    if done.no_pdf:
        lines += _no_pdf("the booklet has no PDF", done.no_pdf, "data/booklet.html")
    if done.large:
        lines += wrap(
            "large: more than buildlog reads from others unasked; whoever gets it types "
            "BUILDLOG_LARGE=1 before buildlog receive, as HOW-TO-CHECK.txt says",
            9,
            0,
        )
    return [*lines, f"  write the fingerprint on the invoice: {done.fingerprint}",
            f"next: buildlog verify {done.folder}"]  # fmt: skip


def _four(answer: HandoverAnswer) -> list[str]:
    found = answer.leaving
    hits = [one for one in found.probes if one.found]
    photos = f" ({count(found.photos, 'photo')}, copied without position)" if found.photos else ""
    leaves = (f"{count(found.entries, 'entry', 'entries')}, "
              f"{count(found.sessions, 'dyno session', 'dyno sessions')}, "
              f"{count(found.attachments, 'attachment', 'attachments')}{photos}")  # fmt: skip
    if found.identifies:
        leaves += f"; {' and '.join(found.identifies)} in full"
    if found.earlier:
        leaves += (f"; and {count(found.earlier, 'earlier version', 'earlier versions')} "
                   "of files: what an entry said and a later one changed or deleted")  # fmt: skip
    found_here = (
        f"{len(hits)} of {count(len(found.probes), 'search', 'searches')} found something"
        if hits
        else ""
    )
    stays = f"{'; '.join(found.stays)}. Privacy search: {found_here or 'nothing found'}"
    proves = f"unbroken from entry 1 to {found.entries}, paper fingerprint {answer.fingerprint}"
    cannot = "say what happened before entry 1, or what nobody wrote down; " \
             "take out what is recorded"  # fmt: skip
    if found.unread:
        cannot += f"; search {_few(found.unread)}: these are no text, look at them yourself"
    lines: list[str] = []
    for word, said in (("leaves", leaves), ("stays", stays), ("proves", proves),
                       ("cannot", cannot)):  # fmt: skip
        lines += wrap(f"{word + ':':<9}{said}", 9, 0)
    return lines + finding_lines(found.findings)


def _few(names: Sequence[str]) -> str:
    more = f" and {len(names) - 3} more" if len(names) > 3 else ""
    return f"{', '.join(names[:3])}{more}"
