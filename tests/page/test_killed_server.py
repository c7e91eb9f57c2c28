"""A server killed between a tap and its answer: each tap is there once, or still waits."""

from __future__ import annotations

import http.client
import json
import random
import socket
import threading
from collections import Counter
from pathlib import Path

import pytest

from buildlog.records.toml.toml_place import value_at
from tests.page.killed import Mortal, mortal
from tests.page.taps import open_items

pytestmark = pytest.mark.skipif(not hasattr(socket, "AF_UNIX"), reason="kills a process")
ANSWERS = {"done": "pass", "fault": "fail", "does-not-apply": "not-applicable"}


def free_port() -> int:
    with socket.socket() as one:
        one.bind(("127.0.0.1", 0))
        return int(one.getsockname()[1])


@pytest.mark.parametrize("kills", [4, pytest.param(200, marks=pytest.mark.long)])
def test_each_tap_is_there_once_whenever_the_server_is_killed(demo_copy: Path, kills: int) -> None:
    chance, told = random.Random(kills), Counter[str]()
    with mortal(demo_copy, free_port()) as server:
        phone = server.owner()
        items = [what for what, _ in open_items(phone, "before-dyno")]
        first = dict(open_items(phone, "before-dyno"))
        last: dict[str, tuple[str, str]] = {}
        acts: list[str] = []
        for _ in range(kills):
            what = chance.choice(items)
            answer = chance.choice([one for one in ANSWERS if one != last.get(what, ("", ""))[1]])
            act = f"{chance.getrandbits(128):032x}"
            old = f"after:{last[what][0]}" if what in last else first[what]
            fields = {"what": what, "old": old, "answer": answer}
            killer = threading.Timer(
                chance.choice((0.0, chance.uniform(0, 0.1), chance.uniform(0, 0.6))), server.kill
            )
            killer.start()
            try:
                word = str(phone.act("item", act, **fields).json["word"])
            except (OSError, http.client.HTTPException, ValueError):
                word = "no answer"
            killer.join()
            told[word] += 1
            server.start()
            again = [str(phone.act("item", act, **fields).json["word"]) for _ in range(2)]
            assert again == ["done", "done"], (again, word)
            assert word in ("done", "no answer")
            last[what], acts = (act, answer), [*acts, act]
        check = sorted((demo_copy / "checks").glob("*before-dyno*"))[-1].read_bytes()
        for what, (_, answer) in last.items():
            key = what.rpartition("/")[2]
            held = json.loads(value_at(check, ["item", {"key": key}, ["result"]]))
            assert held["result"] == ANSWERS[answer], key
        _every_act_has_one_outcome(server, demo_copy, acts)
    print(told)


def _every_act_has_one_outcome(server: Mortal, car: Path, acts: list[str]) -> None:
    lines = [json.loads(line.partition(" ")[2])
             for line in (car / ".git/buildlog/acts").read_text().splitlines()]  # fmt: skip
    words = {act: [one["is"] for one in lines if one["id"] == act] for act in acts}
    for act, told in words.items():
        assert told.count("done") == 1, (act, told)
        assert set(told) <= {"intent", "done", "void"}, (act, told)
        assert told.count("intent") == 1 + told.count("void"), (act, told)
    assert server.port
