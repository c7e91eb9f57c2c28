"""Is a ledger what it was: objects, chain, rules, merges, evidence, signatures, fingerprint.

Damage is a finding, never an exception. `intact` needs a word from outside the ledger: a
signature by a key the reader knows, over everything, or a fingerprint on paper. Without
one the best verdict is `consistent`: somebody who rewrote everything would look the same.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal

from buildlog.errors import BuildlogError, NotFound, PartOnly
from buildlog.findings import Finding, how_many
from buildlog.store.git import index, ordering
from buildlog.store.git.repo import Repo
from buildlog.store.ledger import entries, fingerprint, recorded
from buildlog.store.ledger.entries import Entry
from buildlog.store.ledger.ledger import Ledger
from buildlog.store.ledger.names import STAGES
from buildlog.store.ledger.reader import Reader
from buildlog.store.trust import signatures
from buildlog.store.verify import check_evidence, check_history, check_merges, check_objects
from buildlog.store.verify import check_repository as around
from buildlog.store.verify.damage_words import TOO_LARGE, fault

Verdict = Literal["intact", "consistent", "altered", "cannot-tell"]
Graph = dict[str, tuple[str, ...]]


@dataclass(frozen=True)
class VerifyCheck:
    """One thing that was looked at, over how many, and whether all of it held."""

    name: str
    looked_at: int
    held: bool


@dataclass(frozen=True)
class Verification:
    """What `verify` found."""

    verdict: Verdict
    checks: tuple[VerifyCheck, ...]
    findings: tuple[Finding, ...]
    last_good: Entry | None  # the last entry before the first fault
    proves: tuple[str, ...]
    does_not_prove: tuple[str, ...]
    signed: Mapping[str, str] = field(default_factory=dict)  # entry id -> one of the four words
    handover: bool = False  # it came as a package, not as a ledger's folder

    @property
    def empty(self) -> bool:
        """Whether nothing is recorded yet."""
        return any(finding.code == "empty" for finding in self.findings)


@dataclass(frozen=True)
class Outside:
    """What the reader brings along: keys by text with their names, a fingerprint on paper.

    `must`: the keys were named for this ledger, so it is wrong if none of them signed it.
    """

    signers: Mapping[str, str] = field(default_factory=dict)
    must: bool = False
    paper: str | None = None


def verify_folder(folder: Path, outside: Outside | None = None) -> Verification:
    """The same of a folder that may not even open. NotFound if there is no ledger."""
    try:
        with Ledger.open(folder) as ledger:
            return verify(ledger, outside)
    except NotFound:
        raise
    except Exception as error:
        found = fault("unreadable", error, getattr(error, "where", None))
    return Verification("cannot-tell", (), (found,), None, (), _NOTHING)


def verify(ledger: Reader, outside: Outside | None = None) -> Verification:
    """Look at everything that a ledger's references lead to."""
    outside = outside or Outside()
    try:
        ledger.repo.objects.refuse_bombs()
        known = ledger.entries()
        tip = ledger.repo.tip()
        commits: Graph = entries.graph(ledger.repo, tip)
    except PartOnly:
        raise
    except Exception as error:
        return _unreadable(ledger, fault("unreadable", error))
    if tip is None or not known:
        nothing = Finding("empty", "note", "nothing is recorded in this ledger yet")
        found = [nothing, *_run("around", lambda: around.config(ledger.repo))]
        return Verification("cannot-tell", (), tuple(found), None, (), _NOTHING)
    return _Looking(ledger, outside, known, tip, commits).result()


_NOTHING = ("anything: there is no history here that can be read",)
_TOO_MUCH = ("anything: it holds more than this program will read",)
_DATES = "when an entry was made: its date is what the recording computer said"


@dataclass
class _Looking:
    """One verification of a history that can be walked."""

    ledger: Reader
    outside: Outside
    known: list[Entry]
    tip: str
    commits: Graph
    judgement: signatures.Judgement = field(default_factory=signatures.Judgement)
    answer: str | None = None  # to the fingerprint on paper

    def result(self) -> Verification:
        checks: list[VerifyCheck] = []
        found: list[Finding] = []
        for name, count, step in self._steps():
            here = _run(name, step)
            large = next((one for one in here if one.code == TOO_LARGE), None)
            if large is not None:
                return _too_large(large)
            checks.append(VerifyCheck(name, count, not _errors(here)))
            found += here
        found += [finding for step in self._notes() for finding in _run("notes", step)]
        bad = bool(_errors(found))
        anchored = {entry.id for entry in self.known} <= self._before(*self._trusted())
        whole = not bad and (anchored or self.answer == "equal")
        verdict: Verdict = "altered" if bad else "intact" if whole else "consistent"
        proves, does_not = self._words(verdict)
        words = {entry.id: self._word(entry) for entry in self.known}
        good = self._last_good({finding.where for finding in _errors(found)})
        return Verification(verdict, tuple(checks), tuple(found), good, proves, does_not, words)

    def _steps(self) -> list[tuple[str, int, Callable[[], Iterable[Finding]]]]:
        repo, commits, known = self.ledger.repo, self.commits, self.known
        seen: set[str] = set()
        merges = sum(len(parents) > 1 for parents in commits.values())
        packs = len(check_objects.packs(repo))
        chain = check_history.chain
        return [
            ("objects", len(commits), lambda: check_objects.objects(repo, commits, seen)),
            ("packs", packs, lambda: check_objects.pack_faults(repo)),
            ("digest chain", len(commits), lambda: chain(repo, known, commits)),
            ("rules", len(known), lambda: check_history.entry_rules(repo, known)),
            ("beginning", 1, lambda: check_history.beginning(known, commits)),
            ("merges", merges, lambda: check_merges.merges(repo, commits)),
            ("evidence", len(known), self._evidence),
            ("names", _named(repo), lambda: self._names(seen)),
            ("signatures", len(commits), self._signatures),
            ("paper", 1, self._paper),
        ][: 10 if self.outside.paper is not None else 9]

    def _notes(self) -> list[Callable[[], Iterable[Finding]]]:
        repo = self.ledger.repo
        return [
            lambda: check_history.outsiders(repo, self.known),
            lambda: check_history.clocks(self.known),
            lambda: check_history.repairs(self.known),
            lambda: check_history.handovers(repo, self.known),
            lambda: recorded.findings(repo, self.known),
            lambda: around.config(repo),
            lambda: around.head(repo),
            lambda: around.line_ends(repo),
            lambda: _index(self.ledger, self.tip),
        ]

    def _evidence(self) -> Iterable[Finding]:
        yield from check_evidence.calibrations(self.ledger.repo, self.known)
        newest = self.known[-1]
        gone = {entry.redacted.partition("; ")[0] for entry in self.known if entry.redacted}
        yield from check_evidence.outside(self.ledger.repo, self.ledger.folder, newest, gone)

    def _names(self, seen: set[str]) -> Iterable[Finding]:
        repo = self.ledger.repo
        yield from check_history.stages(repo, self.known)
        yield from around.references(repo)
        yield from check_objects.others(repo, seen)

    def _signatures(self) -> Iterable[Finding]:
        repo, known = self.ledger.repo, self.outside.signers
        called = {entry.id: f"entry {entry.number}" for entry in self.known}
        self.judgement = signatures.judge(repo, self.commits, self.tip, called, known)
        yield from self.judgement.findings
        if self.outside.must and not self._trusted():
            text = "none of the keys you named, nor one they vouch for, has signed anything here"
            hint = "ask the shop for the whole history again, and for its key by another way"
            yield Finding("not-theirs", "error", text, hint=hint)

    def _paper(self) -> Iterable[Finding]:
        paper = self.outside.paper
        self.answer = fingerprint.compare(paper, self.ledger) if paper is not None else None
        if self.answer == "mistyped":
            text = "the fingerprint is mistyped: its check characters do not fit"
            yield Finding("paper", "caution", text, hint="look at the paper again")
        elif self.answer == "unrelated":
            text = "the fingerprint on paper is of no state that this ledger holds"
            hint = "it is another ledger's, or the history was rewritten since it was printed"
            yield Finding("paper", "error", text, hint=hint)

    def _trusted(self) -> set[str]:
        """Commits that a trusted signature stands on, in the commit itself or in a tag."""
        found = {name for name, signed in self.judgement.commits.items() if signed.trusted}
        found |= {target for target, signed in self.judgement.tags.values() if signed.trusted}
        return found

    def _before(self, *names: str) -> set[str]:
        """Commits and everything before them."""
        return ordering.ancestors(self.commits, *names)

    def _word(self, entry: Entry) -> str:
        found = self.judgement.commits.get(entry.id)
        return found.words if found else "altered"

    def _last_good(self, faulty: set[str | None]) -> Entry | None:
        if faulty and not faulty & self.commits.keys():
            return None
        good = None
        for entry in self.known:
            if faulty and self._before(entry.id) & faulty:
                break
            good = entry
        return good

    def _words(self, verdict: Verdict) -> tuple[tuple[str, ...], tuple[str, ...]]:
        if verdict == "altered":
            return (), (_DATES,)
        proves = ["every recorded file and entry is unchanged, and none is missing between them"]
        last = f"entry {self.known[-1].number}"
        rest: list[str] = []
        if self.answer == "equal":
            proves.append(f"nothing up to {last} changed since the fingerprint was printed")
        elif self.answer == "earlier":
            proves.append("the state on paper is still here; entries were added since")
        covered = self._before(*self._trusted())
        count = sum(entry.id in covered for entry in self.known)
        if count:
            verb = "is" if count == 1 else "are"
            many = how_many(len(self.known), "entry", "entries")
            proves.append(f"{count} of {many} {verb} covered by a key you know")
        if verdict == "intact":
            rest.append("what happened before entry 1, or what nobody wrote down")
        else:
            rest.append(self._why_not(count))
            rest.append("that no entries were cut off at the end")
        return tuple(proves), (*rest, _DATES)

    def _why_not(self, count: int) -> str:
        signed = [one for one in self.judgement.commits.values() if one.state == "signed"]
        if count:
            return "that the entries after the last signature you can trust are as they were"
        if signed:
            keys = {one.key.fingerprint for one in signed if one.key}
            return (
                "that the whole history was not rewritten: it is signed, but only the shop can "
                f"tell you whose key this is ({', '.join(sorted(keys))})"
            )
        why = "nothing here is signed, and no fingerprint was compared"
        if self.judgement.ring.names or any(entry.signed for entry in self.known):
            why = "no signature here is by a key you know"
        return f"that the whole history was not rewritten: {why}"


def _unreadable(ledger: Reader, error: Finding) -> Verification:
    """The history cannot be walked from `main`; the newest stage that can be says what is good."""
    if error.code == TOO_LARGE:
        return _too_large(error)
    found = [error, *_run("packs", lambda: check_objects.pack_faults(ledger.repo))]
    found += _run("around", lambda: around.config(ledger.repo))
    best: list[Entry] = []
    for target in _references(ledger.repo, STAGES).values():
        try:
            start = ledger.repo.peel(target)
            known = entries.history(ledger.repo, start)
            commits = entries.graph(ledger.repo, start)
            faults = [
                *check_objects.objects(ledger.repo, commits, set()),
                *check_history.chain(ledger.repo, known, commits),
            ]
        except Exception:
            continue
        if not _errors(faults) and len(known) > len(best):
            best = known
    good = best[-1] if best else None
    return Verification("altered", (), tuple(found), good, (), (_DATES,))


def _too_large(error: Finding) -> Verification:
    """More than is read. Nothing says that it is damaged, and nothing that it is not."""
    return Verification("cannot-tell", (), (error,), None, (), _TOO_MUCH)


def _named(repo: Repo) -> int:
    try:
        return len(repo.names())
    except BuildlogError:
        return 0


def _references(repo: Repo, prefix: str) -> dict[str, str]:
    """The references below a prefix; none where they cannot be read, which a check says."""
    try:
        return repo.references(prefix)
    except BuildlogError:
        return {}


def _index(ledger: Reader, tip: str) -> Iterable[Finding]:
    held = index.read(ledger.repo.git)
    if held != ledger.repo.files_of(tip):
        text = ("git's index, which is git's own and no evidence, is behind the last entry; the "
                "next command that writes renews it")  # fmt: skip
        yield Finding("index", "note", text)


def _run(name: str, step: Callable[[], Iterable[Finding]]) -> list[Finding]:
    """What a step finds. Whatever is thrown on the way is one more finding."""
    found: list[Finding] = []
    try:
        for finding in step():
            found.append(finding)
    except PartOnly:
        raise
    except Exception as error:
        found.append(fault(name, error))
    return found


def _errors(found: list[Finding]) -> list[Finding]:
    return [finding for finding in found if finding.severity == "error"]
