"""What `buildlog sync` says: the question and the outcome."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from buildlog.report.lines import PAGE, clean, shorten, wrap
from buildlog.report.numbers import count

if TYPE_CHECKING:
    from buildlog.store.exchange.exchange import Exchange
    from buildlog.store.exchange.two_copies import Saying, Synced, SyncQuestion
    from buildlog.store.ledger.entries import Entry

_SHOWN = 8  # entries of a side that are listed


def question(asked: SyncQuestion) -> list[str]:
    """Something that both sides changed, with who said what and when."""
    lines = [f"{asked.name} was changed on both sides"]
    if not asked.is_file:
        lines.append(f"  was     {_shown(asked.was)}")
    for word, said in (("ours", asked.ours), ("theirs", asked.theirs)):
        value = "" if asked.is_file else f"{_shown(said.value)}, "
        lines += wrap(f"{word:<7} {value}{_who(said)}", 10, 2)
    return lines


def outcome(done: Synced, dry_run: bool) -> list[str]:
    """What was done."""
    lines = wrap(_first(done, dry_run), 2, 0)
    came, went = ("would come", "would go") if dry_run else ("came", "went")
    lines += _listed(came, done.received) + _listed(went, done.sent)
    for old, new in done.renamed.items():
        lines += wrap(f"both sides had a {old}: one of them is now {new}", 4, 2)
    lines += [f"  decided {name}: {side}" for name, side in done.decided.items()]
    for comment in done.comments_left:
        lines += wrap(f"left out of the joined text, but kept in its entry: {comment}", 4, 2)
    lines += _names(done.names, came, went)
    if kept := done.plans_kept:
        plans = count(len(kept), "plan stays", "plans stay")
        lines += wrap(f"{plans} here (--with-plans exchanges them): {', '.join(kept)}", 4, 2)
    if dry_run:
        lines.append("nothing was written (--dry-run)")
    return [*lines, "next: buildlog history" if not dry_run else "next: the same without --dry-run"]


def _first(done: Synced, dry_run: bool) -> str:
    came, went = (
        count(len(done.received), "entry", "entries"),
        count(len(done.sent), "entry", "entries"),
    )
    if done.state == "equal":
        return "equal: both sides hold the same entries"
    if dry_run:
        return {
            "sent": f"would be sent: {went}; the other side has nothing that is new here",
            "received": f"would be received: {came}; there is nothing new here to send",
            "joined": f"would be joined: {came} would come, {went} would go",
        }[done.state]
    return {
        "sent": f"sent: {went}; the other side is now equal to ours",
        "received": f"received: {came}; ours is now equal to the other side",
        "joined": f"joined: {came} came, {went} went; both sides are now equal",
    }[done.state]


def _listed(word: str, listed: Sequence[Entry]) -> list[str]:
    older = len(listed) - _SHOWN
    lines = [f"  {word}  and {older} before these"] if older > 0 else []
    return lines + [_entry_line(word, entry) for entry in listed[-_SHOWN:]]


def _entry_line(word: str, entry: Entry) -> str:
    lead = f"  {word}  {entry.short}  {entry.work_date}  "
    by = f" ({entry.done_by})" if entry.done_by else ""
    return lead + shorten(clean(entry.subject), max(PAGE.width - len(lead) - len(by), 12)) + by


def _names(names: Exchange, came: str, went: str) -> list[str]:
    """The tags and plans; a stage's tag goes with its entry and needs no word."""
    lines = [
        f"  {word}  {name}"
        for word, listed in ((came, names.received), (went, names.sent))
        for name in listed
        if not name.startswith("stage/")
    ]
    for one in names.differing:
        text = f"{one.name} is {one.ours[:8]} here and {one.theirs[:8]} there; both were left"
        text += f", theirs is also here as {one.kept}" if one.kept else ""
        lines += wrap(text, 4, 2)
    for name, why in names.refused.items():
        lines += wrap(f"left where it is: {name} {why}", 4, 2)
    return lines


def _who(said: Saying) -> str:
    entry = said.entry
    if entry is None:
        return "by whom is not known"
    by = f" by {entry.done_by}" if entry.done_by else ""
    return f"{entry.short}{by} on {entry.work_date}: {entry.subject}"


def _shown(value: object) -> str:
    return "not given" if value is None else str(value)
