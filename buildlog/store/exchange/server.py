"""A git server as the other side of a `sync`; its names are only ever moved forward."""

from __future__ import annotations

import io
from collections.abc import Mapping
from typing import Any

from dulwich.object_store import MemoryObjectStore, ObjectStoreGraphWalker
from dulwich.objects import Commit, ObjectID, ShaFile, Tag
from dulwich.refs import Ref

from buildlog.errors import DamagedLedger
from buildlog.store.exchange import bundle
from buildlog.store.exchange.other_side import MOST_NAMES, Moves, RemoteOffer
from buildlog.store.git.repo import MAIN, Repo
from buildlog.store.git.size_limits import limits, refuse_bytes
from buildlog.store.git.transport import Ask, ServerLine


class Server:
    """A repository on a server. Every conversation sees its names afresh."""

    def __init__(self, url: str, ask: Ask | None = None, *, attended: bool = False) -> None:
        self.line = ServerLine(url, ask, attended=attended)

    def settle(self) -> None:
        return None

    def fetch(self, ours: Repo, prefixes: tuple[str, ...]) -> RemoteOffer:
        names: dict[str, str] = {}
        pack = _Pack()

        def wants(refs: Mapping[Ref, ObjectID], depth: int | None = None) -> list[ObjectID]:
            names.clear()
            names.update(_chosen(refs, prefixes))
            held = dict.fromkeys(ObjectID(held.encode()) for held in names.values())
            return [name for name in held if name not in ours.objects]

        def talk(client: Any, place: str) -> object:
            pack.empty()
            return client.fetch_pack(place, wants, _walker(ours), pack.write)

        self.line.speak(talk)
        roots = list(names.values())
        return RemoteOffer(names, _unpacked(roots, pack.getvalue()) if pack.tell() else ())

    def push(self, ours: Repo, moves: Moves) -> dict[str, str]:
        failed: dict[str, str] = {}

        def update(refs: Mapping[Ref, ObjectID]) -> dict[Ref, ObjectID]:
            failed.clear()
            held = {name.decode("utf-8", "replace"): oid.decode() for name, oid in refs.items()}
            moved = [name for name, (old, _) in moves.items() if held.get(name) != old]
            failed.update(dict.fromkeys(moves if MAIN in moved else moved, "moved on meanwhile"))
            going = {name: new for name, (_, new) in moves.items() if name not in failed}
            return {Ref(name.encode()): ObjectID(new.encode()) for name, new in going.items()}

        def talk(client: Any, place: str) -> Any:
            give = ours.objects.generate_pack_data
            return client.send_pack(place.encode(), update, give, atomic=False)

        done = self.line.speak(talk)
        for name, why in (done.ref_status or {}).items():
            if why is not None:
                failed[name.decode("utf-8", "replace")] = str(why)
        return failed


class _Pack(io.BytesIO):
    """What a server sends, no more of it than a ledger may hold."""

    def write(self, data: Any) -> int:
        refuse_bytes(self.tell() + len(data), limits().all, "what the server sends")
        return super().write(data)

    def empty(self) -> None:
        self.seek(0)
        self.truncate()


def _chosen(refs: Mapping[Ref, ObjectID], prefixes: tuple[str, ...]) -> dict[str, str]:
    named = ((name.decode("utf-8", "replace"), held) for name, held in refs.items() if held)
    found = {
        name: held.decode()
        for name, held in named
        if (name == MAIN or name.startswith(prefixes)) and not name.endswith("^{}")
    }
    if len(found) > MOST_NAMES:
        raise DamagedLedger("the server has more names than a ledger", hint="look at what it is")
    return found


def _walker(ours: Repo) -> ObjectStoreGraphWalker:
    tip = ours.tip()
    return ObjectStoreGraphWalker(
        [ObjectID(tip.encode())] if tip else [],
        lambda name: list(ours.commit(name.decode()).parents),
    )


def _unpacked(roots: list[str], pack: bytes) -> tuple[ShaFile, ...]:
    """The objects of a pack, after the same look at its sizes as at a bundle's."""
    bundle.read(b"# v2 git bundle\n" + roots[0].encode() + b" " + MAIN.encode() + b"\n\n" + pack)
    store = MemoryObjectStore()
    try:
        file, commit, _ = store.add_pack()
        file.write(pack)
        commit()
        items = [store[name] for name in store]
    except Exception as error:
        raise DamagedLedger(f"what the server sent cannot be read ({error})") from error
    return tuple(sorted(items, key=lambda item: isinstance(item, Commit | Tag)))
