"""Flipped bits, edited histories, hostile input: everything is reported, nothing crashes.

Methods: single-bit flips of every kind of file, beside git's own `fsck`; edits of the
history of twelve kinds at every entry (reliability page, 4.2). What a flip leaves equal
in content is counted apart, and git must call it whole as well.
"""

from __future__ import annotations

import contextlib
import os
import random
import shutil
import string
import subprocess
from collections import Counter
from pathlib import Path

import pytest

from buildlog.errors import BuildlogError, DamagedLedger
from buildlog.records.car.configuration import Configuration
from buildlog.records.checks import Check
from buildlog.records.faults import Fault
from buildlog.records.reading import load
from buildlog.records.session import Session
from buildlog.records.toml import toml_edit
from buildlog.store.exchange import bundle, passing_on
from buildlog.store.ledger import key_events
from buildlog.store.ledger.fingerprint import fingerprint
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.verify.repacking import pack
from buildlog.store.verify.verdict import Outside, verify, verify_folder
from tests.counting import lines_run
from tests.histories import (
    CAR,
    PULL,
    SESSION,
    git,
    history,
    loosen,
    next_recorder,
    put,
    record,
    usual,
)
from tests.signing import key, needs_ssh_keygen

FAULT = """\
format = 1
symptom = "squeals at a cold start, gone when warm"
state = "open"
date = 2026-01-09
"""


def judged(folder, **outside):
    return verify_folder(folder, Outside(**outside))


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """A ledger of six entries with an annotated tag. For reading only."""
    folder = tmp_path_factory.mktemp("whole") / "car"
    with usual(folder) as ledger:
        for number in range(3):
            put(f"faults/{number}.toml", FAULT)(_At(folder))
            put("car.toml", CAR.replace("1994", str(1995 + number)))(_At(folder))
            record(f"more {number}", odometer=f"{89000 + number} mi")(_Story(ledger))
        passing_on.tag(ledger, 1, "handed over\n", next_recorder(ledger))
    return folder


class _At:
    def __init__(self, folder):
        self.folder = folder


class _Story(_At):
    def __init__(self, ledger):
        super().__init__(ledger.folder)
        self.ledger = ledger

    def recorder(self):
        return next_recorder(self.ledger)


# --- flips --------------------------------------------------------------------------------


def copies(whole, place):
    """The same ledger loose and packed, with its references loose and packed."""
    loose, packed = place / "loose", place / "packed"
    shutil.copytree(whole, loose)
    loosen(loose)
    shutil.copytree(loose, packed)
    git(packed, "gc", "-q")
    return loose, packed


def kinds(loose, packed):
    """What is flipped: file groups by name."""
    objects = [path for path in (loose / ".git/objects").glob("??/*") if path.is_file()]
    in_pack = sorted((packed / ".git/objects/pack").iterdir())
    return {
        "object": objects,
        "pack": [path for path in in_pack if path.suffix == ".pack"],
        "pack index": [path for path in in_pack if path.suffix == ".idx"],
        "HEAD": [loose / ".git/HEAD"],
        "reference": [p for p in (loose / ".git/refs").rglob("*") if p.is_file()],
        "packed references": [packed / ".git/packed-refs"],
        "config": [loose / ".git/config"],
    }


def flips(path, count, chance):
    """The file with one bit flipped, `count` times or every bit if there are no more."""
    data = path.read_bytes()
    bits = range(8 * len(data))
    for bit in chance.sample(bits, min(count, len(bits))):
        flipped = bytearray(data)
        flipped[bit // 8] ^= 1 << (bit % 8)
        yield bit, bytes(flipped)


def same_to_git(folder):
    """Whether plain git reads the same history as before, references and settings too."""
    done = subprocess.run(
        ["git", "-C", str(folder), "fsck", "--full", "--strict", "--no-dangling"],
        capture_output=True, check=False, env={"PATH": os.environ["PATH"], "HOME": "/dev/null"},
    )  # fmt: skip
    return done.returncode == 0 and b"error" not in done.stderr


def harmless(kind, path, data):
    """Whether a flip left everything as it says: white space of a configuration, a comment."""
    if kind == "config":
        return _settings(path.read_bytes()) == _settings(data)
    if kind == "packed references":
        return _lines(path.read_bytes()) == _lines(data)
    return kind == "object" and same_to_git(path.parents[3])


def _settings(data):
    import io

    from dulwich.config import ConfigFile

    found = ConfigFile.from_file(io.BytesIO(data), expand_includes=False)
    pairs = [(s[0], *pair) for s in found.sections() for pair in found.items(s)]
    return [tuple(part.lower() for part in pair) for pair in pairs]  # git minds no capitals here


def _lines(data):
    return [line for line in data.split(b"\n") if line and not line.startswith(b"#")]


def flip_all(whole, place, counts, seed):
    """Flip, look, flip back. Returns how many flips were reported or harmless, by kind."""
    chance = random.Random(seed)
    loose, packed = copies(whole, place)
    assert judged(loose).findings == judged(packed).findings == ()
    found = Counter()
    for kind, paths in kinds(loose, packed).items():
        for path in paths:
            folder = packed if packed in path.parents else loose
            path.chmod(0o644)
            data = path.read_bytes()
            share = -(-counts[kind] // len(paths))
            for bit, flipped in flips(path, share, chance):
                path.write_bytes(flipped)
                with lines_run() as run:
                    result = judged(folder)
                assert run.number < 500_000
                reported = result.verdict in ("altered", "cannot-tell") or result.findings
                if not reported:
                    path_now = path.read_bytes()
                    path.write_bytes(flipped)
                    before = _with(path, data)
                    assert harmless(kind, before, path_now), (kind, path.name, bit)
                    path.unlink() if before == path else before.unlink()
                found[kind, "reported" if reported else "harmless"] += 1
            path.write_bytes(data)
    return found


def _with(path, data):
    """The file as it was, beside it where its name does not matter."""
    if path.parent.parent.name == "objects":
        return path  # judged in place
    before = path.with_name(path.name + ".was")
    before.write_bytes(data)
    return before


SAMPLE = {"object": 25, "pack": 20, "pack index": 20, "HEAD": 10, "reference": 15,
          "packed references": 20, "config": 20}  # fmt: skip
WHOLE = {"object": 1200, "pack": 500, "pack index": 500, "HEAD": 400, "reference": 1200,
         "packed references": 1200, "config": 1200}  # fmt: skip


def test_130_flips_are_all_reported(whole, tmp_path):
    found = flip_all(whole, tmp_path, SAMPLE, seed=1)
    print(dict(found))
    assert sum(found[kind, "reported"] for kind in SAMPLE) > 0.85 * sum(found.values())


@pytest.mark.long
def test_5600_flips_are_all_reported(whole, tmp_path):
    found = flip_all(whole, tmp_path, WHOLE, seed=2)
    print(dict(found))
    assert sum(found[kind, "reported"] for kind in WHOLE) > 0.85 * sum(found.values())


def test_every_file_lost_emptied_or_swapped_is_reported(whole, tmp_path):
    loose, _ = copies(whole, tmp_path)
    files = kinds(loose, loose)["object"]
    for path, other in zip(files, files[1:] + files[:1], strict=True):
        data = path.read_bytes()
        path.chmod(0o644)
        for damage in (None, b"", other.read_bytes()):
            path.unlink() if damage is None else path.write_bytes(damage)
            result = judged(loose)
            assert result.verdict == "altered"
            assert any(
                path.parent.name + path.name[:10] in f.text or f.where for f in result.findings
            )
            path.write_bytes(data)


def test_the_last_good_entry_is_found_though_the_newest_cannot_be_read(whole, tmp_path):
    loose, _ = copies(whole, tmp_path)
    last = git(loose, "rev-parse", "main").strip()
    (loose / ".git/objects" / last[:2] / last[2:]).unlink()
    result = judged(loose)
    assert result.verdict == "altered"
    assert result.last_good.stage == "stage-1"  # the newest that a tag leads to


# --- edits of the history -----------------------------------------------------------------


def rebuilt(folder, at, change):
    """The history made anew by git itself from entry `at` on, with one thing changed in it."""
    names = git(folder, "rev-list", "--reverse", "main").split()
    new = names[at - 1] if at else ""
    for number in range(at, len(names)):
        raw = git(folder, "cat-file", "commit", names[number])
        head, _, message = raw.partition("\n\n")
        lines = [line for line in head.split("\n") if not line.startswith("parent ")]
        parents = [f"parent {new}"] if new else []
        if number == at:
            lines, parents, message = change(folder, lines, parents, message, names)
            if lines is None:
                continue
        body = "\n".join([lines[0], *parents, *lines[1:]]) + "\n\n" + message
        given = body.encode("utf-8", "surrogateescape")
        new = git(folder, "hash-object", "-t", "commit", "-w", "--stdin", given=given).strip()
    git(folder, "update-ref", "refs/heads/main", new)


def drop(folder, lines, parents, message, names):
    return None, parents, message


def author(folder, lines, parents, message, names):
    return [lines[0], "author B <b@example.invalid> 1767690000 +0000", *lines[2:]], parents, message


def later(folder, lines, parents, message, names):
    changed = [line.replace(" +0000", " +0100") for line in lines]
    return changed, parents, message


def words(folder, lines, parents, message, names):
    return lines, parents, "x" + message


def odometer(folder, lines, parents, message, names):
    return lines, parents, message.replace("Odometer: 8", "Odometer: 1") + "\n"


def by_whom(folder, lines, parents, message, names):
    return lines, parents, message.replace("Record-sha256", "Done-by: XX\nRecord-sha256")


def another_tree(folder, lines, parents, message, names):
    trees = {git(folder, "rev-parse", f"{name}^{{tree}}").strip() for name in names}
    other = sorted(trees - {lines[0].split()[1]})[0]
    return [f"tree {other}", *lines[1:]], parents, message


def a_file(folder, lines, parents, message, names):
    entry = lines[0].split()[1]
    blob = git(folder, "hash-object", "-w", "--stdin", given=CAR.replace("9.2", "7.7").encode())
    listed = git(folder, "ls-tree", entry)
    changed = [
        f"100644 blob {blob.strip()}\tcar.toml" if line.endswith("\tcar.toml") else line
        for line in listed.strip().split("\n")
    ]
    tree = git(folder, "mktree", given=("\n".join(changed) + "\n").encode()).strip()
    return [f"tree {tree}", *lines[1:]], parents, message


def second_parent(folder, lines, parents, message, names):
    return lines, [*parents, f"parent {names[0]}"], message


def no_parent(folder, lines, parents, message, names):
    return lines, [], message


def digest(folder, lines, parents, message, names):
    head, _, rest = message.partition("Record-sha256: ")
    return lines, parents, f"{head}Record-sha256: {'0' * 8}{rest[8:]}"


def nonce(folder, lines, parents, message, names):
    return lines, parents, message.replace("Record-sha256", "Ledger-nonce: 00\nRecord-sha256")


EDITS = [drop, author, later, words, odometer, by_whom, another_tree, a_file, second_parent,
         no_parent, digest, nonce]  # fmt: skip


@pytest.mark.parametrize("edit", EDITS, ids=lambda edit: edit.__name__)
@pytest.mark.one_in(4)
def test_twelve_kinds_of_edits_at_every_entry(whole, tmp_path, edit):
    """With an anchor on paper every one is `altered`; without one all but a cut-off end."""
    with Ledger.open(whole) as ledger:
        paper, count = fingerprint(ledger), len(ledger.entries())
    for at in range(count):
        folder = tmp_path / f"at-{at}"
        shutil.copytree(whole, folder)
        rebuilt(folder, at, edit)
        if git(folder, "rev-parse", "main") == git(whole, "rev-parse", "main"):
            assert (edit, at) in [(no_parent, 0)]  # the first has no parent to lose
            continue
        git(folder, "tag", "-d", "handover/1")  # it would tell of a cut-off end by itself
        assert judged(folder, paper=paper).verdict == "altered"
        alone = judged(folder)
        cut_off = edit is drop and at == count - 1
        assert alone.verdict == ("consistent" if cut_off else "altered"), (at, alone.findings)
        if not cut_off and alone.last_good is not None:
            assert alone.last_good.number <= max(at, 1)


def test_swapped_entries_and_two_cars_grafted(whole, tmp_path):
    names = git(whole, "rev-list", "--reverse", "main").split()
    folder = tmp_path / "swapped"
    shutil.copytree(whole, folder)
    git(folder, "reset", "-q", "--hard", names[2])
    git(folder, "cherry-pick", "--keep-redundant-commits", "--allow-empty", "-X", "theirs",
        names[4], names[3], names[5])  # fmt: skip
    assert judged(folder).verdict == "altered"
    other = history(tmp_path / "other", [put("car.toml", CAR), record("x")], nonce="77" * 16)
    other.close()
    git(folder, "reset", "-q", "--hard", names[5])
    git(folder, "fetch", "-q", str(tmp_path / "other"), "main")
    git(
        folder,
        "merge",
        "-q",
        "-X",
        "ours",
        "--allow-unrelated-histories",
        "-m",
        "graft",
        "FETCH_HEAD",
    )
    assert judged(folder).verdict == "altered"


# --- malformed texts and bundles ----------------------------------------------------------

SEEDS = [
    (Configuration, CAR.encode()),
    (Session, SESSION.encode()),
    (Configuration, 'format = 1\n[car]\nname = "Mérou"\nyear = 1994\n'.encode()),
    (Configuration, CAR.encode() + b"\n[gearbox]\nratios = [3.2, 1.9, 1.3]\n"),
    (Fault, FAULT.encode()),
    (Check, b'format = 1\nlist = "intake"\n'),
]
BITS = [
    b'"', b"'", b"[", b"]", b"[[", b"{", b"}", b"=", b".", b"\n", b"\r", b"\0", b"\x1b[2J",
    b"9" * 30, b"1e999", b"nan", b"inf", b"\xff", "\u202e".encode(), b"#", b"\\u0000",
    b'"""', b"a." * 40, b"[" * 30, b" = ", b"true", b"1994-13-45", b"9**9**9 m", b"90,2 mm",
]  # fmt: skip


def mutated(data, chance):
    """One text with a few things done to it."""
    text = bytearray(data)
    for _ in range(chance.randint(1, 5)):
        at = chance.randrange(len(text) + 1)
        match chance.randrange(5):
            case 0:
                text[at:at] = chance.choice(BITS)
            case 1:
                del text[at : at + chance.randint(1, 12)]
            case 2 if at < len(text):
                text[at] ^= 1 << chance.randrange(8)
            case 3:
                end = at + chance.randint(1, 40)
                text[at:at] = text[at:end]
            case _:
                text[at:at] = chance.choice(string.printable).encode()
    return bytes(text)


def read_mutated(count, seed):
    """Read, and edit what can be read. Returns how many were accepted and the most lines run."""
    chance = random.Random(seed)
    accepted, refused, most = 0, 0, 0
    with contextlib.suppress(BuildlogError):  # loads pint, once for all
        load(Configuration, b'format = 1\n[engine]\nbore = "1 furlong"\n', "x.toml")
    for _ in range(count):
        model, seed_text = chance.choice(SEEDS)
        data = mutated(seed_text, chance)
        with lines_run() as run:
            try:
                record_, _ = load(model, data, "x.toml")
                accepted += record_ is not None
                toml_edit.set_values(data, {"car.year": 2001})
            except BuildlogError:
                refused += 1  # a sentence; any other exception ends the test
        most = max(most, run.number)
    assert accepted + refused > count / 2
    return accepted, most


def test_2000_mutated_texts():
    accepted, most = read_mutated(2_000, seed=3)
    assert accepted > 20
    assert most < 200_000


@pytest.mark.long
def test_20000_mutated_texts():
    accepted, most = read_mutated(20_000, seed=4)
    print(f"{accepted} accepted, at most {most} lines")
    assert accepted > 200
    assert most < 200_000


def refuse_reported(ledger):
    """What `receive` asks, and stage tags, too: the list of references has no check sum."""
    for finding in verify(ledger).findings:
        if finding.severity == "error" or finding.code == "stage-tag":
            raise DamagedLedger(finding.text)


def read_bundles(whole, place, count, seed):
    """Mutated bundles through the whole way in. Returns how many were accepted."""
    with Ledger.open(whole) as ledger:
        named = bundle.references(ledger.repo)
        data = bundle.write(ledger.repo, named)
    chance = random.Random(seed)
    accepted = 0
    for number in range(count):
        bad = bytearray(data)
        for _ in range(chance.randint(1, 3)):
            at = chance.randrange(len(bad))
            match chance.randrange(4):
                case 0 | 1:
                    bad[at] ^= 1 << chance.randrange(8)
                case 2:
                    del bad[at : at + chance.randint(1, 300)]
                case 3:
                    bad[at:at] = chance.randbytes(chance.randint(1, 20))
        folder = place / f"{seed}-{number}"
        with lines_run() as run:
            try:
                found = bundle.read(bytes(bad))
                passing_on.receive(passing_on.Package(found), folder, refuse_reported)
            except BuildlogError:
                received = False
            else:
                received = True
        assert run.number < 1_000_000
        assert folder.exists() == received
        if received:
            accepted += 1
            with Ledger.open(folder) as ledger:
                for name, held in bundle.references(ledger.repo).items():
                    assert named[name] == held  # no id and no name other than the true ones
            shutil.rmtree(folder)
    assert not list(place.glob(".*"))  # no half-made folder is left
    return accepted


def test_400_mutated_bundles(whole, tmp_path):
    assert read_bundles(whole, tmp_path, 400, seed=5) < 20


@pytest.mark.long
def test_4000_mutated_bundles(whole, tmp_path):
    assert read_bundles(whole, tmp_path, 4_000, seed=6) < 100


# --- hostile surroundings -----------------------------------------------------------------

HOSTILE = """\
[core]
\trepositoryformatversion = 0
\tfsmonitor = touch {0}
\thooksPath = {1}
\tsshCommand = touch {0}
\tpager = touch {0}
[include]
\tpath = {1}/more
[filter "x"]
\tclean = touch {0}
\tsmudge = touch {0}
[gc]
\trecentObjectsHook = touch {0}
[alias]
\tlog = !touch {0}
"""


def test_a_hostile_configuration_is_named_and_never_obeyed(whole, tmp_path, monkeypatch, buildlog):
    folder, mark = tmp_path / "car", tmp_path / "was-run"
    shutil.copytree(whole, folder)
    hooks = folder / ".git/hooks"
    hooks.mkdir()
    for name in ("pre-commit", "post-commit", "pre-auto-gc", "reference-transaction"):
        (hooks / name).write_text(f"#!/bin/sh\ntouch {mark}\n")
        (hooks / name).chmod(0o755)
    (folder / ".git/config").write_text(HOSTILE.format(mark, hooks))
    (folder / ".git/info/attributes").write_text("* filter=x\n")
    for name in ("GIT_DIR", "GIT_OBJECT_DIRECTORY", "GIT_INDEX_FILE", "GIT_WORK_TREE"):
        monkeypatch.setenv(name, str(tmp_path / "elsewhere"))
    for name in ("PAGER", "LESSOPEN", "GIT_PAGER", "GIT_SSH_COMMAND", "EDITOR"):
        monkeypatch.setenv(name, f"touch {mark}")
    found = judged(folder)
    assert found.verdict == "consistent"
    named = " ".join(f.text for f in found.findings if f.code == "config-hostile")
    for word in ("fsmonitor", "hookspath", "sshcommand", "include.path", "filter", "alias"):
        assert word in named
    assert [f.code for f in found.findings if f.code == "hooks"] == ["hooks"]
    (folder / "car.toml").write_text(CAR.replace("9.2", "8.0").replace("1994", "1997"))
    for call in (["record", "-m", "x"], ["history"], ["diff"], ["show"], ["verify"], ["pack"]):
        assert buildlog(*call, at=folder).status in (0, 1), call
    assert not mark.exists()
    assert not (tmp_path / "elsewhere").exists()


def test_deep_trees_links_and_strange_names_in_a_foreign_history(whole, tmp_path):
    blob = git(whole, "rev-parse", "main:car.toml").strip()
    cases = {
        "link": f"120000 blob {blob}\tattachments",
        "submodule": f"160000 commit {'1' * 40}\tdyno",
        "escape": f"100644 blob {blob}\tx\x1b[2J.txt",
    }
    for name, line in cases.items():
        folder = tmp_path / name
        shutil.copytree(whole, folder)
        listed = git(folder, "ls-tree", "main").strip().split("\n")
        listed = [
            one for one in [*listed, line] if name != "submodule" or not one.endswith("tree dyno")
        ]
        tree = git(folder, "mktree", "-z", "--missing", given="\0".join(listed).encode() + b"\0")
        commit = git(folder, "commit-tree", tree.strip(), "-p", "main", "-m", name).strip()
        git(folder, "update-ref", "refs/heads/main", commit)
        result = judged(folder)
        assert result.verdict in ("altered", "consistent")
        assert result.findings
    folder = tmp_path / "deep"
    shutil.copytree(whole, folder)
    tree = git(folder, "mktree", given=f"100644 blob {blob}\tx\n".encode()).strip()
    for _ in range(200):
        tree = git(folder, "mktree", given=f"040000 tree {tree}\td\n".encode()).strip()
    commit = git(folder, "commit-tree", tree, "-p", "main", "-m", "deep").strip()
    git(folder, "update-ref", "refs/heads/main", commit)
    assert judged(folder).verdict == "cannot-tell"  # more than is read from anybody


def test_packing_keeps_everything_and_the_next_entry_goes_on(whole, tmp_path, monkeypatch):
    for name in ("git", "dulwich"):
        folder = tmp_path / name
        shutil.copytree(whole, folder)
        with Ledger.open(folder) as ledger:
            before = [entry.id for entry in ledger.entries()]
            if name == "dulwich":
                monkeypatch.setattr(shutil, "which", lambda program, path: None)
            done = pack(ledger)
        assert done.by == name
        assert done.files_after < done.files_before
        with Ledger.open(folder) as ledger:
            assert [entry.id for entry in ledger.entries()] == before
            put("car.toml", CAR)(_At(folder))
            record("after")(_Story(ledger))
        assert judged(folder).verdict == "consistent"
        monkeypatch.undo()
        assert git(folder, "cat-file", "-t", "handover/1").strip() == "tag"
        assert git(folder, "fsck", "--full", "--strict", "--no-dangling") == ""


def test_raw_files_outside_and_calibrations_are_compared(tmp_path):
    import hashlib

    digest_ = hashlib.sha256(PULL).hexdigest()
    session = SESSION + f'outside_sha256 = "{digest_}"\n'
    car = CAR + f'\n[calibration]\nfile = "map.bin"\nfile_sha256 = "{digest_}"\n'
    operations = [
        put("car.toml", car),
        put("attachments/map.bin", PULL),
        put("dyno/2026-01-07/session.toml", session),
        record("x"),
    ]
    with history(tmp_path / "car", operations) as ledger:
        folder = ledger.folder
    assert {f.code for f in judged(folder).findings} == {"raw-outside"}
    (folder / "dyno/2026-01-07/pull-1.csv").write_bytes(PULL)
    assert judged(folder).findings == ()
    (folder / "dyno/2026-01-07/pull-1.csv").write_bytes(PULL + b"1")
    assert judged(folder).verdict == "altered"
    other = [operations[0], put("attachments/map.bin", b"another"), record("x")]
    history(tmp_path / "other", other).close()
    assert [f.code for f in judged(tmp_path / "other").findings] == ["calibration-differs"]


@needs_ssh_keygen
def test_flipped_key_files_and_signatures_are_reported(whole, tmp_path):
    folder = tmp_path / "car"
    shutil.copytree(whole, folder)
    by = key(tmp_path, "k")
    with Ledger.open(folder) as ledger:
        key_events.add(ledger, next_recorder(ledger), by, "bench")
    known = {by.key.text: "bench"}
    assert judged(folder, signers=known).verdict == "intact"
    raw = git(folder, "cat-file", "commit", "main").encode()
    chance = random.Random(9)
    for _ in range(60):
        at = chance.randrange(len(raw))
        forged = bytearray(raw)
        forged[at] = chance.choice(b"abcdefgh0123456789")
        if bytes(forged) == raw:
            continue
        call = ["git", "-C", str(folder), "hash-object", "-t", "commit", "-w", "--literally",
                "--stdin"]  # fmt: skip
        made = subprocess.run(call, input=bytes(forged), capture_output=True, check=True)
        (folder / ".git/refs/heads/main").write_bytes(made.stdout)
        assert judged(folder, signers=known).verdict == "altered", (at, bytes(forged)[at])


def test_a_folder_that_does_not_even_open_is_said_so(whole, tmp_path, buildlog):
    folder = tmp_path / "car"
    shutil.copytree(whole, folder)
    (folder / ".git/config").write_bytes(b"\xff[core\n")
    outcome = buildlog("verify", folder)
    assert outcome.status == 5
    assert outcome.out.startswith("cannot tell")
    assert "Traceback" not in outcome.out + outcome.err
    assert Path(folder).exists()
