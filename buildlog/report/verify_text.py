"""A verification in plain words: the verdict, what was looked at, what it does not say."""

from __future__ import annotations

from collections.abc import Sequence

from buildlog.findings import Finding
from buildlog.report.lines import finding_lines, table, wrap

VERDICTS = {
    "intact": "intact: consistent, and anchored by a trusted signature or a matching fingerprint",
    "consistent": "consistent: nothing contradicts itself, but unsigned: a complete rewrite "
    "cannot be excluded",
    "altered": "altered: something is not as it was recorded",
    "cannot-tell": "cannot tell",
}


def verify_lines(
    verdict: str,
    checks: Sequence[tuple[str, int, bool]],
    findings: Sequence[Finding],
    last_good: str | None,
    proves: Sequence[str],
    does_not_prove: Sequence[str],
) -> list[str]:
    """The screen of `verify`. A check is a name, over how many things, and whether it held."""
    lines = wrap(VERDICTS.get(verdict, verdict), 2, 0)
    if verdict == "altered":
        lines.append(f"still good: up to {last_good}" if last_good else "still good: nothing sure")
    lines.append("")
    lines += table(
        [
            [name, f"{count:,} looked at", "held" if held else "did not hold"]
            for name, count, held in checks
        ],
        right=(1,),
    )
    if findings:
        lines += ["", "found", *finding_lines(findings)]
    for heading, sentences in (("proves", proves), ("does not prove", does_not_prove)):
        for index, sentence in enumerate(sentences):
            if index == 0:
                lines += ["", heading]
            lines += wrap(sentence, 4, 2)
    return lines
