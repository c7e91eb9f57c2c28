"""Records that come back from their plain form: equal in every value, whatever they hold."""

from __future__ import annotations

import datetime as dt
import json
import subprocess
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pydantic import BaseModel

from buildlog.desk.snapshot.record_cache import Known
from buildlog.errors import InvalidInput
from buildlog.records.car.configuration import Configuration
from buildlog.records.car.due import Service
from buildlog.records.checks import Check
from buildlog.records.custody import Custody
from buildlog.records.fasteners import Joint, JointSheet
from buildlog.records.faults import Fault
from buildlog.records.paths import leaves
from buildlog.records.plan import Plan
from buildlog.records.reading import read
from buildlog.records.record_bytes import _makers, plain, put_together
from buildlog.records.schema import MODELS
from buildlog.records.session import Session
from buildlog.store.disk.index_db import Kept
from tests.documents import documents

OF_FOLDER = {"dyno": Session, "checks": Check, "torque": Joint, "faults": Fault,
             "handover": Custody, "sheet": JointSheet, "due": Service,
             "plan.toml": Plan}  # fmt: skip
CAR = b'format = 1\n[car]\nname = "Marrow Tern"\n[engine]\nbore = "84.0 mm"\n'


def through(record):
    """A record kept as JSON text and put together again."""
    return put_together(type(record), json.loads(json.dumps(plain(record))))


@pytest.mark.parametrize("name", ["car", "session"])
@given(data=st.data())
@settings(max_examples=60)
def test_a_record_comes_back_equal(name: str, data: st.DataObject) -> None:
    record = MODELS[name].model_validate(data.draw(documents(name)))
    again = through(record)
    assert again == record
    assert repr(again) == repr(record)  # types too: 9.0 is not 9, a tuple is not a list
    assert again.model_fields_set == record.model_fields_set
    assert leaves(again) == leaves(record)


def test_every_file_of_the_demo_comes_back_equal(demo: Path) -> None:
    ids = subprocess.run(["git", "log", "--all", "--format=%H"], cwd=demo, check=True,
                         capture_output=True, text=True).stdout.split()  # fmt: skip
    seen: dict[str, bytes] = {}
    for commit in ids:
        listed = subprocess.run(["git", "ls-tree", "-r", "--name-only", commit], cwd=demo,
                                check=True, capture_output=True, text=True)  # fmt: skip
        for path in (p for p in listed.stdout.split("\n") if p.endswith(".toml")):
            shown = subprocess.run(["git", "show", f"{commit}:{path}"], cwd=demo, check=True,
                                   capture_output=True)  # fmt: skip
            seen[f"{commit}:{path}"] = shown.stdout
    read_back = 0
    for name, text in seen.items():
        path = name.split(":")[1]
        kind = "sheet" if path.endswith(".sheet.toml") else path.split("/")[0]
        model = Configuration if path == "car.toml" else OF_FOLDER.get(kind)
        if model is not None:
            record = read(model, text, name)
            assert through(record) == record
            assert repr(through(record)) == repr(record)
            read_back += 1
    assert read_back > 50


def test_dates_with_and_without_a_time_stay_what_they_were() -> None:
    when = dt.datetime(2026, 4, 2, 9, 30, tzinfo=dt.UTC)
    for at in (when, when.replace(tzinfo=None), when.date()):
        item = {"key": "leaks", "at": at, "result": "pass"}
        text = {"format": 1, "list": "first-start", "date": when.date(), "item": [item]}
        assert through(Check.model_validate(text)).item[0].at == at


def test_every_field_of_every_model_has_a_way_back() -> None:
    """A union whose plain form does not say which kind it was is refused when it is planned."""
    for model in MODELS.values():
        for each in _below(model):
            assert set(_makers(each)) == set(each.model_fields)


def _below(model, seen=None):
    seen = {} if seen is None else seen
    if model not in seen:
        seen[model] = True
        for inner in model.model_json_schema().get("$defs", {}):
            found = [c for c in _subclasses(BaseModel) if c.__name__ == inner]
            for each in found:
                _below(each, seen)
    return [each for each in seen if each.__module__.startswith("buildlog.records")]


def _subclasses(cls):
    return {each for sub in cls.__subclasses__() for each in {sub, *_subclasses(sub)}}


# What is known, by the bytes of the file


@pytest.fixture
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("BUILDLOG_CACHE", str(tmp_path / "cache"))
    return Kept().path


def judged(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The names of the files that are judged from now on."""
    names: list[str] = []
    monkeypatch.setattr(
        "buildlog.desk.snapshot.record_cache.read",
        lambda model, data, name: names.append(name) or read(
            model, data, name))  # fmt: skip
    return names


def test_a_file_is_judged_once(cache: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    names = judged(monkeypatch)
    first = Known().read(Configuration, CAR, "car.toml")
    again = Known().read(Configuration, CAR, "car.toml of entry 7")
    assert again == first == read(Configuration, CAR, "car.toml")
    assert names == ["car.toml"]
    Known().read(Configuration, CAR + b"\n", "another")
    assert names == ["car.toml", "another"]


def test_other_rules_judge_anew(cache: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    names = judged(monkeypatch)
    Known().read(Configuration, CAR, "before")
    monkeypatch.setattr("buildlog.desk.snapshot.record_cache.rules", lambda: "other")
    Known().read(Configuration, CAR, "after")
    assert names == ["before", "after"]


def test_what_is_wrong_is_said_each_time(cache: Path) -> None:
    for _ in range(2):
        with pytest.raises(InvalidInput, match="bore"):
            Known().read(Configuration, CAR.replace(b"84.0 mm", b"84.0 psi"), "car.toml")


@pytest.mark.parametrize("harm", ["gone", "cut", "flipped", "foreign", "no folder"])
def test_a_harmed_index_changes_no_answer(cache: Path, harm: str) -> None:
    truth = Known().read(Configuration, CAR, "car.toml")
    if harm == "gone":
        cache.unlink()
    elif harm == "cut":
        cache.write_bytes(cache.read_bytes()[:100])
    elif harm == "flipped":
        data = bytearray(cache.read_bytes())
        for place in range(0, len(data), 97):
            data[place] ^= 1
        cache.write_bytes(data)
    elif harm == "foreign":
        cache.write_bytes(b"not a database at all" * 100)
    else:
        for left in cache.parent.iterdir():
            left.unlink()
        cache.parent.rmdir()
        cache.parent.write_bytes(b"a file where the folder should be")
    assert Known().read(Configuration, CAR, "car.toml") == truth
    assert Known().read(Configuration, CAR, "car.toml") == truth
