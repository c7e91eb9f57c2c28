"""Draw the README's picture anew: `python -m tests.generate_readme_picture DEMO-LEDGER`."""

from __future__ import annotations

import sys
from pathlib import Path

TARGET = Path(__file__).parents[1] / "shared" / "pictures" / "demo-history.svg"
STAGES = ("baseline", "stage-1", "stage-2")


def draw(ledger: Path, out: Path) -> None:
    """What `buildlog plot baseline stage-1 stage-2` draws of the demo car."""
    from buildlog.desk.give.plotting import plot
    from buildlog.desk.snapshot import opening

    with opening.snapshot(ledger) as book:
        plot(book, STAGES).write(out)


if __name__ == "__main__":
    TARGET.parent.mkdir(exist_ok=True)
    draw(Path(sys.argv[1]), TARGET)
