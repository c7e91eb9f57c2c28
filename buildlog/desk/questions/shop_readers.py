"""What a shop asks of each of its ledgers: where it stands, what it had, gained and suffered."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator
from functools import partial
from itertools import pairwise
from typing import TYPE_CHECKING

from buildlog.desk.questions.shop_index import Facts, ShopQuestion, kind
from buildlog.errors import BuildlogError, DamagedLedger, DiskError
from buildlog.records.recorded_peak import recorded_peak
from buildlog.store.disk.index_db import Kept

if TYPE_CHECKING:
    from buildlog.analysis.car.version import Version
    from buildlog.analysis.prediction.learned import MeasuredPoint
    from buildlog.desk.questions.predict import Predictor
    from buildlog.desk.snapshot.snapshot import Snapshot

_STAGE = "stage"


def gains(repeats: dict[str, Facts]) -> ShopQuestion:
    """What each stage gave; `repeats`: the shop's repeat visits, which tell its dynos' spread."""
    said = hashlib.sha256(json.dumps(repeats, sort_keys=True).encode()).hexdigest()[:16]
    return ShopQuestion(f"gains {said}", partial(_gains, repeats, said), weight=4)


def _standing(book: Snapshot, kept: Kept) -> Facts:
    from buildlog.analysis.answers.shop_facts import standing
    from buildlog.desk.questions.limits import Margining

    margins = Margining(book).rows(book.history[-1])
    facts = standing(book.history, book.papers, margins, _last_power(book))
    paths = book.ledger.files(book.entries[-1])
    facts["fault_files"] = [path for path in paths if path.startswith("faults/")]
    facts["due"] += [*_unsigned(book)]
    return facts


def _last_power(book: Snapshot) -> tuple[float, str] | None:
    for entry in reversed(book.entries):
        if (found := recorded_peak(entry.measured)) is not None:
            return found.power_w, entry.work_date.isoformat()
    return None


def _unsigned(book: Snapshot) -> Iterator[Facts]:
    """The newest entry, where this ledger has keys in use and none of them signed it."""
    from buildlog.store.ledger import entries
    from buildlog.store.trust import signatures
    from buildlog.store.trust.keyring import REGISTER

    newest, repo = book.entries[-1], book.ledger.repo
    if book.ledger.content_id(newest, REGISTER) is None:
        return
    found = signatures.judge(repo, entries.graph(repo, newest.id), newest.id, {}, {})
    signed = found.commits.get(newest.id)
    if found.ring.active and (signed is None or signed.state != "signed"):
        words = signed.words if signed else "not signed"
        yield {"code": "unsigned", "what": f"entry {newest.number}: {words}", "left": None,
               "since": newest.work_date.isoformat()}  # fmt: skip


def _spans(book: Snapshot, kept: Kept) -> list[Facts]:
    from buildlog.analysis.answers.shop_facts import spans

    return spans(book.history)


def _faults(book: Snapshot, kept: Kept) -> Facts:
    from buildlog.analysis.answers.shop_facts import faults

    return {"id": book.ledger.id, "faults": faults(book.history, book.papers)}


def _gains(repeats: dict[str, Facts], said: str, book: Snapshot, kept: Kept) -> Facts:
    """Each pair of versions measured one after the other; and those that count for nothing."""
    from buildlog.desk.questions import dynos
    from buildlog.desk.questions.predict import Predictor

    dynos.take(book, repeats)
    predictor = Predictor(book)
    found, left_out = [], []
    for one, other in pairwise(book.measured_versions):
        key = f"{said} {_key_of_stage(book, one.number, other.number)}"
        stage = kept.get(kind(_STAGE), [key]).get(key)
        if stage is None:
            stage = _stage(predictor, one, other)
            kept.put(kind(_STAGE), {key: stage})
        name = f"{one.name} to {other.name}"
        if stage.get("problem"):
            left_out.append({"name": name, "problem": stage["problem"]})
        else:
            found.append({"before": one.name, "after": other.name, **stage})
    return {"id": book.ledger.id, "gains": found, "left_out": left_out}


def _key_of_stage(book: Snapshot, one: int, other: int) -> str:
    """What a measured stage is worked out from: every session's files, cars, priors."""
    newest = book.entries[-1]
    seen = [
        f"{path} {blob}"
        for path, blob in book.ledger.files(newest).items()
        if path.startswith("dyno/") or path == "priors.toml"
    ]
    ids = [str(book.ledger.content_id(book.entries[n - 1], "car.toml")) for n in (one, other)]
    return hashlib.sha256("\n".join([*seen, *ids, f"{one} {other}"]).encode()).hexdigest()


def _stage(predictor: Predictor, one: Version, other: Version) -> Facts:
    from buildlog.analysis.answers.shop_facts import kind_of_change
    from buildlog.desk.questions.visits import compared

    try:
        before, after = predictor.point(one), predictor.point(other)
        if before is None or after is None:
            return {"problem": "only stated values, no curve"}
        if before.sheet.name == after.sheet.name:
            return {"problem": "both were measured in one session"}
        sides = (before.sheet, before.group), (after.sheet, after.group)
        found = compared(predictor.book, *sides)
    except (DamagedLedger, DiskError):
        raise  # another copy of the ledger may be whole
    except BuildlogError as error:
        return {"problem": error.what}
    if isinstance(found, str):
        return {"problem": found}
    if not found.comparable:
        return {"problem": f"not like for like ({'; '.join(found.reasons)})"}
    changed = kind_of_change(one.configuration, other.configuration)
    if not changed:
        return {"problem": "nothing changed that can move power"}
    power = found.power
    return {
        "kind": changed,
        "day": after.sheet.session.date.isoformat(),
        "from_w": power.peak_from.value,
        "to_w": power.peak_to.value,
        "ratio": power.peak_to.value / power.peak_from.value,
        "half_w": power.half_width_95,
        "beyond": bool(power.beyond_scatter),
        **_band(predictor, before, after),
    }


def _band(predictor: Predictor, before: MeasuredPoint, after: MeasuredPoint) -> Facts:
    """What the stage was predicted to give, as shares of the power before; or why not."""
    stage = predictor.past_stage(before, after)
    if isinstance(stage, str):
        return {"predicted": None, "why_not": stage}
    result = stage.result
    return {"predicted": [result.p10, result.p50, result.p90], "why_not": None}


STANDING = ShopQuestion("standing", _standing)
SPANS = ShopQuestion("spans", _spans)
FAULTS = ShopQuestion("faults", _faults)
