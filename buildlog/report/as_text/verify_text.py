"""A verification in plain words: the verdict, what was looked at, what it does not say."""

from __future__ import annotations

from collections.abc import Sequence

from buildlog.findings import Finding
from buildlog.report.lines import finding_lines, table, wrap

VERDICTS = {
    "intact": "intact: nothing contradicts itself, and a signature by a key you know or the "
    "fingerprint on paper covers all of it",
    "consistent": "consistent: nothing contradicts itself, but no key you know and no fingerprint "
    "covers all of it: a complete rewrite cannot be excluded",
    "altered": "altered: something is not as it was recorded",
    "cannot-tell": "cannot tell: there is no history here, or none that can be read whole",
}


def verify_lines(
    verdict: str,
    checks: Sequence[tuple[str, int, bool]],
    findings: Sequence[Finding],
    last_good: str | None,
    proves: Sequence[str],
    does_not_prove: Sequence[str],
    signed: Sequence[str] = (),
) -> list[str]:
    """The screen of `verify`. A check is a name, over how many things, and whether it held.

    `signed`: for each entry, first to last, what its signature is worth.
    """
    lines = wrap(VERDICTS.get(verdict, verdict), 2, 0)
    if verdict == "altered":
        lines.append(f"still good: up to {last_good}" if last_good else "still good: nothing sure")
    lines += ["", *_signed(signed)]
    lines += table(
        [
            [name, f"{count:,} looked at", "held" if held else "did not hold"]
            for name, count, held in checks
        ],
        right=(1,),
    )
    if findings:
        lines += [""] if checks else []
        lines += ["found", *finding_lines(findings)]
    for heading, sentences in (("proves", proves), ("does not prove", does_not_prove)):
        for index, sentence in enumerate(sentences):
            if index == 0:
                lines += ["", heading]
            lines += wrap(sentence, 4, 2)
    return lines


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
