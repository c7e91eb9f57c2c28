"""What acts did, for programs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

from buildlog.report.as_json.json_parts import finding_json

if TYPE_CHECKING:
    from buildlog.analysis.car.written import Attached, KeyState, OwnThings, Recorded, Redaction
    from buildlog.analysis.workshop.leaving import HandoverAnswer
    from buildlog.store.exchange.passing_on import Received
    from buildlog.store.exchange.two_copies import Synced
    from buildlog.store.verify.repacking import Packed


def attached_json(done: Attached) -> dict[str, Any]:
    """The body of `attach --json`."""
    copies = zip(done.paths, done.left_out, strict=True)
    files = [{"path": path, "left_out": list(removed)} for path, removed in copies]
    return {"files": files, "caption": done.caption}


def redaction_json(done: Redaction) -> dict[str, Any]:
    """The body of `redact --json`."""
    return asdict(done)


def own_things_json(done: OwnThings) -> dict[str, Any]:
    """The body of `shop copy --json`."""
    return {
        "folder": str(done.folder), "files": list(done.files), "left_out": list(done.left_out),
    }  # fmt: skip


def recorded_json(done: Recorded) -> dict[str, Any]:
    """The body of `record --json`."""
    entry = done.entry
    if entry is None:
        return {"entry": None, "id": None, "kind": done.outlook.kind}
    return {"entry": entry.number, "id": entry.id, "kind": entry.kind, "signed": entry.signed}


def keys_json(keys: Sequence[KeyState]) -> dict[str, Any]:
    """The body of `key list --json`."""
    return {
        "keys": [
            {
                "name": key.name,
                "fingerprint": key.fingerprint,
                "state": key.gone or "in use",
                "signed": key.signed,
            }
            for key in keys
        ]
    }


def synced_json(done: Synced, dry_run: bool) -> dict[str, Any]:
    """The body of `sync --json`."""
    return {
        "state": done.state,
        "dry_run": dry_run,
        "received": [entry.id for entry in done.received],
        "sent": [entry.id for entry in done.sent],
        "tip": done.tip,
        "renamed": dict(done.renamed),
        "decided": dict(done.decided),
        "comments_left": list(done.comments_left),
        "names": {
            "received": done.names.received,
            "sent": done.names.sent,
            "differing": [
                {"name": one.name, "ours": one.ours, "theirs": one.theirs, "kept": one.kept or None}
                for one in done.names.differing
            ],
            "refused": dict(done.names.refused),
        },
    }


def handover_json(answer: HandoverAnswer) -> dict[str, Any]:
    """The body of `handover --json`."""
    found, done = answer.leaving, answer.made
    written = asdict(done) | {"folder": str(done.folder), "zip": str(done.zip)} if done else None
    leaves = {
        "entries": found.entries,
        "sessions": found.sessions,
        "attachments": found.attachments,
        "photos": found.photos,
        "files": found.files,
        "references": found.references,
        "earlier_versions": found.earlier,
        "gone": found.gone,
        "identifies": found.identifies,
        "unread": found.unread,
    }
    looked_for = [{"what": one.name, "found_in": one.found} for one in found.probes]
    return {
        "written": written,
        "leaves": leaves,
        "stays": found.stays,
        "looked_for": looked_for,
        "fingerprint": answer.fingerprint,
    }


def received_json(done: Received) -> dict[str, Any]:
    """The body of `receive --json`."""
    return {
        "folder": str(done.folder),
        "entries": done.entries,
        "id": done.id,
        "fingerprint": done.fingerprint,
        "taken_over": done.taken_over,
        "findings": [finding_json(one) for one in done.findings],
    }


def packed_json(done: Packed) -> dict[str, Any]:
    """The body of `pack --json`."""
    return asdict(done)
