"""The last sections: custody, how to check all this, cautions."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from buildlog.report.as_text.verify_text import VERDICTS
from buildlog.report.booklet import document as doc
from buildlog.report.booklet import templated
from buildlog.report.booklet.content import BookletContent, CustodyStory
from buildlog.report.booklet.words import NEUTRAL, day, sentence
from buildlog.report.numbers import Display, count

NO_NAME = ("shop without a name", "owner without a name")  # what records say where none is set


def custody_section(content: BookletContent, show: Display) -> doc.Section | None:
    """Who held the history, from which entry to which."""
    if not content.custody:
        return None
    rows = [_custody(one, content, show) for one in content.custody]
    body: list[doc.Block] = [
        doc.table(
            "Chain of custody", ("no.", "date", "what", "from", "until", "signed"), rows, tight=(1,)
        ),
    ]
    return doc.Section("custody", "Who held it", tuple(body), new_page=True)


def _custody(one: CustodyStory, content: BookletContent, show: Display) -> list[doc.Cell]:
    record = one.record
    numbers = {
        story.version.id: story.version.number for stage in content.stages for story in
        stage.entries
    }  # fmt: skip
    holder = "a shop that gave no name" if record.holder in NO_NAME else record.holder
    to = f" to {record.to}" if record.to else ""
    what = f"handed on{to} by {holder}" if record.role == "given" else f"taken over by {holder}"
    ends = [
        _end(numbers.get(name or ""), name, show.distance(odometer.si) if odometer else "")
        for name, odometer in (
            (record.from_entry, record.from_odometer),
            (record.until_entry, record.odometer),
        )
    ]
    signed = one.signed or "not signed"
    return [str(one.number), day(record.date), what, *ends, signed]


def _end(number: int | None, name: str | None, odometer: str) -> str:
    if name is None:
        return odometer or NEUTRAL
    entry = f"entry {number} ({name[:8]})" if number else name[:8]
    return f"{entry}, {odometer}" if odometer else entry


def check_section(content: BookletContent) -> doc.Section:
    """How anybody can check this history, with nothing of ours installed."""
    proof, said = content.proof, templated.said()
    newest = max((one.number for one in content.custody), default=1)
    body: list[doc.Block] = [
        doc.para("Two programs that most computers have are enough: ", doc.Span("git", "code"),
                 " and ", doc.Span("sha256sum", "code"), "."),
        doc.facts([
            ("fingerprint", doc.Span(proof.fingerprint, "code")),
            ("newest entry", doc.Span(proof.head, "code")),
            ("ledger", doc.Span(proof.ledger_id, "code")),
            (count(proof.entries, "entry", "entries"), VERDICTS.get(proof.verdict, proof.verdict)),
        ]),
    ]  # fmt: skip
    by_hand = (
        doc.PageHeading("by-hand", "By hand, in the folder of this package"),
        doc.Code(tuple(line.format(number=newest) for line in said["by_hand"])),
        doc.para(said["fingerprint"], " ",
                 doc.Span("buildlog verify --paper", "code"), " ",
                 doc.Span(proof.fingerprint, "code"), "."),
    )  # fmt: skip
    told = [
        block
        for name, title, what in (
            ("proves", "What this proves", proof.proves),
            ("does-not-prove", "What it does not prove", proof.does_not_prove),
        )
        if what
        for block in _said(name, title, what)
    ]
    body += [doc.Columns(by_hand, tuple(told))] if told else by_hand
    body.append(_words())
    return doc.Section("how-to-check", "How to check it", tuple(body))


def _said(name: str, title: str, what: Sequence[str]) -> Iterator[doc.Block]:
    yield doc.PageHeading(name, title)
    yield from (doc.para(sentence(one)) for one in what)


def _words() -> doc.Para:
    """What the words for the kinds of figures mean."""
    rows = templated.said()["words"].items()
    told = [part for word, what in rows for part in (doc.Span(word, "strong"), f": {what}. ")]
    return doc.para(*told, tone="quiet")


def caution_section(content: BookletContent) -> doc.Section:
    """The usual cautions, and the facts that local codes have something to say about."""
    said = [doc.para(one) for one in _cautions(content.now.configuration.car.power_source)]
    half = (len(said) + 1) // 2
    columns = doc.Columns(tuple(said[:half]), tuple(said[half:]))
    return doc.Section("cautions", "Cautions", (columns,))


def _cautions(power_source: str | None) -> list[str]:
    """The cautions that fit what drives a car."""
    usual: list[str] = templated.said()["cautions"]
    electric: list[str] = templated.said()["cautions_electric"]
    if power_source == "electric":
        return [*usual[:-2], *electric]
    return [*usual, electric[-1]] if power_source == "hybrid" else usual


def how_to_check(content: BookletContent, handover: int | None, large: bool = False) -> str:
    """The plain text that lies beside the manifests; `large`: more than is read unasked."""
    return templated.filled(
        "how-to-check.txt.j2",
        car=content.now.configuration.car.name,
        entries=count(content.proof.entries, "entry", "entries"),
        day=day(content.now.date),
        proof=content.proof,
        number=handover or 1,
        large=large,
    )


def unbroken(content: BookletContent) -> str:
    """What is proven, in few words: "Unbroken from entry 1 to 14; not signed."."""
    proof = content.proof
    if proof.verdict not in ("intact", "consistent"):
        return f"{VERDICTS.get(proof.verdict, proof.verdict)}."
    if content.sheet_of:  # it tells of a few entries; how many of all are signed it does not know
        return f"Unbroken from entry 1 to {proof.entries}."
    signed = sum(one.signed is not None for stage in content.stages for one in stage.entries)
    told = "not signed" if not signed else count(signed, "entry is signed", "entries are signed")
    return f"Unbroken from entry 1 to {proof.entries}; {told}."


def all_sections(content: BookletContent, show: Display) -> Iterator[doc.Section]:
    """Custody, checking, cautions."""
    held = custody_section(content, show)
    if held is not None:
        yield held
    yield check_section(content)
    yield caution_section(content)
