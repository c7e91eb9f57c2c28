"""Keep today's answers: `python -m tests.golden.keep [GROUP...]`."""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path

from tests.golden.answers import save
from tests.golden.calls import GROUPS
from tests.golden.play import answered


def main(wanted: list[str]) -> None:
    for group in wanted or list(GROUPS):
        began = time.perf_counter()
        with tempfile.TemporaryDirectory() as base:
            answers = list(answered(GROUPS[group](), Path(base)))
        size = save(group, answers)
        spent = time.perf_counter() - began
        print(f"{group}: {len(answers)} calls, {size:,} bytes, {spent:.1f} s", flush=True)


if __name__ == "__main__":
    main(sys.argv[1:])
