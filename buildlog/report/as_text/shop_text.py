"""The shop in words: where each car stands, who has a part, what is due, gains and faults."""

from __future__ import annotations

import shlex
from collections import Counter
from collections.abc import Iterable, Sequence
from pathlib import Path

from buildlog.analysis.answers import shop_tables as shop
from buildlog.analysis.answers.shop_tables import Gains, PartFaults, attention, pressing
from buildlog.records.key_words import key_words
from buildlog.report.as_json.shop_json import span_text
from buildlog.report.lines import cut_table, shorten, table, wrap
from buildlog.report.numbers import Display, count, plain, share, signed

Named = Sequence[tuple[str, shop.Facts]]  # the folder's name and the car's facts, or its problem

_GATE_WORDS = {
    "hand-back": "hand-back",
    "light-load-check": "light load",
    "first-start": "first start",
    "fault-open": "open fault",
    "check-unfinished": "open list",
    "torque-unfinished": "tightening",
    "margin-over": "over limit",
    "calibration-mismatch": "calibration",
}
_NAMED = 6  # cars in a sentence
_FEW = 6  # ledgers that could not be read, before --full
_DUE_WORDS = {
    "re-torque": "tighten again",
    "re-check": "measure again",
    "fault": "open fault",
    "due": "service",
}


def shop_lines(
    found: shop.ShopAnswer, shown: Display, full: bool = False, wrote: Path | None = None
) -> list[str]:
    """The screen of one question. `wrote`: the figure that was made, too."""
    told, follows = _answer(found, shown, full)
    gone = not_reached_lines(found, full)
    lines = [*told, *([""] if gone else []), *gone]
    lines += [f"wrote {wrote}"] if wrote is not None else []
    return [*lines, *(["", f"next: {shlex.join(follows)}"] if follows else [])]


def _answer(found: shop.ShopAnswer, shown: Display, full: bool) -> tuple[list[str], list[str]]:
    """What is told, and the command that follows, with the folders in it, so that it can be
    pasted; none where no folder was named."""
    folders = [str(folder) for folder in found.folders]
    again = ["buildlog", "shop", "list"]
    match found:
        case shop.ShopDue(late=late):
            follows = ["buildlog", "next", "--ledger", str(late)] if late else []
            return due_lines(found, shown, full), follows
        case shop.ShopStanding():
            told, option = list_lines(found, shown, full), "--due"
        case shop.ShopFound():
            return find_lines(found, shown), []
        case shop.ShopGains():
            told, option = gains_lines(found.table, found.left_out, full), "--faults"
        case shop.ShopFaults():
            told, option = faults_lines(found.table, shown, full), "--due"
        case _:
            raise TypeError(type(found).__name__)
    return told, [*again, option, *folders] if folders else []


def not_reached_lines(found: shop.ShopAnswer, full: bool = False) -> list[str]:
    """Ledgers that could not be read and servers that were not reached, with the reasons."""
    few = found.unread if full else found.unread[:_FEW]
    gone = [f"{name} could not be read: {problem}" for name, problem in few]
    if len(found.unread) > len(few):
        gone.append(f"{len(found.unread) - len(few)} more could not be read: --full names them")
    for one in found.unreached:
        older = "; shown as it was fetched before" if one.older else ""
        gone.append(f"{one.name} was not reached: {one.problem}{older}")
    return [line for text in gone for line in wrap(text, 2, 0)]


def list_lines(found: shop.ShopStanding, shown: Display, full: bool = False) -> list[str]:
    """One line a car, what needs attention first."""
    broken = [one for one in found.cars if one[1].get("problem")]
    read = [one for one in found.cars if not one[1].get("problem")]
    lines = [headline(read, broken), ""]
    rows = [["car", "stage", "since", "power", "tightest", "held up by"]]
    twice = _twice(facts["name"] for _, facts in read)
    for folder, facts in read:
        name = folder if facts["name"] in twice else facts["name"]
        rows.append(
            [
                name if full else shorten(name, 12),
                facts["stage"] or "-" if full else shorten(facts["stage"] or "-", 12),
                facts["since"] or "unknown",
                shown.value(facts["last_power"], "power", 0) if facts["last_power"] else "-",
                tightest_words(facts["tightest"], full),
                held_words(facts, full),
            ]
        )
    lines += cut_table(rows, full, right=(3,)) if read else []
    for folder, facts in broken:
        lines += wrap(f"{folder}: {facts['problem']}", 2, 0)
    return lines


def _twice(names: Iterable[str]) -> set[str]:
    """Names that several cars go by: their folders tell them apart."""
    return {name for name, count in Counter(names).items() if count > 1}


def headline(read: Named, broken: Named) -> str:
    """How many cars, how many held up, how many with something due."""
    held = sum(1 for _, facts in read if attention(facts)[0] <= 3)
    due = sum(1 for _, facts in read if pressing(facts))
    text = f"{count(len(read), 'car')}: {held} held up, {due} with something due"
    return f"{text}; {len(broken)} could not be read" if broken else text


def tightest_words(tightest: shop.Facts | None, full: bool = False) -> str:
    """ "clutch torque 7 % close"."""
    if tightest is None:
        return "none known"
    name = tightest["name"] if full else shorten(tightest["name"], 12)
    if tightest["left"] is None:
        return f"{name} {tightest['state']}"
    left = share(tightest["left"]) if tightest["ratio"] else _distance(tightest)
    return f"{name} {left} {tightest['state']}"


def _distance(tightest: shop.Facts) -> str:
    return f"{tightest['left']:.3g} {tightest['unit']}".rstrip(" 1").rstrip()


def held_words(facts: shop.Facts, full: bool = False) -> str:
    """The first thing that holds a car up, and how many more there are; in full, every why. What
    it waits for comes first after an open fault: the shop alone cannot go on."""
    faults = [item["what"] for item in facts["due"] if item["code"] == "fault"]
    if full:
        waits = [_wait_words(one) for one in facts["waits"]]
        reasons = [*faults, *waits, *[item["why"] for item in facts["holds_up"]]]
        return "; ".join(dict.fromkeys(reasons)) or "nothing"
    words = [_GATE_WORDS.get(item["gate"], item["gate"]) for item in facts["holds_up"]]
    waits = [f"waits: {shorten(one['what'], 12)}" for one in facts["waits"]]
    reasons = list(dict.fromkeys([*["open fault" for _ in faults], *waits, *words]))
    more = f" (+{len(reasons) - 1})" if len(reasons) > 1 else ""
    return f"{reasons[0]}{more}" if reasons else "nothing"


def _wait_words(one: shop.Facts) -> str:
    """ "waits for head gasket (part) since 2026-03-14, expected 2026-04-02"."""
    kind = f" ({one['waits_for']})" if one["waits_for"] not in (None, "other") else ""
    expected = f", expected {one['expected']}" if one["expected"] else ""
    return f"waits for {one['what']}{kind} since {one['since']}{expected}"


def due_lines(found: shop.ShopDue, shown: Display, full: bool = False) -> list[str]:
    """What is due, car by car, what needs attention first."""
    rows = [["car", "due", "left or since", "what"]]
    cars = [one for one in found.cars if not one[1].get("problem")]
    twice = _twice(facts["name"] or "" for _, facts in cars)
    called = [(_called(folder, facts, twice), facts) for folder, facts in cars]
    for name, facts in called:
        for item in pressing(facts):
            rows.append([shorten(name, 24), due_word(item), left_words(item, shown), item["what"]])
    alone = _alone([name for name, facts in called if facts["due"] != pressing(facts)], full)
    if len(rows) == 1:
        return [f"nothing is due in {count(len(cars), 'car')}", *alone]
    behind = sum(bool(pressing(facts)) for _, facts in cars)
    head = f"{count(len(rows) - 1, 'thing')} due in {behind} of {count(len(cars), 'car')}"
    return [head, "", *cut_table(rows, full), *alone]


def _called(folder: str, facts: shop.Facts, twice: set[str]) -> str:
    return folder if not facts["name"] or facts["name"] in twice else str(facts["name"])


def _alone(names: Sequence[str], full: bool) -> list[str]:
    """The cars whose ledgers are on this computer only, in one sentence."""
    if not names:
        return []
    told = list(names) if full or len(names) <= _NAMED else [*names[:_NAMED], "..."]
    text = f"{count(len(names), 'car')} ({', '.join(told)})"
    said = f"no copy known: {text}"
    return ["", *wrap(said, 2, 0), "  buildlog sync REMOTE --ledger DIR"]


def due_word(item: shop.Facts) -> str:
    """What kind of thing is due, as the shop would call it."""
    return str(_DUE_WORDS.get(item["code"], item["code"]))


def left_words(item: shop.Facts, shown: Display) -> str:
    """How far it is until then, or since when; "" where nobody knows."""
    if item.get("on") and not (item["left"] is not None and item["left"] < 0):
        return f"by {item['on']}"
    if item["left"] is None:
        return f"since {item['since']}" if item["since"] else ""
    if item["left"] < 0:
        return f"{shown.distance(-item['left'])} over"
    return f"{shown.distance(item['left'])} left"


def find_lines(found: shop.ShopFound, shown: Display) -> list[str]:
    """Who has a part and who had it: from when to when, at what odometer."""
    hits = found.hits
    now = [hit for hit in hits if hit[2]["to"] is None]
    past, cars = count(len(hits) - len(now), "time"), count(found.searched, "car")
    head = f"{found.argument}: in {count(len({hit[0] for hit in now}), 'car')} now, "
    head += f"{past} in the past; {cars} searched"
    if not hits:
        return wrap(head, 2, 0)
    paths = {hit[2]["path"] for hit in hits}
    rows = [["car", _last(*paths), "from", "at", "until", "at", *["in"] * (len(paths) > 1)]]
    twice = _twice(dict(hit[:2] for hit in hits).values())
    for folder, name, span in sorted(hits, key=lambda hit: (hit[2]["to"] is not None, hit[:2])):
        row = [shorten(folder if name in twice else name, 16), *_lifetime(span, shown)]
        rows.append([*row, *[_within(span["path"])] * (len(paths) > 1)])
    legend = f"odometers in {shown.unit('length').text}; <= already fitted at the first entry"
    return [*wrap(head, 2, 0), "", *cut_table(rows, full=False, right=(3, 5)), "", legend]


def _lifetime(span: shop.Facts, shown: Display) -> list[str]:
    """A value, and from when to when it was there."""
    start, stop = span["from"], span["to"]
    return [
        shorten(span_text(span), 20),
        f"<= {start['day']}" if start["found"] else start["day"] or "unknown",
        _reading(start, shown),
        (stop["day"] or "unknown") if stop else "still in",
        _reading(stop, shown) if stop else "",
    ]


def _reading(point: shop.Facts, shown: Display) -> str:
    return shown.number(point["odometer"], "length", 0) if point["odometer"] else "unknown"


def _last(*paths: str) -> str:
    """What the last names of paths have in common, in words."""
    from buildlog.records.paths import parts

    names = {parts(path)[-1] for path in paths}
    return key_words(names.pop()) if len(names) == 1 else "value"


def _within(path: str) -> str:
    """Which part of the car a field belongs to: "fuel.pump" of fuel.pump.part.number."""
    from buildlog.records.paths import parts

    names = parts(path)[:-1]
    return ".".join(names[:-1] if names[-1:] == ["part"] and len(names) > 1 else names)


def gains_lines(found: Sequence[Gains], left_out: Sequence[str], full: bool = False) -> list[str]:
    """What each kind of change gave, measured, with its spread."""
    if not found:
        lines = ["no stage of this shop was measured before and after, like for like"]
        return [*lines, *_left_out(left_out, full)]
    stages = sum(one.count for one in found)
    rows = [["what was changed", "stages", "cars", "power", "least", "most", "spread", "shown"]]
    for one in found:
        spread = f"± {plain(100 * one.spread, 1)} %" if one.spread is not None else "-"
        shown = f"{one.beyond} of {one.count}"
        kind = one.kind if full else shorten(one.kind, 24)
        rows.append([kind, str(one.count), str(one.cars), _percent(one.middle),
                     _percent(one.low), _percent(one.high), spread, shown])  # fmt: skip
    lines = [f"{count(stages, 'measured stage')}, {count(len(found), 'kind')} of change", ""]
    lines += table(rows, right=(1, 2, 3, 4, 5, 6), indent=0, gap=1)
    lines += ["", "power: median change of the peak at the wheels, measured before and after;"]
    lines += ["spread: one standard deviation between stages, from three stages on;"]
    lines += ["shown: stages whose change is larger than their own scatter"]
    return [*lines, *_left_out(left_out, full)]


def _left_out(left_out: Sequence[str], full: bool) -> list[str]:
    if not left_out:
        return []
    lines = ["", f"left out: {count(len(left_out), 'pair')} of measured versions"]
    for text in left_out if full else left_out[:5]:
        lines += wrap(text, 4, 2)
    return lines if full or len(left_out) <= 5 else [*lines, f"  {len(left_out) - 5} more: --full"]


def _percent(value: float) -> str:
    return f"{signed(100 * value, 1)} %"


def faults_lines(found: Sequence[PartFaults], shown: Display, full: bool = False) -> list[str]:
    """Faults by part number, with the distance at failure."""
    if not found:
        return ["no fault is written down in these ledgers"]
    rows = [["part", "number", "faults", "open", "cars", "at failure"]]
    for one in found:
        name = " ".join(word for word in (one.maker, one.number) if word)
        rows.append([one.part, name or "not recorded", str(one.count), str(one.open), str(one.cars),
                     _at_failure(one, shown)])  # fmt: skip
    faults = sum(one.count for one in found)
    lines = [f"{count(faults, 'fault')} of {count(len(found), 'part')}", ""]
    lines += table(rows, right=(2, 3, 4), indent=0)
    return [*lines, "", *(line for one in found for line in _what_was_seen(one, full))]


def _what_was_seen(one: PartFaults, full: bool) -> list[str]:
    """The symptoms of a part, and why a distance at failure is not known."""
    name = " ".join(word for word in (one.part, one.maker, one.number) if word)
    seen = one.symptoms if full else one.symptoms[:_NAMED]
    more = (
        f"; {len(one.symptoms) - len(seen)} more: --full" if len(one.symptoms) > len(seen) else ""
    )
    lines = wrap(f"{name}: {'; '.join(seen)}{more}", 2, 0)
    if one.unknown:
        why = "; ".join(one.reasons) or "no reason is written down"
        lines += wrap(f"distance unknown at {count(one.unknown, 'failure')}: {why}", 4, 2)
    return lines


def _at_failure(one: PartFaults, shown: Display) -> str:
    if one.middle is None:
        return "unknown"
    if len(one.distances) == 1:
        return shown.distance(one.middle)
    low, high = (
        shown.number(value, "length", 0) for value in (one.distances[0], one.distances[-1])
    )
    return f"{shown.distance(one.middle)} ({low} to {high})"
