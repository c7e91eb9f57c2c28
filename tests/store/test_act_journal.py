"""The journal of acts: what a line says after a death, a torn end, a repeated id, many days."""

from __future__ import annotations

import datetime as dt
from pathlib import Path

import pytest

from buildlog.desk.acts import working_files
from buildlog.desk.acts.acting_once import held_at, once
from buildlog.errors import ChangedUnderYou, InvalidInput
from buildlog.records.toml import toml_edit
from buildlog.records.toml.toml_place import value_at
from buildlog.store.ledger import act_journal
from buildlog.store.ledger.act_journal import ActMeant, ActOutcome
from buildlog.store.ledger.ledger import Ledger

PATH = "checks/2026-05-09-rounds.toml"
TEXT = b'format = 1\nlist = "rounds"\ndate = 2026-05-09\n' + b"".join(
    f'\n[[item]]\nkey = "{key}"\nresult = "not-done"\n'.encode() for key in ("a", "b", "c")
)


@pytest.fixture
def car(tmp_path: Path) -> Path:
    with Ledger.create(tmp_path / "car", nonce="0" * 32) as ledger:
        ledger.write_working("car.toml", b'format = 1\n[car]\nname = "Marrow Tern"\n')
        ledger.write_working(PATH, TEXT)
    return tmp_path / "car"


def place(key: str) -> list[object]:
    return ["item", {"key": key}]


def answered(ledger: Ledger, key: str, result: str) -> None:
    def edit(data: bytes) -> bytes:
        at = "abc".index(key)
        return toml_edit.set_values(data, {f"item.{at}.result": result})

    working_files.change(ledger, PATH, edit, places=[place(key)])


def sent(car: Path, name: str, key: str, result: str, old: str | None = None) -> ActOutcome:
    meant = ActMeant(name, f"{key} {result}", old)
    return once(car, meant, lambda ledger: answered(ledger, key, result)).outcome


def held(car: Path, key: str) -> str:
    return value_at((car / PATH).read_bytes(), place(key))


def test_an_act_happens_once_however_often_it_is_sent(car: Path) -> None:
    old = held(car, "a")
    assert sent(car, "1" * 32, "a", "pass", old).word == "done"
    after = (car / PATH).read_bytes()
    answered(Ledger(car), "a", "not-done")  # and back: the item holds again what the act was for
    assert held(car, "a") == old
    assert sent(car, "1" * 32, "a", "pass", old).word == "done"
    assert held(car, "a") == old
    assert b"1" * 32 not in after


def test_other_changes_of_the_file_stand_and_one_of_the_place_is_a_question(car: Path) -> None:
    old = {key: held(car, key) for key in "abc"}
    answered(Ledger(car), "b", "fail")
    assert sent(car, "1" * 32, "a", "pass", old["a"]).word == "done"
    came = sent(car, "2" * 32, "b", "pass", old["b"])
    assert (came.word, came.old) == ("question", old["b"])
    assert came.now == held(car, "b") != old["b"]
    assert sent(car, "2" * 32, "b", "pass", held(car, "b")).word == "question"  # for ever
    assert sent(car, "3" * 32, "b", "fail", old["b"]).word == "already"


def test_the_same_id_with_another_content_is_a_question(car: Path) -> None:
    assert sent(car, "1" * 32, "a", "pass", held(car, "a")).word == "done"
    assert sent(car, "1" * 32, "a", "fail", held(car, "a")).word == "question"
    assert '"pass"' in held(car, "a")


def test_what_the_desk_refuses_is_refused_for_ever(car: Path) -> None:
    def refuse(_: Ledger) -> None:
        raise InvalidInput("no unit")

    meant = ActMeant("1" * 32, "a 43,5")
    assert once(car, meant, refuse).outcome == ActOutcome("refused", "no unit")
    came = once(car, meant, lambda ledger: answered(ledger, "a", "pass"))
    assert came.outcome.word == "refused"
    assert '"not-done"' in held(car, "a")


def test_nine_who_saw_the_same_list_all_succeed(car: Path) -> None:
    """Each edit was meant for the text before all the others, as nine people's are."""
    seen = (car / PATH).read_bytes()
    for key in "abc":

        def edit(data: bytes, at: int = "abc".index(key)) -> bytes:
            return toml_edit.set_values(data, {f"item.{at}.result": "pass"})

        working_files.change(Ledger(car), PATH, edit, seen, [place(key)])
    assert all('"pass"' in held(car, key) for key in "abc")
    with pytest.raises(ChangedUnderYou):
        working_files.change(Ledger(car), PATH, lambda data: data + b"# x\n", seen, [place("a")])


@pytest.mark.parametrize(
    ("state", "word"),
    [("after", "done"), ("before", None), ("edited", "done"), ("other", "question")],
)
def test_an_act_that_was_cut_short_is_settled_by_whoever_writes_next(
    car: Path, state: str, word: str | None
) -> None:
    act, before = ActMeant("1" * 32, "a pass", held(car, "a")), (car / PATH).read_bytes()
    after = toml_edit.set_values(before, {"item.0.result": "pass"})
    with Ledger(car) as ledger, ledger.writing():
        ledger.journal.intend(act, PATH, before, after, [place("a")])  # and then it died
    text = {
        "after": after, "before": before,
        "edited": after + b'note = "by an editor"\n',
        "other": toml_edit.set_values(before, {"item.0.result": "fail"}),
    }[state]  # fmt: skip
    (car / PATH).write_bytes(text)
    answered(Ledger(car), "c", "pass")  # the command line
    with Ledger(car) as ledger:
        found = ledger.known_act(act)
    assert (found.word if found else None) == word


def test_a_torn_end_is_cut_and_what_stands_before_it_stays(car: Path) -> None:
    assert sent(car, "1" * 32, "a", "pass", held(car, "a")).word == "done"
    journal = car / ".git" / act_journal.JOURNAL
    whole = journal.read_bytes()
    for torn in (b"0", b"0123456789abcdef {", whole[: len(whole) // 3], b"\0" * 200):
        journal.write_bytes(whole + torn)
        assert sent(car, "1" * 32, "a", "pass").word == "done", torn
        assert journal.read_bytes() == whole, torn


def test_what_is_old_is_forgotten_by_days_of_use_whatever_the_clock_says(
    car: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    days = iter(range(1000))

    class Day(dt.date):
        @classmethod
        def today(cls) -> Day:
            number = next(days) // 2
            return cls(2026 + (30 if number % 7 == 3 else 0), 1, 1) + dt.timedelta(number)  # type: ignore[return-value]

    monkeypatch.setattr(act_journal.dt, "date", Day)
    monkeypatch.setattr(act_journal, "_LARGE", 1)
    results = ("pass", "fail")
    for number in range(100):
        assert sent(car, f"{number:032}", "a", results[number % 2], held(car, "a")).word == "done"
    with Ledger(car) as ledger:
        known = [
            n for n in range(100) if ledger.known_act(ActMeant(f"{n:032}", f"a {results[n % 2]}"))
        ]
    assert known == list(range(known[0], 100))
    assert 100 - known[0] >= act_journal._REMEMBERED - 1
    assert known[0] > 0


def test_a_place_that_a_screen_shows_is_what_an_act_compares(car: Path) -> None:
    with Ledger(car) as ledger:
        shown = held_at(ledger, PATH, place("a"))
        assert held_at(ledger, "checks/none.toml", place("a")) == ""
    assert shown == held(car, "a") == '{"key": "a", "result": "not-done"}'
