"""Margins before and after: what got tighter, and what is reached first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from buildlog.analysis.margins.figures.margin_rows import Row, tightest_first
from buildlog.physics.parts.margin import State

FIRST = 5


@dataclass(frozen=True)
class MarginChange:
    """One margin of two versions; a side is None where that version has no such margin."""

    name: str
    before: Row | None
    after: Row | None

    @property
    def tighter(self) -> bool:
        """Less is left than before, at the middle, by more than a hundredth of the caution band.

        A margin that was known and now is not counts: nobody knows that it still holds.
        """
        if self.before is None or self.after is None:
            return False
        was, now = self.before.margin.left, self.after.margin.left
        if was is None or now is None:
            return was is not None and not self.after.kind.information
        return now.p50 < was.p50 - 0.01 * self.after.kind.caution

    @property
    def outgrown(self) -> bool:
        """Past its limit at the middle, where it was not, or was less far past it."""
        if self.after is None or self.after.state is not State.OVER:
            return False
        return self.before is None or self.before.state is not State.OVER or self.tighter

    @property
    def doubtful(self) -> bool:
        """Past its limit at the worse end of the bands only, where it was not."""
        if self.outgrown or not _worse_end_past(self.after):
            return False
        return not _worse_end_past(self.before) or self.tighter

    @property
    def state_changed(self) -> bool:
        """Whether the word for it is another one; a new margin counts unless it is clear."""
        if self.after is None:
            return False
        if self.before is None:
            return self.after.state in (State.OVER, State.CLOSE)
        return self.before.state is not self.after.state


@dataclass(frozen=True)
class MarginChanges:
    """All margins of two versions, in the order of the later one's tightest.

    why_unknown: why the power of either side is not known, in a sentence each.
    """

    changes: tuple[MarginChange, ...]
    why_unknown: tuple[str, ...] = ()

    @property
    def first(self) -> Row | None:
        """The tightest of the later version; None where nothing answers."""
        rows = [one.after for one in self.changes if one.after is not None]
        answers = [r for r in rows if r.state is not State.UNKNOWN and not r.kind.information]
        return answers[0] if answers else None

    @property
    def tighter(self) -> tuple[MarginChange, ...]:
        """What has less left than before."""
        return tuple(one for one in self.changes if one.tighter)

    @property
    def needs(self) -> tuple[MarginChange, ...]:
        """What else must change with a plan: limits it passes, or may pass, that hold for it."""
        limits = [one for one in self.changes if not _information(one)]
        return tuple(one for one in limits if one.outgrown or one.doubtful)

    @property
    def blind(self) -> tuple[Row, ...]:
        """Limits that grow with power and cannot be looked at, for want of a datum."""
        rows = [one.after for one in self.changes if one.after is not None]
        unknown = [r for r in rows if r.state is State.UNKNOWN and not r.kind.information]
        return tuple(r for r in unknown if r.kind.power_driven)

    def telling(self) -> tuple[MarginChange, ...]:
        """What a screen shows: the tightest five, what got tighter, what changed its state;
        of those that are unknown on both sides, none."""
        limits = [c for c in self.changes if not _information(c)]
        known = [c for c in limits if c.after and c.after.state is not State.UNKNOWN]
        first = [c.name for c in known[:FIRST]]
        return tuple(c for c in limits if c.name in first or c.tighter or c.state_changed)


def _worse_end_past(one: Row | None) -> bool:
    left = one.margin.left if one is not None else None
    return left is not None and left.p10 < 0


def _information(change: MarginChange) -> bool:
    one = change.after or change.before
    return one is not None and one.kind.information


def margin_changes(
    before: Sequence[Row], after: Sequence[Row], why_unknown: Sequence[str] = ()
) -> MarginChanges:
    """Put the margins of two versions side by side by their names."""
    old = {one.name: one for one in before}
    new = {one.name: one for one in tightest_first(list(after))}
    names = [*new, *(name for name in old if name not in new)]
    return MarginChanges(
        tuple(MarginChange(name, old.get(name), new.get(name)) for name in names),
        tuple(dict.fromkeys(why_unknown)),
    )
