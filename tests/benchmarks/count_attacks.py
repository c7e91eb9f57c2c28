"""How often each act that writes was cut short, and how often that did harm: a table.

`python -m tests.benchmarks.count_attacks [--most N] [WORDS...]`: at most N calls of each act and
way (else all; a quarter of them of what takes a second); WORDS: acts that bear one of them. Run by
hand: all of it takes about half an hour of one core.
"""

from __future__ import annotations

import argparse
import gc
import sys
import tempfile
from collections import Counter
from pathlib import Path

import pytest

from tests.attack.acts import Act
from tests.attack.cuts import EVERY, HARMS, Cuts
from tests.attack.power import Powercuts
from tests.attack.prepared_world import prepared
from tests.attack.taps import Tap
from tests.conftest import WHO, pin

SLOW = 25  # calls of one that takes a second which are tried
WAYS = (*HARMS, "power cut")


def counted(world: Path, act: Act | Tap, most: int) -> tuple[int, Counter[str], list[str]]:
    """Calls that it makes, tries by way, and what failed."""
    tries, wrong = Counter[str](), list[str]()
    cuts = Cuts(world, act)
    most = min(most, SLOW) if act.slow else most
    for harm in HARMS:
        for k in cuts.points(min(most, cuts.calls)):
            tries[harm] += 1
            try:
                cuts.cut(harm, k)
            except AssertionError as error:
                wrong.append(str(error))
    power = Powercuts(world, act)
    for number in power.points(most):
        tries["power cut"] += 1
        try:
            power.cut(number)
        except AssertionError as error:
            wrong.append(str(error))
    gc.collect()
    return cuts.calls, tries, wrong


def main() -> int:
    """Print the table; what failed follows its line."""
    asked = argparse.ArgumentParser()
    asked.add_argument("--most", type=int, default=10_000)
    asked.add_argument("words", nargs="*")
    said = asked.parse_args()
    total, failures = Counter[str](), list[str]()
    with pytest.MonkeyPatch.context() as patch, tempfile.TemporaryDirectory(dir=_fast()) as place:
        pin(patch, Path(place))
        (Path(place) / "home/.gitconfig").write_text(WHO)
        world = prepared(Path(place) / "world")
        print(f"{'act':58}{'calls':>6}" + "".join(f"{way:>12}" for way in WAYS) + "  failed")
        for act in EVERY:
            if said.words and not any(word in act.name for word in said.words):
                continue
            calls, tries, wrong = counted(world, act, said.most)
            shown = "".join(f"{tries[way]:>12}" for way in WAYS)
            print(f"{act.name[:56]:58}{calls:>6}{shown}{len(wrong):>8}", flush=True)
            print(*wrong, sep="\n", end="\n" * bool(wrong), flush=True)
            total, failures = total + tries, failures + wrong
    print(f"{'together':64}" + "".join(f"{total[way]:>12}" for way in WAYS) + f"{len(failures):>8}")
    return 1 if failures else 0


def _fast() -> str | None:
    return "/dev/shm" if Path("/dev/shm").is_dir() else None


if __name__ == "__main__":
    sys.exit(main())
