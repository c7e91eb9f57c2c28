"""The names beside `main` that a `sync` brings across: stages, handovers, and plans if asked.

A stage's tag follows from the entries, so a missing one is made on either side. A handover's
tag is evidence: it is taken as it is, once it is found to be of this history. A plan may go
on where it was left. A name that says one thing here and another there is told and stays.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from dulwich.objects import ObjectID, ShaFile, Tag

from buildlog.errors import BuildlogError
from buildlog.store.git import ordering
from buildlog.store.git.repo import Repo
from buildlog.store.join.joining import Graph
from buildlog.store.ledger import entries, rules
from buildlog.store.ledger.names import HANDOVERS, PLANS, STAGES
from buildlog.store.trust import signatures

Names = Mapping[str, str]
_LONGEST_PLAN = 1_000  # commits


@dataclass(frozen=True)
class Differing:
    """A name that holds different things on the two sides."""

    name: str  # "handover/1"
    ours: str
    theirs: str
    kept: str = ""  # where each side's plan now also lies on the other


@dataclass
class Exchange:
    """What goes where. `take` and `give` are whole names: what is there, what it becomes."""

    take: dict[str, tuple[str | None, str]] = field(default_factory=dict)
    give: dict[str, tuple[str | None, str]] = field(default_factory=dict)
    differing: list[Differing] = field(default_factory=list)
    refused: dict[str, str] = field(default_factory=dict)

    @property
    def received(self) -> list[str]:
        return [short(name) for name in self.take]

    @property
    def sent(self) -> list[str]:
        return [short(name) for name in self.give]


def prefixes(*, plans: bool) -> tuple[str, ...]:
    """Where the names lie that are exchanged; plans carry prices, so only if asked for."""
    return (STAGES, HANDOVERS, PLANS) if plans else (STAGES, HANDOVERS)


def short(name: str) -> str:
    """The name as people write it: "handover/1", "plan:turbo"."""
    if name.startswith(PLANS):
        return "plan:" + name.removeprefix(PLANS)
    return name.removeprefix("refs/tags/")


def compare(repo: Repo, tip: str, ours: Names, theirs: Names) -> Exchange:
    """What has to go where once both sides stand at `tip`. Reads only."""
    out = Exchange()
    _stages(repo, tip, ours, theirs, out)
    graph = entries.graph(repo, tip)
    mine, other = _named(HANDOVERS + "[0-9]{1,6}", ours, theirs)
    _handovers(repo, graph, tip, mine, other, out)
    mine, other = _named(PLANS + ".*", ours, theirs)
    for name in sorted(mine.keys() | other.keys()):
        _plan(repo, graph, name, mine, other, out)
    return out


def needed(repo: Repo, *roots: str) -> list[ShaFile]:
    """Of the objects that are lent, those that the roots lead to, each after what it names."""
    found: dict[ObjectID, ShaFile] = {}
    waiting = [ObjectID(root.encode()) for root in roots]
    while waiting:
        item = repo.lent.get(waiting.pop())
        if item is not None and item.id not in found:
            found[item.id] = item
            waiting += ordering.names(item)
    return list(ordering.named_first(found.values()))


def _stages(repo: Repo, tip: str, ours: Names, theirs: Names, out: Exchange) -> None:
    """The entry's own word counts; a tag that contradicts it is told by `verify`, too."""
    for stage, entry in rules.Past(entries.history(repo, tip)).stages.items():
        name = STAGES + stage
        here, there = ours.get(name), theirs.get(name)
        if rules.stage_refusal(stage):
            continue
        if here is None:
            out.take[name] = (None, entry.id)
        if there is None:
            out.give[name] = (None, entry.id)
        if here and there and here != there:
            out.differing.append(Differing(short(name), here, there))


def _handovers(
    repo: Repo, graph: Graph, tip: str, mine: Names, other: Names, out: Exchange
) -> None:
    for name in mine.keys() & other.keys():
        if mine[name] != other[name]:
            out.differing.append(Differing(short(name), mine[name], other[name]))
    news = {
        name: held for name, held in {**mine, **other}.items() if name in mine.keys() ^ other.keys()
    }
    faults = _tag_faults(repo, graph, tip, news) if news else {}
    for name, held in sorted(news.items()):
        if name in faults:
            out.refused[short(name)] = faults[name]
        else:
            (out.give if name in mine else out.take)[name] = (None, held)


def _named(pattern: str, *sides: Names) -> Iterator[dict[str, str]]:
    for side in sides:
        yield {name: held for name, held in side.items() if re.fullmatch(pattern, name, re.ASCII)}


def _tag_faults(repo: Repo, graph: Graph, tip: str, tags: Names) -> dict[str, str]:
    numbers = {name.removeprefix(HANDOVERS): held for name, held in tags.items()}
    judged = signatures.judge(repo, graph, tip, {}, {}, numbers).tags
    faults: dict[str, str] = {}
    for name, held in tags.items():
        _, signed = judged.get(short(name), (None, None))
        if signed is None or not isinstance(repo.item(held), Tag):
            faults[name] = "is no handover of an entry of this ledger"
        elif getattr(repo.item(held), "name", b"") != short(name).encode():
            faults[name] = "was made under another name"
        elif signed.state == "altered" or signed.gone:
            faults[name] = f"is not to be trusted: {signed.words}"
    return faults


def _plan(repo: Repo, graph: Graph, name: str, mine: Names, other: Names, out: Exchange) -> None:
    """A plan that one side lacks goes there; one may go on from the other.

    Else each side keeps its own and gets the other's beside it.
    """
    here, there = mine.get(name), other.get(name)
    faults = [_plan_fault(repo, graph, name, one) for one in (here, there) if one and here != there]
    if any(faults):
        out.refused[short(name)] = next(filter(None, faults))
    elif here == there:
        return
    elif here is None or there is None:
        way, plan, side = (out.give, here, other) if here else (out.take, there, mine)
        if plan and plan not in side.values():  # not what was put beside the last time
            way[name] = (None, plan)
    elif here in _line(repo, graph, there):
        out.take[name] = (here, there)
    elif there in _line(repo, graph, here):
        out.give[name] = (there, here)
    else:
        for plan, side, way in ((there, mine, out.take), (here, other, out.give)):
            place = f"{name}-{plan[:8]}"
            if place not in side and plan not in side.values():
                way[place] = (None, plan)
        out.differing.append(Differing(short(name), here, there, short(f"{name}-{there[:8]}")))


def _line(repo: Repo, graph: Graph, plan: str) -> list[str]:
    """A plan's commits back to the entry it was made from, newest first. Where it was brought to
    a newer entry that is the first parent, and the second is the plan before."""
    line: list[str] = []
    while plan not in graph and len(line) < _LONGEST_PLAN:
        line.append(plan)
        parents = repo.commit(plan).parents
        if len(parents) not in (1, 2):
            break
        plan = parents[-1].decode()
    return line


def _base(repo: Repo, graph: Graph, line: list[str]) -> str | None:
    """The entry that a plan's changes are to be made to: the first that its commits follow."""
    for one in line:
        parents = repo.commit(one).parents
        if parents and parents[0].decode() in graph:
            return parents[0].decode()
    return None


def _plan_fault(repo: Repo, graph: Graph, name: str, plan: str) -> str | None:
    """Why what a name holds is no plan of this ledger."""
    refusal = rules.stage_refusal(name.removeprefix(PLANS))
    if refusal:
        return refusal
    try:
        line = _line(repo, graph, plan)
        base = _base(repo, graph, line) if line else plan
        if base not in graph:
            return "does not follow an entry of this ledger"
        change = rules.change_between(repo.files_of(base), repo.files_of(plan))
    except BuildlogError as error:
        return f"cannot be read: {error.what}"
    stray = set(change.all) - {"car.toml", "plan.toml"}
    return f"changes {min(stray)!r}, which a plan may not" if stray else None
