"""The rules of an entry by themselves: which codes each thing that is wrong gives, and no other."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

import pytest

from buildlog.errors import InvalidInput
from buildlog.findings import Finding
from buildlog.store.git.message import KINDS, EntryFacts
from buildlog.store.git.repo import REGULAR, Files
from buildlog.store.ledger import rules
from buildlog.store.ledger.entries import Entry, metres

ONE, TWO, THREE, FOUR = (f"{number:040x}" for number in range(1, 5))
BLOB, OTHER = "a" * 40, "b" * 40


def entry(number: int, parents: tuple[str, ...], **said: Any) -> Entry:
    plain: dict[str, Any] = dict.fromkeys(Entry.__dataclass_fields__)
    odometer = said.get("odometer")
    return Entry(**(plain | {
        "number": number, "id": f"{number:040x}", "parents": parents, "tree": BLOB,
        "kind": "build", "subject": "x", "notes": "", "work_date": date(2026, 3, number),
        "recorded_at": datetime(2026, 3, number, tzinfo=UTC), "odometer_m": metres(odometer),
        "recorded_outside": False, "signed": False} | said))  # fmt: skip


PAST = rules.Past([
    entry(1, (), odometer="90000 mi", stage="stock"),
    entry(2, (ONE,), odometer="88000 mi", odometer_note="another instrument"),
    entry(3, (TWO,)),
    entry(4, (THREE,), kind="earlier", work_date=date(2019, 5, 1), odometer="99999 mi"),
])  # fmt: skip


def codes(found: list[Finding]) -> list[str]:
    return [finding.code for finding in found]


def judged(parents: tuple[str, ...] = (FOUR,), **said: Any) -> list[str]:
    nothing = rules.FileChange((), (), ())
    found = rules.judge(EntryFacts("x", **said), nothing, {}, parents, PAST)
    assert all(one.where is None for one in found)  # no file is at fault
    return codes(found)


SAID: list[tuple[dict[str, Any], list[str]]] = [
    ({}, []),
    ({"odometer": "88000 mi"}, []),
    ({"odometer": "87999 mi"}, ["odometer-order"]),
    ({"odometer": "87999.9 mi"}, ["odometer-order"]),
    # 88,000 mi are 141,622.3 km; both readings are rounded, the one to a mile, the other to a km
    ({"odometer": "141621 km"}, []), ({"odometer": "141620 km"}, ["odometer-order"]),
    ({"odometer": "87999 mi", "odometer_note": "why"}, []),
    ({"odometer": "87999 mi", "kind": "earlier"}, []),
    ({"odometer": "unknown"}, []), ({"odometer": "0 mi"}, ["odometer-order"]),
    ({"odometer": "-1 mi"}, ["odometer", "odometer-order"]),
    ({"odometer": "88 kg"}, ["odometer"]), ({"odometer": "about 88000"}, ["odometer"]),
    ({"work_date": date(2026, 3, 3)}, []), ({"work_date": date(2026, 3, 2)}, ["date-order"]),
    ({"work_date": date(2026, 3, 2), "kind": "earlier"}, []),
    ({"work_date": date(2026, 3, 2), "odometer_note": "why"}, []),
    ({"work_date": date(2026, 3, 2), "odometer": "1 mi"}, ["date-order", "odometer-order"]),
    *(({"kind": kind}, ["corrects"] if kind == "correction" else []) for kind in KINDS),
    ({"kind": "tuning"}, ["kind"]),
    ({"kind": "correction", "corrects": TWO}, []), ({"corrects": TWO, "resolves": ONE}, []),
    ({"kind": "correction", "corrects": BLOB}, ["target"]), ({"resolves": BLOB}, ["target"]),
    ({"stage": "stage-1"}, []), ({"stage": "stock"}, ["stage-used"]),
    ({"stage": "a" * 60}, []), ({"stage": "a" * 61}, ["stage-name"]),
    *(({"stage": name}, []) for name in (
        "A", "Stage_2.1", "7a", "3fa81c", "1st", "a" * 41, "g12345678")),
    *(({"stage": name}, ["stage-name"]) for name in (
        "", "7", "2026", "3fa81c0", "a" * 40, "latest", "first", "working", "last-dyno", "unknown",
        ".a", "-a", "_a", "a.", "a..b", "a.lock", "a b", "a/b", "é", "a\n")),
]  # fmt: skip


@pytest.mark.parametrize(("said", "wrong"), SAID, ids=map(str, range(len(SAID))))
def test_what_an_entry_says(said: dict[str, Any], wrong: list[str]) -> None:
    assert judged(**said) == wrong


@pytest.mark.parametrize("parents", [(), (BLOB,), (TWO, THREE)])
def test_without_a_line_behind_it_nothing_is_out_of_order(parents: tuple[str, ...]) -> None:
    """Two lines that meet have no order of their own; the first entry follows none."""
    assert judged(parents, odometer="1 mi", work_date=date(2001, 1, 1)) == []


def test_the_first_entry_that_took_a_stage_keeps_it() -> None:
    past = rules.Past([entry(1, (), stage="a"), entry(2, (ONE,), stage="a")])
    assert past.stages["a"].number == 1


# before, after, the kind of the entry, what is wrong
FILES: list[tuple[str, str, str, list[str]]] = [
    ("", "car.toml", "build", []), ("car.toml", "car.toml*", "build", []),
    ("car.toml", "", "build", ["file-deleted"]),
    ("", "dyno/a/pull-1.csv", "dyno", []),
    ("dyno/a/pull-1.csv", "dyno/a/pull-1.csv*", "build", ["file-changed"]),
    ("dyno/a/pull-1.csv", "dyno/a/pull-1.csv*", "correction", ["file-changed"]),
    ("dyno/a/pull-1.csv", "", "correction", ["file-deleted"]),
    ("dyno/a/session.toml", "dyno/a/session.toml*", "dyno", ["session-changed"]),
    ("dyno/a/session.toml", "dyno/a/session.toml*", "correction", []),
    ("dyno/a/session.toml", "", "correction", ["file-deleted"]),
    *((f"{folder}/a.toml", f"{folder}/a.toml*", "build", ["file-changed"])
      for folder in ("checks", "torque", "faults")),
    ("lists/a.toml", "lists/a.toml*", "build", []), ("lists/a.toml", "", "build", []),
    ("priors.toml", "", "build", []), ("attachments/a.pdf", "", "build", ["file-deleted"]),
    ("", "plan.toml", "build", ["plan-on-main"]), ("plan.toml", "plan.toml*", "build", []),
    ("", "attachments/a.pdf!", "build", ["file-not-regular"]), ("", "readme!", "build", []),
    ("attachments/a", "attachments/a*!", "build", ["file-not-regular", "file-changed"]),
    ("", "attachments/nul", "build", ["file-name"]),
    ("", "attachments/a attachments/A", "build", ["file-twins"]),
    ("readme", "readme*", "build", []), ("readme", "", "build", []),
]  # fmt: skip


def files(text: str) -> Files:
    """ "a b*! c" as files: * holds something else, ! is a link."""
    return {
        name.rstrip("*!").encode(): (
            0o120000 if "!" in name else REGULAR, OTHER if "*" in name else BLOB)
        for name in text.split()
    }  # fmt: skip


@pytest.mark.parametrize(
    ("before", "after", "kind", "wrong"), FILES, ids=map(str, range(len(FILES)))
)
def test_what_becomes_of_files(before: str, after: str, kind: str, wrong: list[str]) -> None:
    old, new = files(before), files(after)
    change = rules.change_between(old, new)
    facts = EntryFacts("x", kind=kind, corrects=ONE if kind == "correction" else None)
    found = rules.judge(facts, change, new, (), PAST)
    assert codes(found) == wrong
    for one in found:
        assert one.severity == "error"
        assert (one.where or "").encode() in old.keys() | new.keys()


def test_the_difference_of_two_sets_of_files() -> None:
    change = rules.change_between(files("a b c d"), files("b c* d! e"))
    assert change == rules.FileChange(("e",), ("c", "d"), ("a",))
    assert change.all == ("a", "c", "d", "e")
    assert change
    for one in (rules.FileChange(("a",), (), ()), rules.FileChange((), ("a",), ()),
                rules.FileChange((), (), ("a",))):  # fmt: skip
        assert one
    assert not rules.change_between(files("a"), files("a"))


@pytest.mark.parametrize("count", [0, 1, 2, 6, 7, 9])
def test_up_to_six_faults_are_told_together(count: int) -> None:
    found = [Finding("x", "error", f"fault {n}.", hint=f"hint {n}") for n in range(count)]
    if not found:
        rules.refuse(found)
        return
    with pytest.raises(InvalidInput) as caught:
        rules.refuse(found)
    why = caught.value.why or ""
    assert caught.value.what.rstrip(".") == "fault 0"
    assert caught.value.hint == "hint 0"
    assert [n for n in range(count) if f"fault {n}" in why] == list(range(1, min(count, 6)))
    assert ("more" in why) == (count > 6)
    assert count <= 6 or f"{count - 6} more" in why
