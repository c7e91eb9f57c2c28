"""A verification in plain words: the verdict, what was looked at, what it does not say."""

from __future__ import annotations

import shlex
from collections.abc import Sequence
from pathlib import Path

from buildlog.report.lines import finding_lines, table, wrap
from buildlog.store.verify.verdict import Verification

VERDICTS = {
    "intact": "intact: no sign of a change, and a key you know or the fingerprint on paper covers "
    "all of it",
    "consistent": "consistent: no sign of a change, but no key you know and no fingerprint on "
    "paper covers all of it: somebody could have rewritten the whole history",
    "altered": "altered: something is not as it was recorded",
    "cannot-tell": "cannot tell: there is no history here, or not all of it can be read",
}
# What was checked, as the screen says it.
CHECKED = {
    "objects": "stored entries and files",
    "packs": "pack files",
    "digest chain": "each entry against the one before",
    "rules": "what every entry must say",
    "beginning": "the first entry",
    "merges": "joins of two copies",
    "evidence": "files that an entry names",
    "names": "names of stages and plans",
    "signatures": "signatures",
    "paper": "fingerprint on paper",
}


def verify_lines(found: Verification, target: Path | None, free: str) -> list[str]:
    """The screen of `verify`. `target`: what was named; `free`: a folder's name not taken yet."""
    lines = wrap(VERDICTS.get(found.verdict, found.verdict), 2, 0)
    good = found.last_good
    if found.verdict == "altered":
        upto = f"up to entry {good.number} ({good.short})" if good else "nothing sure"
        lines.append(f"still good: {upto}")
    lines += ["", *_signed(list(found.signed.values()))]
    lines += table(
        [
            [CHECKED[one.name], f"{one.looked_at:,} checked", "good" if one.held else "NOT GOOD"]
            for one in found.checks
        ],
        right=(1,),
    )
    if found.findings:
        lines += [""] if found.checks else []
        lines += ["found", *finding_lines(found.findings)]
    for heading, sentences in (("proves", found.proves), ("does not prove", found.does_not_prove)):
        for index, sentence in enumerate(sentences):
            if index == 0:
                lines += ["", heading]
            lines += wrap(sentence, 4, 2)
    return [*lines, "", f"next: {_next(found, target, free)}"]


def _next(found: Verification, target: Path | None, free: str) -> str:
    """The command that follows, as it can be pasted; in words where a copy is asked for."""
    at = f" --ledger {shlex.quote(str(target))}" if target else ""
    if found.empty:
        return f'buildlog record -m "as it came" --kind found{at}'
    if found.verdict in ("altered", "cannot-tell"):
        return "verify another copy or the last handover, and go on with one that is good"
    if found.handover:
        return f"buildlog receive {shlex.quote(str(target))} {free}"
    return f"buildlog history{at}"


def _signed(words: Sequence[str]) -> list[str]:
    """The entries' signatures, equal neighbours together: "entries 1 to 13  not signed"."""
    rows: list[list[str]] = []
    start = 1
    for number, word in enumerate(words, start=1):
        if number == len(words) or words[number] != word:
            named = f"entry {number}" if number == start else f"entries {start} to {number}"
            rows.append([named, word])
            start = number + 1
    if len(rows) > 8:
        rows = [*rows[:4], ["...", f"{len(rows) - 8} more"], *rows[-4:]]
    return [*table(rows), ""] if any(word != "not signed" for word in words) else []
