"""The last sections: custody, how to check all this, cautions."""

from __future__ import annotations

from collections.abc import Iterator

from buildlog.report.as_text.verify_text import VERDICTS
from buildlog.report.booklet.content import BookletContent, CustodyStory
from buildlog.report.booklet.document import (
    Block,
    Cell,
    Code,
    PageHeading,
    Section,
    Span,
    bullets,
    facts,
    para,
    table,
)
from buildlog.report.booklet.words import NEUTRAL, count, day
from buildlog.report.numbers import Display

NO_NAME = ("shop without a name", "owner without a name")  # what records say where none is set
CHECK_LINES = (
    "sha256sum --check manifest-sha256.txt",
    "sha256sum --check tagmanifest-sha256.txt",
    "git bundle verify data/ledger.bundle",
    "git clone data/ledger.bundle ledger",
    "git -C ledger fsck --strict",
    "git -C ledger log",
    "git -C ledger show --no-patch handover/{number}",
)
CAUTIONS = (
    "Figures about limits say how far a value is from a stated limit and on what basis. They are "
    "no approval: local codes and licensed practice decide what may be driven, and how.",
    "A changed engine can exceed what brakes, tyres, cooling and driveline were made for. Have the "
    "car inspected by a qualified workshop before use on the road, and after any further change.",
    "Whether exhaust, emission equipment, noise and power need an approval, an entry in the "
    "registration papers or a notice to the insurer depends on where the car is used. This "
    "booklet states facts and does not say that the car meets any code.",
    "Work on fuel, pressurised and rotating parts can injure. Follow the makers' instructions.",
)


def custody_section(content: BookletContent, show: Display) -> Section | None:
    """Who held the history, from which entry to which."""
    if not content.custody:
        return None
    rows = [_custody(one, content, show) for one in content.custody]
    body: list[Block] = [
        para("Who held this history, and from which entry and odometer to which."),
        table(
            "Chain of custody", ("no.", "date", "what", "from", "until", "signed"), rows, tight=(1,)
        ),
    ]
    return Section("custody", "Chain of custody", tuple(body))


def _custody(one: CustodyStory, content: BookletContent, show: Display) -> list[Cell]:
    record = one.record
    numbers = {
        story.version.id: story.version.number for stage in content.stages for story in
        stage.entries
    }  # fmt: skip
    holder = "a holder that gave no name" if record.holder in NO_NAME else record.holder
    what = f"{holder} gave it on" if record.role == "given" else f"{holder} took it over"
    what += f" to {record.to}" if record.to else ""
    ends = [
        _end(numbers.get(name or ""), name, show.distance(odometer.si) if odometer else "")
        for name, odometer in (
            (record.from_entry, record.from_odometer),
            (record.until_entry, record.odometer),
        )
    ]
    signed = one.signed or "not signed"
    return [str(one.number), record.date.isoformat(), what, *ends, signed]


def _end(number: int | None, name: str | None, odometer: str) -> str:
    if name is None:
        return odometer or NEUTRAL
    entry = f"entry {number} ({name[:8]})" if number else name[:8]
    return f"{entry}, {odometer}" if odometer else entry


def check_section(content: BookletContent) -> Section:
    """How anybody can check this history, with nothing of ours installed."""
    proof = content.proof
    newest = max((one.number for one in content.custody), default=1)
    body: list[Block] = [
        para("Nothing here has to be believed. Whoever has this package can check it with two "
             "programs that are on most computers, ", Span("git", "code"), " and ",
             Span("sha256sum", "code"), "."),
        facts([
            ("fingerprint of the newest state", Span(proof.fingerprint, "code")),
            ("newest entry", Span(proof.head, "code")),
            ("ledger", Span(proof.ledger_id, "code")),
            ("entries", f"{proof.entries:,}"),
            ("verdict", VERDICTS.get(proof.verdict, proof.verdict)),
        ]),
        PageHeading("by-hand", "By hand, in the folder of this package"),
        Code(tuple(line.format(number=newest) for line in CHECK_LINES)),
        para("The fingerprint stands for the whole history up to its newest entry. Written down "
             "or printed today, it tells in ten years whether a history shown then still contains "
             "this one: ", Span(f"buildlog verify --paper {proof.fingerprint}", "code"), "."),
    ]  # fmt: skip
    if proof.proves:
        body += [PageHeading("proves", "What this proves"), bullets(proof.proves)]
    if proof.does_not_prove:
        body += [
            PageHeading("does-not-prove", "What it does not prove"),
            bullets(proof.does_not_prove),
        ]
    return Section("how-to-check", "How to check this", tuple(body))


def caution_section(content: BookletContent) -> Section:
    """The usual cautions, and the facts that local codes have something to say about."""
    body: list[Block] = [bullets(CAUTIONS)]
    if content.facts:
        said = bullets(one.text for one in content.facts)
        body += [PageHeading("facts", "Facts that local codes have something to say about"), said]
    return Section("cautions", "Cautions", tuple(body))


def words_section() -> Section:
    """What the words for the kinds of figures mean."""
    body = [
        facts([
            ("measured", "read from an instrument; ± says how far it may be out"),
            ("declared", "stated by a maker, a supplier or an earlier owner"),
            ("computed", "worked out from measured or declared figures"),
            ("predicted", "what the parts should give, as a band"),
            ("typical", "a usual value, because nobody stated one"),
            ("missing", "not on record; nothing was put in its place"),
            ("found", "seen at an inspection, not done by the shop"),
        ])
    ]  # fmt: skip
    return Section("words", "Words used here", tuple(body))


def how_to_check(content: BookletContent, handover: int | None, large: bool = False) -> str:
    """The plain text that lies beside the manifests; `large`: more than is read unasked."""
    proof, car = content.proof, content.now.configuration.car
    lines = [
        f"How to check this package: {car.name}, {count(proof.entries, 'entry', 'entries')} to "
        f"{day(content.now.date)}",
        "",
        "You need a terminal, git and sha256sum (on a Mac: shasum -a 256). Nothing else, and no",
        "network. Go to the folder that holds this file, then:",
        "",
        "1. Is every file as it was when the package was made?",
        "     sha256sum --check manifest-sha256.txt",
        "     sha256sum --check tagmanifest-sha256.txt",
        "   Each line must end in OK.",
        "",
        "2. Is the history whole?",
        "     git clone data/ledger.bundle ledger",
        "     git -C ledger fsck --strict",
        "   No line may say error, missing or broken.",
        "",
        "3. Read it: every entry, then the car as it stands.",
        "     git -C ledger log",
        "     cat ledger/car.toml",
        "",
        "4. Do the files beside the history belong to it?",
        f"     git -C ledger show --no-patch handover/{handover or 1}",
        "   It lists the SHA-256 of each file in data/. Where the tag is signed:",
        "     git -C ledger -c gpg.ssh.allowedSignersFile=$PWD/ledger/keys/allowed_signers \\",
        f"         verify-tag handover/{handover or 1}",
        "   (keys/allowed_signers is there if the shop signs; ask the shop for its key by",
        "   another way than this package, and compare.)",
        "",
        "5. Is it the state that you were told of?",
        f"     fingerprint  {proof.fingerprint}",
        f"     newest entry {proof.head}",
        "     git -C ledger rev-parse HEAD     must print the newest entry",
        "",
        "What this cannot tell:",
        *(f"  - {line}" for line in proof.does_not_prove),
        "",
        "To go on with this history: buildlog receive FOLDER-OR-ZIP NEW-FOLDER",
        *(["(It is large: buildlog reads it with BUILDLOG_LARGE=1 in the environment.)"] * large),
        "",
    ]
    return "\n".join(lines)


def all_sections(content: BookletContent, show: Display) -> Iterator[Section]:
    """Custody, checking, cautions."""
    held = custody_section(content, show)
    if held is not None:
        yield held
    yield check_section(content)
    yield caution_section(content)
