"""What lies around a ledger's objects: configuration, hooks, HEAD, references, packed-refs.

None of it is ever obeyed by this program. A plain git obeys it, so whatever is not as
`buildlog new` or `git clone` writes it is named.
"""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from pathlib import Path

from buildlog.errors import BuildlogError
from buildlog.findings import Finding
from buildlog.store.git import ledger_files
from buildlog.store.git.repo import MAIN, Repo
from buildlog.store.ledger.names import OWN

_BOOLEAN = re.compile(rb"true|false")
_EXPECTED: dict[tuple[bytes, bytes], re.Pattern[bytes]] = {
    (b"core", b"repositoryformatversion"): re.compile(rb"0"),
    (b"core", b"filemode"): _BOOLEAN,
    (b"core", b"bare"): re.compile(rb"false"),
    (b"core", b"logallrefupdates"): _BOOLEAN,
    (b"core", b"ignorecase"): _BOOLEAN,
    (b"core", b"precomposeunicode"): _BOOLEAN,
    (b"core", b"symlinks"): _BOOLEAN,
    (b"gc", b"auto"): re.compile(rb"0"),
}
_HARMLESS = {
    (b"user", b"name"), (b"user", b"email"), (b"user", b"signingkey"), (b"gpg", b"format"),
    (b"commit", b"gpgsign"), (b"branch", b"remote"), (b"branch", b"merge"),
    (b"remote", b"fetch"),
}  # fmt: skip
# What makes a plain git run a program, read other files, or talk to another place.
_OBEYED = re.compile(
    rb"core\.(fsmonitor|hookspath|sshcommand|gitproxy|worktree|attributesfile|excludesfile|pager"
    rb"|editor|askpass|alternaterefscommand|fsyncmethod)|include(if)?\..*|alias\..*|filter\..*"
    rb"|diff\..*|merge\..*|credential\..*|gpg\..*program|gpg\..*defaultkeycommand|pager\..*"
    rb"|difftool\..*|mergetool\..*|sequence\..*|url\..*|http\..*|protocol\..*|submodule\..*"
    rb"|remote\.(uploadpack|receivepack|vcs|proxy|promisor|pushurl)|uploadpack\..*|trailer\..*"
    rb"|extensions\..*|gc\.recentobjectshook|interactive\..*|web\..*|browser\..*|man\..*"
    rb"|init\..*|ssh\..*|sendemail\..*|imap\..*|guitool\..*|receive\..*|transfer\..*|maintenance\..*"
)
_LINE = re.compile(rb"([0-9a-f]{40}) (refs/[!-~]+)")
_HEADER = re.compile(rb"# pack-refs with:( peeled| fully-peeled| sorted)* ?")


def config(repo: Repo) -> Iterator[Finding]:
    """The settings that are not as they are written for a ledger."""
    for section, name, value in _settings(repo.git / "config"):
        text = f"{section.decode('utf-8', 'replace')}.{name.decode('utf-8', 'replace')}"
        if _OBEYED.fullmatch(section + b"." + name):
            yield Finding(
                "config-hostile",
                "caution",
                f"the repository's config sets {text}, which a plain git would obey",
                where=".git/config",
                hint="buildlog does not obey it; remove the line before using git here",
            )
            continue
        expected = _EXPECTED.get((section, name))
        odd = not expected.fullmatch(value) if expected else (section, name) not in _HARMLESS
        if odd and (section, name) != (b"remote", b"url"):
            said = f"{text} = {value[:60].decode('utf-8', 'replace')}"
            yield Finding(
                "config",
                "note",
                f"the config, git's own and no evidence, says {said}",
                where=".git/config",
            )
    yield from _another_history(repo)
    if hostile_hooks(repo.git):
        text = f"hooks would be run by a plain git: {', '.join(hostile_hooks(repo.git))}"
        yield Finding(
            "hooks", "caution", text, where=".git/hooks",
            hint="buildlog runs none; remove them before using git here",
        )  # fmt: skip


def _another_history(repo: Repo) -> Iterator[Finding]:
    """What makes a plain git show other entries than those that were recorded."""
    places = [name for name in ("info/grafts", "shallow") if (repo.git / name).exists()]
    places += [name for name in repo.names() if name.startswith("refs/replace/")]
    for name in places:
        yield Finding(
            "other-history",
            "caution",
            "by this a plain git shows another history than the one that was recorded",
            where=f".git/{name}",
            hint="buildlog does not obey it; take it away before using git here",
        )


def line_ends(repo: Repo) -> Iterator[Finding]:
    """A ledger from before `.gitattributes`, where a plain git would change line ends."""
    tip = repo.tip()
    held = repo.held(tip, ledger_files.ATTRIBUTES)
    if held is not None and held != ledger_files.KEEP_BYTES:
        text = "it is not as it is written for a ledger: a plain git may change bytes by it"
        yield Finding("attributes", "caution", text, where=ledger_files.ATTRIBUTES)
    if tip is None or held is not None:
        return
    if os.name == "nt" or any(map(_converts, (repo.git / "config", Path.home() / ".gitconfig"))):
        text = "a plain git here changes line ends of a clone's files, and nothing tells it not to"
        hint = f'write "* -text" into {ledger_files.ATTRIBUTES}, and record it'
        yield Finding("line-ends", "note", text, where=ledger_files.ATTRIBUTES, hint=hint)


def _converts(config: Path) -> bool:
    try:
        found = {(section, name): value for section, name, value in _settings(config)}
    except (OSError, ValueError):
        return False
    return found.get((b"core", b"autocrlf"), b"false").lower() in (b"true", b"input")


def is_hostile(repo: Repo) -> bool:
    """Whether a plain git started in this repository could be made to do something else."""
    try:
        return any(finding.severity == "caution" for finding in config(repo))
    except Exception:
        return True


def hostile_hooks(git: Path) -> list[str]:
    """Hooks that a plain git would run."""
    folder = git / "hooks"
    if folder.is_symlink():
        return ["hooks"]
    if not folder.is_dir():
        return []
    return sorted(path.name for path in folder.iterdir() if path.suffix != ".sample")


def head(repo: Repo) -> Iterator[Finding]:
    """Whether the folder shows `main`."""
    data = (repo.git / "HEAD").read_bytes()[:200]
    if data not in (b"ref: " + MAIN.encode() + b"\n", b"ref: " + MAIN.encode()):
        yield Finding("head", "caution", "the folder does not show the branch main", where="HEAD")


def references(repo: Repo) -> Iterator[Finding]:
    """References of no use to a ledger, and the file that holds packed ones."""
    for name in repo.names():
        if not name.startswith((*OWN, "refs/remotes/", "refs/replace/")):
            yield Finding("reference", "note", f"{name} is no name that a ledger uses")
    yield from _packed(repo)


def _packed(repo: Repo) -> Iterator[Finding]:
    path = repo.git / "packed-refs"
    if not path.exists():
        return
    last: bytes | None = None
    for number, line in enumerate(path.read_bytes().removesuffix(b"\n").split(b"\n"), start=1):
        match = _LINE.fullmatch(line)
        if match:
            last = match.group(1)
        elif line.startswith(b"^") and last is not None:
            if not _peels(repo, last, line[1:]):
                yield _torn(number)
            last = None
        elif not (number == 1 and _HEADER.fullmatch(line)) and line:
            yield _torn(number)


def _peels(repo: Repo, tag: bytes, commit: bytes) -> bool:
    try:
        return repo.peel(tag.decode()).encode() == commit
    except BuildlogError:
        return False


def _torn(number: int) -> Finding:
    text = f"line {number} of the list of packed references is not as git writes it"
    return Finding("packed-refs", "error", text, where="packed-refs", hint="restore it from a copy")


def _settings(path: Path) -> Iterator[tuple[bytes, bytes, bytes]]:
    from dulwich.config import ConfigFile

    with path.open("rb") as file:
        found = ConfigFile.from_file(file, expand_includes=False)
    for section in found.sections():
        for name, value in found.items(section):
            yield section[0].lower(), name.lower(), value
    if not found.has_section((b"core",)):
        yield b"core", b"", b"missing"
