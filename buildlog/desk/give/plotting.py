"""The figure of some versions: one question for each thing that can be drawn of them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

from buildlog.desk.give.drawn import Drawn
from buildlog.errors import UsageError

if TYPE_CHECKING:
    from buildlog.analysis.car.version import Version
    from buildlog.desk.snapshot.snapshot import Snapshot

What = Literal["power", "torque", "air-fuel", "boost", "predicted", "margins"]
Against = Literal["odometer", "date"]


def plot(
    book: Snapshot,
    versions: Sequence[str | Version] = (),
    what: What = "power",
    *,
    against: Against | None = None,
    predicted: bool = False,
    standard: str | None = None,
    units: str | None = None,
) -> Drawn:
    """Curves of the versions that were measured, all of them where none is named.

    "margins" is about one version; `predicted` draws the band of the second from the first;
    "predicted" draws all past stages; `against` draws peaks over the car's life.
    NotFound where nothing of it was measured.
    """
    from buildlog.desk.give import plotting_estimates, plotting_sessions

    if predicted:
        if len(versions) != 2:
            raise UsageError(
                "a predicted band needs two versions", hint="buildlog plot FROM TO --predicted"
            )
        return plotting_estimates.band(book, versions[0], versions[1], standard, units)
    if what == "predicted":
        return plotting_estimates.stages(book, against, standard, units)
    if what == "margins":
        if len(versions) > 1:
            raise UsageError(
                "a figure of margins is about one version",
                hint="buildlog plot VERSION --what margins",
            )
        return plotting_estimates.limits(book, versions[0] if versions else "working", units)
    chosen = [book.version(name) for name in versions] or book.measured_versions
    if against is not None:
        return plotting_sessions.peaks(book, chosen, what, against, standard, units)
    if what in ("air-fuel", "boost"):
        return plotting_sessions.channel(book, chosen, what, standard, units)
    return plotting_sessions.curves(book, chosen, what, standard, units)
