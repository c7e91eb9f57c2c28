"""A car's ledger: the facade the command line works with.

Reading needs no write permission and takes no lock. Everything that writes goes through
`record`, `append` or `write_working`, which hold the lock for the whole operation.
Clock, shop and nonce are arguments: the same calls give the same ids on every machine.
"""

from __future__ import annotations

import contextlib
import dataclasses
import datetime as dt
import secrets
import shutil
from collections.abc import Callable, Iterator, Mapping, Sequence
from functools import partial
from pathlib import Path

from dulwich.objects import Blob, ShaFile

from buildlog.errors import ChangedUnderYou, InvalidInput, begun
from buildlog.records.toml.toml_place import Place, values_at
from buildlog.store.disk import atomic
from buildlog.store.disk.atomic import Locked
from buildlog.store.disk.lock import SPOOL, Held, hold, read_holder
from buildlog.store.git import ledger_files, message, packs
from buildlog.store.git.message import EntryFacts
from buildlog.store.git.repo import LISTS, MAIN, Repo
from buildlog.store.ledger import append, proposal, recorded, rules, taken_out
from buildlog.store.ledger.act_journal import (
    ActJournal,
    ActMeant,
    ActOutcome,
    AnotherValue,
    digest_of,
)
from buildlog.store.ledger.append import Recorder
from buildlog.store.ledger.entries import Entry, graph
from buildlog.store.ledger.names import STAGES
from buildlog.store.ledger.proposal import Edits, EntryProposal
from buildlog.store.ledger.reader import Reader
from buildlog.store.ledger.taken_out import TakenOut
from buildlog.store.ledger.working import read as read_file

Prepare = Callable[[EntryProposal], EntryFacts | None]
_NONCE = "buildlog-nonce"
_CONFIG = b"""[core]
\trepositoryformatversion = 0
\tfilemode = false
\tbare = false
\tlogallrefupdates = false
[gc]
\tauto = 0
"""


class Ledger(Reader):
    """One ledger, to be read and written. Close it, or use it in a `with`."""

    patience = 30.0  # seconds to wait for another process that writes

    def __init__(self, folder: Path, repo: Repo | None = None, edits: Edits | None = None) -> None:
        super().__init__(folder, repo)
        self._edits = edits  # to be written to the folder and recorded, or neither
        self._judged: tuple[list[Entry], rules.Past] = ([], rules.Past())
        self.act: ActMeant | None = None
        """The act that the next write to a working file is, where it must happen once."""
        self.journal = ActJournal(self.repo.git, self.folder, self._leads_to)

    # opening

    @classmethod
    def create(cls, folder: Path, *, nonce: str | None = None) -> Ledger:
        """A new ledger without entries. The nonce makes its id unique; `record` uses it once."""
        git = folder / ".git"
        if (git / "HEAD").exists():  # written last: without it an earlier attempt was cut short
            raise InvalidInput(
                "there is a repository in this folder already",
                where=str(folder),
                hint="choose another",
            )
        with atomic.disk_errors("making the ledger"):
            for name in ("objects/info", "objects/pack", "refs/heads", "refs/tags", "info"):
                atomic.make_folder(git / name)
            atomic.replace(git / _NONCE, (nonce or secrets.token_hex(16)).encode())
            atomic.replace(git / "config", _CONFIG)
            atomic.replace(git / "info" / "attributes", ledger_files.KEEP_BYTES)
            atomic.replace(git / "HEAD", f"ref: {MAIN}\n".encode())
        return cls(folder.absolute())

    # writing

    def propose(self, only: Sequence[str] | None = None) -> EntryProposal:
        """What `record` would record now. Reads only; nothing is held."""
        found = proposal.from_folder(self)
        found = proposal.with_edits(found, self._edits) if self._edits else found
        return found if only is None else proposal.limited(found, only)

    def record(
        self, facts: EntryFacts, by: Recorder, prepare: Prepare | None = None,
        only: Sequence[str] | None = None,
    ) -> Entry:  # fmt: skip
        """Record the working files as one entry and return it once no power cut can take it.

        `prepare` sees the proposal under the lock; it raises to refuse, and may return the
        facts completed (`changed`, `measured`). `only`: these paths; what else was edited stays
        in the folder, not recorded.
        """
        with self.writing() as held, append.index_lock(self.repo, held) as lock:
            meant = self.propose(only)
            meant.refuse_unrecordable()
            facts = (prepare(meant) if prepare else None) or facts
            if not meant.change and not facts.stage and facts.kind in ("build", "dyno", "fault"):
                raise InvalidInput(
                    "nothing has changed since the last entry",
                    hint="edit car.toml or add a session first",
                )
            return self._add(held, lock, meant, facts, by)

    def append(
        self, changes: Mapping[str, bytes | None], facts: EntryFacts, by: Recorder,
        expect: str | None = None,
    ) -> Entry:  # fmt: skip
        """Record given files (None: remove) on the tip; edits in the folder stay unrecorded.

        `expect` is the tip that was seen: ChangedUnderYou if another entry was recorded since.
        """
        with self.writing() as held, append.index_lock(self.repo, held) as lock:
            base = self.propose()
            if expect is not None and expect != base.tip:
                raise ChangedUnderYou(
                    "another entry was recorded meanwhile", hint="look at it, then record again"
                )
            return self._add(held, lock, proposal.with_changes(base, changes), facts, by)

    def advance(self, old: str | None, new: str, objects: Sequence[ShaFile]) -> bool:
        """Go on to a commit that follows `old` and was made elsewhere; the folder goes along.

        False, and nothing done, if `main` isn't `old` any more. ChangedUnderYou if an edit
        that is not recorded stands in the way.
        """
        with self.writing() as held, append.index_lock(self.repo, held) as lock:
            if self.repo.tip() != old:
                return False
            with self.repo.adding(objects):
                files, step = proposal.step_to(self.repo, self.folder, old, new)
                for path in step.write + step.drop:
                    refuse_links(self.folder, path.decode("utf-8", "surrogateescape"))
                append.publish(self.repo, self.folder, held, lock, old, new, files, step)
            self._tag_stages(held)
            return True

    def settle(self, *, always: bool = False) -> None:
        """Finish what a process that died left half done: its locks, the folder, the index."""
        tip = self.repo.tip()
        if tip is not None and (always or read_holder(self.repo.git) is not None):
            self.advance(tip, tip, [])

    def write_working(self, path: str, data: bytes, *, expect: bytes | None = None) -> None:
        """Replace a working file, whole or not at all; with `expect`, only if it holds that."""
        refuse_path(path)
        with self.writing():
            self._refuse_known()
            before = self._lasting(path)
            if expect is not None and before not in (None, expect):
                raise ChangedUnderYou(
                    "the file was changed meanwhile", where=path, hint="do it again"
                )
            with self.acting(path, before, data):
                self._put(path, data)

    def change_working(
        self, path: str, edit: Callable[[bytes], bytes], seen: bytes, places: Sequence[Place]
    ) -> tuple[bytes, bytes]:
        """Edit a working file where it stands: before and after.

        `places` are what the edit changes. What others changed beside them meanwhile is kept;
        AnotherValue where the places themselves hold something else than they did in `seen`, or
        than the act was meant for. An act that finds there what it wants is done already.
        """
        refuse_path(path)
        with self.writing():
            self._refuse_known()
            before = self._lasting(path)
            if before is None:
                raise ChangedUnderYou("the file was removed meanwhile", where=path)
            if self.act is None:
                _refuse_another(path, values_at(seen, places), values_at(before, places))
                after = edit(before)
            else:
                after = self._as_asked(self.act, path, edit, before, places)
            with self.acting(path, before, after, places):
                self._put(path, after)
            return before, after

    def remove_working(self, path: str, digest: str) -> None:
        """Take a working file away that nobody has changed since it had this digest."""
        refuse_path(path)
        with self.writing():
            self._refuse_known()
            before = self._lasting(path)
            if before is None or digest_of(before) != digest:
                raise ChangedUnderYou("the file was changed meanwhile", where=path)
            with self.acting(path, before, None):
                place = self.folder / path
                place.unlink()
                atomic.fsync_folder(place.parent)

    def _as_asked(
        self, act: ActMeant, path: str, edit: Callable[[bytes], bytes], before: bytes,
        places: Sequence[Place],
    ) -> bytes:  # fmt: skip
        """The text with an act's change; ActKnown or AnotherValue, noted, where it is not made."""
        after, now = edit(before), values_at(before, places)
        if values_at(after, places) == now:
            self.journal.end(act, ActOutcome("already", path=path, now=now))
            self._refuse_known()
        try:
            _refuse_another(path, self.journal.seen(act, now), now)
        except AnotherValue as error:
            self.journal.end(act, ActOutcome("question", error.what, path, error.old, error.now))
            raise
        return after

    def _on_disk(self, path: str) -> bytes | None:
        refuse_links(self.folder, path)
        return read_file(self.folder, path) if (self.folder / path).exists() else None

    def _lasting(self, path: str) -> bytes | None:
        """A working file as it is on the disk, for good where an act hangs on it: what a dead
        process moved there without forcing it may go with the power, after the act was judged."""
        if self.act is not None:
            self.journal.force_names((self.folder / path).parent)
        return self._on_disk(path)

    def _put(self, path: str, data: bytes) -> None:
        place = self.folder / path
        begun(f"{path} is written", f"{path} is as it was",
              lambda: place.exists() and read_file(self.folder, path) == data)  # fmt: skip
        atomic.replace(place, data, spool=self.repo.git / SPOOL)

    def take_out(self, paths: Sequence[str], back: Mapping[str, bytes]) -> TakenOut:
        """Take files that are not recorded out of the folder; they are kept for a week.

        `back`: the recorded text of files that were changed, which they get again.
        ChangedUnderYou where one of them was recorded meanwhile, or is gone.
        """
        with self.writing():
            self._refuse_known()
            entries = self.entries()
            recorded = self.files(entries[-1]) if entries else {}
            for path in (*paths, *back):
                refuse_path(path)
                if (path in recorded) != (path in back) or self._on_disk(path) is None:
                    raise ChangedUnderYou("the file was recorded or removed meanwhile", where=path)
            files = {path: read_file(self.folder, path) for path in (*paths, *back)}
            done = taken_out.keep(self.folder, files, back, dt.datetime.now().astimezone())
            act, self.act = self.act, None
            last = (*back, *paths)[-1]  # where it is as it is meant to be, all are
            if act is not None:
                self.journal.intend(act, last, files[last], back.get(last))
            for path, data in back.items():
                self._put(path, data)
            for path in paths:
                place = self.folder / path
                begun(f"{path} is taken out", f"{path} is where it was", partial(_is_gone, place))
                place.unlink()
                atomic.fsync_folder(_drop_empty(place.parent, self.folder))
            if act is not None:
                self.journal.end(act, ActOutcome("done", path=last))
            return done

    def put_back(self, one: TakenOut) -> None:
        """What was taken out, in the folder again; ChangedUnderYou where something stands there."""
        with self.writing():
            for path in one.paths:
                refuse_path(path)
                there = self._on_disk(path)
                known = one.instead.get(path)
                if (
                    there is not None
                    and there != one.data(path)
                    and (known != taken_out.digest(there))
                ):
                    raise ChangedUnderYou("another file stands there now", where=path,
                                          hint="take that one out first")  # fmt: skip
            for path in one.paths:
                self._put(path, one.data(path))
            taken_out.forget(one)

    # an act that must happen once

    @contextlib.contextmanager
    def acting(
        self, path: str, before: bytes | None, after: bytes | None, places: Sequence[Place] = ()
    ) -> Iterator[None]:
        """What is written inside, under the lock, is the act: noted before and after."""
        act, self.act = self.act, None
        if act is None:
            yield
            return
        self.journal.intend(act, path, before, after, places)
        yield
        self.journal.end(act, ActOutcome("done", path=path))

    @contextlib.contextmanager
    def moving(self, reference: str, commit: str) -> Iterator[Callable[[], None]]:
        """The same of an act that makes a branch lead to a commit; what comes is called once it
        does, and notes that this computer has recorded an entry."""
        act, self.act = self.act, None
        if act is not None:
            self.journal.intend_move(act, reference, commit)

        def moved() -> None:
            if reference == MAIN:
                recorded.note(self.repo.git, commit)
            if act is not None:
                self.journal.end(act, ActOutcome("done", path=reference))

        yield moved

    def _leads_to(self, reference: str, commit: str) -> bool:
        tip = self.repo.reference(reference)
        return tip is not None and commit in graph(self.repo, tip)

    def known_act(self, act: ActMeant) -> ActOutcome | None:
        """What came of an act that was sent before, an unfinished one's settled first."""
        with self.writing():
            return self.journal.outcome(act)

    def refuse_act(self, act: ActMeant, said: str) -> ActOutcome:
        """Note that an act was refused; what came of it where that is known already."""
        with self.writing():
            known = self.journal.outcome(act)
            outcome = known or ActOutcome("refused", said)
            if known is None:
                self.journal.end(act, outcome)
            return outcome

    def note_done(self, act: ActMeant) -> None:
        """Note that an act was done that writes no working file, and says so itself elsewhere."""
        with self.writing():
            self.journal.end(act, ActOutcome("done"))

    def _refuse_known(self) -> None:
        if self.act is not None:
            self.journal.refuse_known(self.act)

    def judged(self, meant: EntryProposal, facts: EntryFacts, today: dt.date) -> EntryFacts:
        """The facts with their day; InvalidInput where an entry with them would break a rule."""
        facts = facts if facts.work_date else dataclasses.replace(facts, work_date=today)
        parents = [meant.tip] if meant.tip else []
        rules.refuse(rules.judge(facts, meant.change, meant.new, parents, self._past()))
        return facts

    # inside

    @contextlib.contextmanager
    def writing(self) -> Iterator[Held]:
        """The ledger's lock, in a folder that shows `main`."""
        with hold(self.repo.git, self.patience) as held:
            if not self.repo.head_is_main():
                raise ChangedUnderYou(
                    "a plain git shows another branch than main in this folder",
                    hint="go back with `git switch main`",
                )
            attributes = self.repo.git / "info" / "attributes"
            if not attributes.exists():
                atomic.replace(attributes, ledger_files.KEEP_BYTES)
            self.journal.settle()
            yield held

    def _past(self) -> rules.Past:
        known = self._history()
        if self._judged[0] is not known:
            self._judged = (known, rules.Past(known))
        return self._judged[1]

    def _add(
        self, held: Held, lock: Locked, meant: EntryProposal, facts: EntryFacts, by: Recorder
    ) -> Entry:
        parents = [meant.tip] if meant.tip else []
        repaired = recorded.repaired(self.repo.git)
        facts = dataclasses.replace(
            self.judged(meant, facts, by.now.date()),
            repaired=repaired or facts.repaired, written_by=by.written_by or facts.written_by,
        )  # fmt: skip
        step = meant.step()
        blobs = self._blobs(meant)
        nonce = None if parents else self._nonce()
        shop = append.identity(by.shop, self.id or nonce or "")
        text, when = message.build(facts, nonce=nonce), int(by.now.timestamp())
        trees, commit = append.chained(self.repo, meant.new, parents, shop, when, text)
        if by.sign is not None:
            commit.gpgsig = by.sign(commit.as_raw_string()).rstrip(b"\n")
        held_already = {tree.id for tree in append.build_trees(meant.old)}
        new = [*blobs, *(tree for tree in trees if tree.id not in held_already), commit]
        name = commit.id.decode()
        packs.gather(self.repo.git, self.repo.objects)
        with self.repo.adding(new), self._laid_out(meant, name), self.moving(MAIN, name) as moved:
            append.publish(
                self.repo, self.folder, held, lock, meant.tip, name, meant.new, step, moved
            )
        if repaired:
            (self.repo.git / recorded.REPAIRED).unlink(missing_ok=True)
        entry = self._past().by_id[name]
        try:
            self._tag_stages(held)
        except OSError as error:
            raise append.half_done(entry.id, error) from error
        return entry

    @contextlib.contextmanager
    def _laid_out(self, meant: EntryProposal, name: str) -> Iterator[None]:
        """Edits written to the folder before the entry counts, and taken back if it never does.

        So a death in between leaves them there to be recorded, as any edit.
        """
        before = {
            path: read_file(self.folder, path) if (self.folder / path).exists() else None
            for path in meant.laid
        }
        try:
            for path, data in meant.laid.items():
                refuse_links(self.folder, path)
                atomic.replace(self.folder / path, data, spool=self.repo.git / SPOOL)
            yield
        except BaseException:
            if before and self.repo.tip() != name:
                self._put_back(before)
            raise

    def _put_back(self, before: Mapping[str, bytes | None]) -> None:
        for path, data in before.items():
            place = self.folder / path
            with contextlib.suppress(OSError):
                if data is not None:
                    atomic.replace(place, data, spool=self.repo.git / SPOOL)
                else:
                    place.unlink(missing_ok=True)
                    place.parent.rmdir()  # a session's new folder; one with files in it stays

    def _blobs(self, meant: EntryProposal) -> list[ShaFile]:
        blobs: list[ShaFile] = []
        for path in meant.change.added + meant.change.changed:
            data = meant.read(path)
            blobs.append(Blob.from_string(data))
            self.repo.expect(blobs[-1].id.decode(), data)
        return blobs

    def _nonce(self) -> str:
        path = self.repo.git / _NONCE
        return path.read_text("ascii").strip() if path.exists() else secrets.token_hex(16)

    def _tag_stages(self, held: Held) -> None:
        """Make missing tags again. One that cannot be made now is made another time."""
        tags = self.repo.references(STAGES)
        for stage, entry in self._past().stages.items():
            if stage not in tags and rules.stage_refusal(stage) is None:
                with contextlib.suppress(ChangedUnderYou, FileExistsError, NotADirectoryError):
                    append.move(self.repo, held, STAGES + stage, None, entry.id)


def _refuse_another(path: str, old: str, now: str) -> None:
    """AnotherValue where a place holds something else than was seen."""
    if now != old:
        raise AnotherValue(path, old, now)


def _is_gone(place: Path) -> bool:
    return not place.exists()


def _drop_empty(folder: Path, top: Path) -> Path:
    """A folder that held only what was taken out goes, too; the one from which names went."""
    while folder not in (top, top.parent) and not any(folder.iterdir()):
        folder.rmdir()
        folder = folder.parent
    return folder


def sweep_half_made(folder: Path) -> None:
    """Take away what a `create` that died left in a folder that holds nothing else.

    Its HEAD is written last; and one that has it, but no car.toml and nothing recorded, is as new.
    """
    git = folder / ".git"
    files = {path.name for path in git.rglob("*") if path.is_file()}
    drafts = {name for name in files if name.startswith(f".{_NONCE}.") and name.endswith(".part")}
    ours = _NONCE in files or files == drafts
    config = git / "config"
    used = (config.exists() and config.read_bytes() != _CONFIG) or (git / LISTS).exists()
    used |= any(path.is_file() for name in ("objects", "refs") for path in (git / name).rglob("*"))
    held = folder / ledger_files.ATTRIBUTES
    written = {ledger_files.ATTRIBUTES} if held.is_file() else set()
    alone = {path.name for path in folder.iterdir()} == {".git", *written}
    if (
        alone
        and ours
        and not used
        and (not written or held.read_bytes() == ledger_files.KEEP_BYTES)
    ):
        held.unlink(missing_ok=True)
        shutil.rmtree(git)


def refuse_path(path: str) -> None:
    """InvalidInput if a ledger holds no file at this path."""
    reason = ledger_files.refusal(path)
    if reason or ledger_files.kind_of(path) is None:
        raise InvalidInput(f"{path!r} {reason or 'is no file of a ledger'}")


def refuse_links(folder: Path, path: str) -> None:
    """InvalidInput if a file below the folder, or a folder on the way to it, is a link."""
    place = folder / path
    for part in (place, *place.parents[: path.count("/")]):
        if part.is_symlink():
            raise InvalidInput("this is a symbolic link, which is not followed", where=str(part))
