"""Priors, a shop's lists and corrected sessions that both sides changed: joined or asked about."""

from __future__ import annotations

import tomllib

import pytest

from buildlog.errors import ChangedUnderYou
from buildlog.store.join import filemerge
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.verify.verdict import verify_folder
from tests.histories import SESSION, git
from tests.store.test_sync import meet, pair, sound, tip, write

assert pair  # the fixture

PRIORS = """\
format = 1

[driveline_loss]
distribution = "triangular"
unit = "%"
low = 12
mode = 15
high = 20
source = "own coast-downs, 14 cars"
"""
MASS = """
[air_mass_error]  # the shop's own sensor
distribution = "normal"
mean = 0.0
sd = 2.0
unit = "%"
source = "compared with a reference nozzle"
"""
LIST = """\
format = 1
name = "door-gaps"
title = "Gaps after body work"

[[item]]
key = "left"
text = "Left door: gap all round"
low = "3 mm"
high = "5 mm"

[[item]]
key = "right"
text = "Right door: gap all round"
"""
SESSIONS = SESSION + '\n[[pull]]\nfile = "pull-2.csv"\n'
PLACE = "dyno/2026-03-14/"


def start(pair, files):
    """Both laptops with these files recorded."""
    a, b, stick = pair
    write(a, "start", files)
    meet(a, stick)
    meet(b, stick)


def both_change(pair, path, one, other, decide=None, **facts):
    a, b, stick = pair
    write(a, "of a", {path: one}, done_by="RK", **facts)
    write(b, "of b", {path: other}, done_by="07", **facts)
    meet(a, stick)
    done = meet(b, stick, decide) if decide else meet(b, stick)
    meet(a, stick)
    assert tip(a) == tip(b) == tip(stick)
    for folder in pair:
        sound(folder)
    return done, (a / path).read_text()


def test_two_priors_of_two_people_stand_side_by_side(pair):
    start(pair, {"priors.toml": PRIORS})
    other = PRIORS.replace("mode = 15", "mode = 14").replace("14 cars", "31 cars")
    done, text = both_change(pair, "priors.toml", PRIORS + MASS, other)
    assert done.decided == {}
    assert tomllib.loads(text) == tomllib.loads(other + MASS)
    assert "[air_mass_error]  # the shop's own sensor\n" in text


def test_priors_that_both_began_stand_side_by_side(pair):
    done, text = both_change(pair, "priors.toml", PRIORS, "format = 1\n" + MASS)
    assert done.decided == {}
    assert filemerge.form_of("priors.toml").read(text.encode()).keys() >= {
        "driveline_loss.mode",
        "air_mass_error.sd",
    }
    assert "# the shop's own sensor" in text


def test_one_prior_of_two_people_is_asked_about_as_a_whole(pair):
    """Half of each would be a prior that nobody stated."""
    start(pair, {"priors.toml": PRIORS})
    asked = []

    def decide(questions):
        asked.extend(questions)
        return {question.name: "ours" for question in questions}

    one = PRIORS.replace("mode = 15", "mode = 14").replace("14 cars", "31 cars")
    other = PRIORS.replace("high = 20", "high = 22").replace("14 cars", "the maker's sheet")
    done, text = both_change(pair, "priors.toml", one, other, decide)
    (question,) = asked
    assert question.name == "priors.toml:driveline_loss"
    assert "mode 14" in str(question.theirs.value)
    assert "high 22" in str(question.ours.value)
    assert (question.theirs.entry.done_by, question.ours.entry.done_by) == ("RK", "07")
    assert text == other
    assert done.decided == {"priors.toml:driveline_loss": "ours"}


def test_items_of_a_list_come_together(pair):
    start(pair, {"lists/door-gaps.toml": LIST})
    boot = '\n[[item]]\nkey = "boot"\ntext = "Boot lid: gap"  # with the seal in\n'
    done, text = both_change(
        pair, "lists/door-gaps.toml", LIST.replace('"5 mm"', '"0.45 cm"') + boot,
        LIST.replace("Right door: gap all round", "Right door: gap, hinge side first"),
    )  # fmt: skip
    assert done.decided == {}
    for expected in ('"0.45 cm"', boot, "hinge side first", 'low = "3 mm"'):
        assert expected in text


def test_one_limit_of_a_list_is_asked_about(pair):
    a, b, stick = pair
    start(pair, {"lists/door-gaps.toml": LIST})
    write(a, "a", {"lists/door-gaps.toml": LIST.replace('"5 mm"', '"6 mm"')})
    write(b, "b", {"lists/door-gaps.toml": LIST.replace('"5 mm"', '"4.5 mm"')})
    meet(a, stick)
    with pytest.raises(ChangedUnderYou, match=r"lists/door-gaps\.toml:item\[left\]\.high"):
        meet(b, stick)
    meet(b, stick, lambda questions: {"lists/door-gaps.toml:item[left].high": "theirs"})
    assert 'high = "6 mm"' in (b / "lists/door-gaps.toml").read_text()
    sound(b)


def test_two_corrections_of_one_session_come_together(pair):
    pulls = {f"{PLACE}pull-{n}.csv": f"n,P\n{n},2\n" for n in (1, 2)}
    start(pair, {f"{PLACE}session.toml": SESSIONS, **pulls})
    with Ledger.open(pair[0]) as ledger:
        wrong = ledger.entries()[-1].id
    first, second = ('file = "pull-1.csv"\n', 'file = "pull-2.csv"\n')
    said = 'use = false\nnote = "lifted early"\n'
    gear = ("date = 2026-03-14\n", "date = 2026-03-14\ngear = 4\n")
    other = SESSIONS.replace(second, second + 'note = "cold tyres"\n').replace(*gear)
    done, text = both_change(
        pair, f"{PLACE}session.toml", SESSIONS.replace(first, first + said), other,
        kind="correction", corrects=wrong,
    )  # fmt: skip
    assert done.decided == {}
    assert tomllib.loads(text) == tomllib.loads(other.replace(first, first + said))


@pytest.mark.parametrize(
    ("one", "other"),
    [
        (LIST + "what is this", LIST.replace("Left", "The left")),
        (LIST.replace('key = "right"', 'key = "left"'), LIST.replace("Left", "The left")),
    ],
)
def test_what_cannot_be_taken_apart_is_asked_about_as_one_piece(pair, one, other):
    start(pair, {"lists/door-gaps.toml": LIST})
    asked = []

    def decide(questions):
        asked.extend(questions)
        return {question.name: "theirs" for question in questions}

    _, text = both_change(pair, "lists/door-gaps.toml", one, other, decide)
    assert [(q.name, q.is_file) for q in asked] == [("lists/door-gaps.toml", True)]
    assert text == one


def test_a_whole_file_that_an_older_program_chose_is_still_accepted(pair):
    """And a value that neither side wrote is not."""
    a, b, stick = pair
    start(pair, {"lists/door-gaps.toml": LIST})
    one = LIST.replace('"5 mm"', '"6 mm"')
    write(a, "a", {"lists/door-gaps.toml": one})
    write(b, "b", {"lists/door-gaps.toml": LIST.replace('"3 mm"', '"2 mm"')})
    meet(a, stick)
    git(b, "fetch", "-q", str(stick), "main")
    for text, verdict in ((one, "consistent"), (one.replace('"6 mm"', '"9 mm"'), "altered")):
        made = by_plain_git(b, "lists/door-gaps.toml", text)
        git(b, "update-ref", "refs/heads/main", made)
        git(b, "reset", "-q", "--hard")
        found = verify_folder(b)
        assert found.verdict == verdict, found.findings
        git(b, "update-ref", "refs/heads/main", "main^1")
        git(b, "reset", "-q", "--hard")


def by_plain_git(folder, path, text):
    """A merge of main and what was fetched, made by plain git with this content."""
    blob = git(folder, "hash-object", "-w", "--stdin", given=text.encode()).strip()
    git(folder, "update-index", "--cacheinfo", f"100644,{blob},{path}")
    tree = git(folder, "write-tree").strip()
    return git(folder, "commit-tree", "-m", "m", "-p", "main", "-p", "FETCH_HEAD", tree).strip()
