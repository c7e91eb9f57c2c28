"""Who signed what: every signature of a history checked, and what the key register makes of it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from graphlib import TopologicalSorter
from typing import Literal

from dulwich.objects import Tag

from buildlog.errors import BuildlogError
from buildlog.findings import Finding
from buildlog.records.keys import KeyEvent
from buildlog.store.git.ordering import ancestors
from buildlog.store.git.repo import Repo
from buildlog.store.trust import keyring, sshsig
from buildlog.store.trust.keyring import REGISTER, SIGNERS, Ring
from buildlog.store.trust.sshsig import PublicKey

State = Literal["signed", "unknown", "not signed", "altered"]
_NONE: frozenset[KeyEvent] = frozenset()
_HINT = "compare with another copy of this ledger from before"


@dataclass(frozen=True)
class Signed:
    """What can be said of one commit's or tag's signature."""

    state: State
    key: PublicKey | None = None
    name: str | None = None
    reason: str | None = None
    trusted: bool = False  # by a key known from outside, or vouched for by one
    gone: bool = False  # by a key that was no longer in use there

    @property
    def words(self) -> str:
        """One of the four words, and what there is to add.

        >>> Signed("signed", name="bench 2").words
        'signed by bench 2'
        """
        if self.state == "signed":
            return f"signed by {self.name}"
        if self.state == "unknown":
            named = f" ({self.key.fingerprint[:23]})" if self.key else ""
            return f"signed by an unknown key{named}" + (f": {self.reason}" if self.reason else "")
        return self.state


@dataclass
class Judgement:
    """The signatures of a history: by commit id, by tag's name, and the ring at its tip."""

    commits: dict[str, Signed] = field(default_factory=dict)
    tags: dict[str, tuple[str, Signed]] = field(default_factory=dict)  # name -> commit, signature
    findings: list[Finding] = field(default_factory=list)
    ring: Ring = field(default_factory=Ring)


def judge(
    repo: Repo,
    graph: Mapping[str, tuple[str, ...]],
    tip: str,
    called: Mapping[str, str],
    known: Mapping[str, str],
    tags: Mapping[str, str] | None = None,
) -> Judgement:
    """Check every signature from the first commit to `tip`.

    `graph`: commits with their parents; `called`: how to call a commit ("entry 7");
    `known`: keys the reader has from elsewhere, by text, with their names; `tags`: the
    handover tags to judge, by number, instead of those that are here.
    """
    walk = _Walk(repo, graph, called, known)
    for name in TopologicalSorter(graph).static_order():
        walk.step(name)
    walk.settle(tip, tags)
    return walk.found


@dataclass
class _Walk:
    """The register read along the history, commit by commit."""

    repo: Repo
    graph: Mapping[str, tuple[str, ...]]
    called: Mapping[str, str]
    known: Mapping[str, str]
    rings: dict[str, Ring] = field(default_factory=dict)
    events: dict[str, frozenset[KeyEvent]] = field(default_factory=dict)
    parsed: dict[str | None, frozenset[KeyEvent]] = field(default_factory=lambda: {None: _NONE})
    found: Judgement = field(default_factory=Judgement)

    def step(self, name: str) -> None:
        parents = self.graph[name]
        before = keyring.joined(self.rings.get(parent, Ring()) for parent in parents)
        held = _NONE.union(*(self.events.get(parent, _NONE) for parent in parents))
        self.rings[name], self.events[name] = before, held
        try:
            state, key = self._checked(name)
            here = self._events(name)
        except BuildlogError as error:
            self._error("keys", error.what, name)
            return
        self.events[name] = here
        signer = key.text if state == "good" and key is not None else None
        if held - here:
            self._error("keys-lost", f"{self._call(name)} takes events out of {REGISTER}", name)
        ring = before
        for event in sorted(here - held, key=lambda one: one.model_dump_json()):
            ring = self._accept(name, event, before, ring, signer)
        self.rings[name] = ring
        self.found.commits[name] = self._word(state, key, before, ring)

    def settle(self, tip: str, tags: Mapping[str, str] | None = None) -> None:
        """What only the whole history tells: compromised keys, tags, the list for plain git."""
        ring = self.found.ring = self.rings.get(tip, Ring())
        for name, signed in self.found.commits.items():
            if signed.key is not None and signed.key.text in ring.last_good:
                self._doubt(name, signed, ring.last_good[signed.key.text])
        for name, signed in self.found.commits.items():
            self.found.findings += _about(self._call(name), name, signed)
        self._tags(tags)
        try:
            meant = keyring.signers_text(self.events.get(tip, frozenset()))
            if (self.repo.held(tip, SIGNERS) or b"") != meant:
                self._error("keys-list", f"{SIGNERS} does not list the keys of {REGISTER}", tip)
        except BuildlogError as error:
            self._error("keys-list", error.what, tip)

    def _doubt(self, name: str, signed: Signed, last_good: tuple[str, ...]) -> None:
        if signed.gone or all(name in ancestors(self.graph, last) for last in last_good):
            return
        reason = "the key was compromised, and this is after its last good entry"
        self.found.commits[name] = Signed("unknown", signed.key, signed.name, reason)

    def _checked(self, name: str) -> tuple[str, PublicKey | None]:
        try:
            payload, armour = sshsig.split_commit(self.repo.commit(name).as_raw_string())
        except ValueError:
            return "bad", None
        return sshsig.check(armour, payload)

    def _events(self, name: str) -> frozenset[KeyEvent]:
        held = self.repo.find(self.repo.commit(name).tree.decode(), REGISTER.encode())
        blob = held[1] if held else None
        if blob is not None and blob not in self.parsed:
            self.parsed[blob] = frozenset(keyring.events(self.repo.blob(blob)))
        return self.parsed[blob]

    def _accept(
        self, name: str, event: KeyEvent, before: Ring, ring: Ring, signer: str | None
    ) -> Ring:
        parents = self.graph[name]
        root = next((one for one, before_it in self.graph.items() if not before_it), "")
        meant = keyring.statement(root, parents[0] if parents else "", event.after or "", event.key)
        why = keyring.refusal(event, before, signer, meant)
        if len(parents) > 1:
            why = "is in a merge, which joins lines and says nothing itself"
        if event.last_good is not None and event.last_good not in ancestors(self.graph, name):
            why = "names a last good entry that is not before it"
        if why:
            text = f"{self._call(name)}: the key event ({event.kind}) {why}"
            self._error("key-event", text, name)
            return ring
        if event.kind == "restart":
            text = f"{self._call(name)} starts again with a new key; no earlier key vouches for it"
            self.found.findings.append(
                Finding("key-break", "caution", text, where=name, hint="ask the shop about it")
            )
        return keyring.added(ring, event, signer or "", self._call(name))

    def _word(self, state: str, key: PublicKey | None, before: Ring, after: Ring) -> Signed:
        if state == "none":
            return Signed("not signed")
        if state == "bad":
            return Signed("altered", key)
        if key is None or state == "cannot-check":
            return Signed("unknown", key, reason="there is no ssh-keygen here that reads its kind")
        ring = before if key.text in before.names else after
        if key.text in before.gone:
            reason = before.gone[key.text]
            return Signed("unknown", key, before.names[key.text], reason, gone=True)
        held = ring.names.get(key.text) or self.known.get(key.text)
        if held is None:
            return Signed("unknown", key)
        return Signed("signed", key, held, trusted=ring.trusted(key.text, self.known))

    def _tags(self, given: Mapping[str, str] | None) -> None:
        try:
            names = self.repo.references("refs/tags/handover/") if given is None else given
        except BuildlogError as error:
            self._error("tags", error.what, "")
            return
        for name, object_id in names.items():
            try:
                self._tag(f"handover/{name}", object_id)
            except BuildlogError as error:
                self._error("tags", error.what, object_id)

    def _tag(self, name: str, object_id: str) -> None:
        target = self.repo.peel(object_id)
        found = self.repo.item(object_id)
        if not isinstance(found, Tag) or target not in self.graph:
            self._error("tags", f"the tag {name} names no entry of this ledger", object_id)
            return
        if found.name != name.encode():
            self._error("tags", f"the tag {name} was made under another name", object_id)
        payload, armour = sshsig.split_tag(found.as_raw_string())
        state, key = sshsig.check(armour, payload)
        ring = self.rings.get(target, Ring())
        signed = self._word(state, key, ring, ring)
        if key is not None and key.text in self.found.ring.last_good and state == "good":
            signed = Signed("unknown", key, signed.name, "the key was compromised later")
        self.found.tags[name] = (target, signed)
        self.found.findings += _about(f"the tag {name}", target, signed)

    def _call(self, name: str) -> str:
        return self.called.get(name, f"the merge {name[:8]}")

    def _error(self, code: str, text: str, where: str) -> None:
        self.found.findings.append(Finding(code, "error", text, where=where, hint=_HINT))


def _about(what: str, where: str, signed: Signed) -> Iterator[Finding]:
    if signed.state == "altered":
        text = f"{what}: altered: its signature is not of what it holds"
        yield Finding("signature", "error", text, where=where, hint=_HINT)
    elif signed.state == "unknown":
        severity: Literal["error", "caution"] = "error" if signed.gone else "caution"
        code = "key-gone" if signed.gone else "key-unknown"
        yield Finding(
            code, severity, f"{what}: {signed.words}", where=where, hint="ask the shop whose key"
        )
