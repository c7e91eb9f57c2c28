"""A verification for other programs."""

from __future__ import annotations

from typing import Any

from buildlog.report.as_json.json_parts import finding_json
from buildlog.store.verify.verdict import Verification


def verify_json(found: Verification) -> dict[str, Any]:
    """The body of `verify --json`."""
    good = found.last_good
    return {
        "verdict": found.verdict,
        "checks": [
            {"name": one.name, "looked_at": one.looked_at, "held": one.held} for one in found.checks
        ],
        "last_good": f"entry {good.number} ({good.short})" if good else None,
        "signatures": dict(found.signed),
        "findings": [finding_json(finding) for finding in found.findings],
        "proves": list(found.proves),
        "does_not_prove": list(found.does_not_prove),
    }
