"""A folder or zip in the layout of a BagIt bag (RFC 8493), written and read strictly.

    bagit.txt, bag-info.txt        what this is
    HOW-TO-CHECK.txt               for people, in plain words
    manifest-sha256.txt            SHA-256 of every file below data/
    tagmanifest-sha256.txt         SHA-256 of the files above
    data/...                       the payload

A bag stands in memory as file name -> bytes. What is read must be written exactly as this
program writes it: then no byte of it can change unseen, not even a blank in a manifest.
"""

from __future__ import annotations

import hashlib
import io
import re
import zipfile
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path

from buildlog.errors import DamagedLedger, InvalidInput
from buildlog.findings import Finding
from buildlog.store.disk import atomic
from buildlog.store.git import ledger_files

BAGIT = b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
MANIFEST, TAGMANIFEST = "manifest-sha256.txt", "tagmanifest-sha256.txt"
_LINE = re.compile(r"([0-9a-f]{64})  (\S.*)")
_EPOCH = (1980, 1, 1, 0, 0, 0)  # the earliest a zip can say: no clock leaves with it

Files = dict[str, bytes]


@dataclass(frozen=True)
class BagLimits:
    """What a bag may hold at most: files, bytes of one file and of all, unpacked over packed."""

    files: int = 20_000
    one: int = 256 * 1024 * 1024
    all: int = 768 * 1024 * 1024
    ratio: int = 400


def bag(payload: Mapping[str, bytes], info: Mapping[str, str], texts: Mapping[str, bytes]) -> Files:
    """A whole bag. `texts` are further files beside the manifests, for people."""
    data = {f"data/{name}": content for name, content in sorted(payload.items())}
    size = sum(map(len, data.values()))
    lines = {**info, "Payload-Oxum": f"{size}.{len(data)}"}
    tags = {
        "bagit.txt": BAGIT,
        "bag-info.txt": "".join(f"{key}: {value}\n" for key, value in lines.items()).encode(),
        **texts,
        MANIFEST: _manifest(data),
    }
    return {**tags, TAGMANIFEST: _manifest(tags), **data}


def payload(files: Mapping[str, bytes]) -> Files:
    """The files below data/, by their names there."""
    return {
        name.removeprefix("data/"): content
        for name, content in files.items()
        if name.startswith("data/")
    }


# folders


def write_folder(folder: Path, files: Mapping[str, bytes]) -> None:
    """Write a bag into an empty folder; every file and folder is forced to the disk."""
    for name, content in files.items():
        _refuse_name(name)
        atomic.replace(folder / name, content)


def read_folder(folder: Path, limits: BagLimits | None = None) -> Files:
    """Read a bag from a folder; links are refused, nothing is followed."""
    limits = limits or BagLimits()
    files: Files = {}
    total = 0
    for path in sorted(folder.rglob("*")):
        if path.is_symlink() or not (path.is_file() or path.is_dir()):
            raise _bad(f"{path.name!r} is a link or no ordinary file")
        if path.is_dir():
            continue
        name = path.relative_to(folder).as_posix()
        _refuse_name(name)
        total += path.stat().st_size
        _refuse_sizes(len(files) + 1, path.stat().st_size, total, limits)
        files[name] = path.read_bytes()
    return files


# zip


def zipped(files: Mapping[str, bytes], root: str) -> bytes:
    """The bag as one zip with one folder in it; the same files give the same bytes."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        for name, content in files.items():
            entry = zipfile.ZipInfo(f"{root}/{name}", _EPOCH)
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o100644 << 16
            entry.create_system = 3
            archive.writestr(entry, content)
    return out.getvalue()


def read_zip(data: bytes, limits: BagLimits | None = None) -> tuple[str, Files]:
    """The folder's name and the files of a zip, member by member and within limits."""
    limits = limits or BagLimits()
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            members = archive.infolist()
            roots = {member.filename.partition("/")[0] for member in members}
            if len(roots) != 1:
                raise _bad("its files do not lie in one folder")
            root = roots.pop()
            _refuse_name(root)
            return root, dict(_members(archive, members, root, limits))
    except DamagedLedger:
        raise
    except Exception as error:  # zipfile raises many kinds on damage
        raise _bad(f"it is damaged ({type(error).__name__}: {error})") from error


def zip_findings(data: bytes, root: str, files: Mapping[str, bytes]) -> list[Finding]:
    """Whether a zip is byte for byte what this program writes of the same files."""
    if zipped(_in_order(files), root) == data:
        return []
    text = "the zip itself is not as buildlog writes it; what it holds is judged by itself"
    return [Finding("zip-rewritten", "caution", text, hint="it was packed again, or altered")]


def _members(
    archive: zipfile.ZipFile, members: list[zipfile.ZipInfo], root: str, limits: BagLimits
) -> Iterator[tuple[str, bytes]]:
    seen: set[str] = set()
    total = 0
    for member in members:
        name = member.filename.removeprefix(f"{root}/")
        kind = member.external_attr >> 28
        if member.is_dir() or kind not in (0, 0o10) or member.flag_bits & 1:
            raise _bad(f"{name[:80]!r} in it is a folder, a link or locked by a password")
        _refuse_name(name)
        if name.casefold() in seen:
            raise _bad(f"it holds {name[:80]!r} twice")
        seen.add(name.casefold())
        total += member.file_size
        _refuse_sizes(len(seen), member.file_size, total, limits)
        if member.file_size > 2**20 and member.file_size > limits.ratio * member.compress_size:
            raise _bad(f"{name[:80]!r} unpacks to more than {limits.ratio} times its size")
        with archive.open(member) as file:
            content = file.read(member.file_size + 1)
        if len(content) != member.file_size:
            raise _bad(f"{name[:80]!r} is not of the size it states")
        yield name, content


# inside


def _manifest(files: Mapping[str, bytes]) -> bytes:
    lines = (f"{hashlib.sha256(content).hexdigest()}  {name}\n" for name, content in files.items())
    return "".join(lines).encode()


def _in_order(files: Mapping[str, bytes]) -> Files:
    """The files in the order in which this program writes them."""
    first = [line[66:] for line in files.get(TAGMANIFEST, b"").decode(errors="replace").split("\n")]
    names = [name for name in (*first, TAGMANIFEST) if name in files]
    return {name: files[name] for name in (*names, *sorted(files.keys() - set(names)))}


def check(files: Mapping[str, bytes]) -> list[Finding]:
    """What is wrong with a bag; nothing if it is whole and as it was written."""
    return list(_faults(files))


def _faults(files: Mapping[str, bytes]) -> Iterator[Finding]:
    for name in ("bagit.txt", "bag-info.txt", MANIFEST, TAGMANIFEST):
        if name not in files:
            yield _fault("bag-incomplete", f"{name} is missing")
            return
    if files["bagit.txt"] != BAGIT:
        yield _fault("bag-form", "bagit.txt does not say what this program writes")
    data = {name: content for name, content in files.items() if name.startswith("data/")}
    tags = {name: files[name] for name in files.keys() - data.keys() - {TAGMANIFEST}}
    yield from _compared(files[MANIFEST], MANIFEST, data)
    yield from _compared(files[TAGMANIFEST], TAGMANIFEST, tags)
    oxum = f"Payload-Oxum: {sum(map(len, data.values()))}.{len(data)}"
    if oxum.encode() not in files["bag-info.txt"].split(b"\n"):
        yield _fault("bag-form", "bag-info.txt does not state the size that is here")


def _compared(manifest: bytes, name: str, files: Mapping[str, bytes]) -> Iterator[Finding]:
    stated = _stated(manifest, name)
    for path, digest in stated.items():
        if path not in files:
            yield _fault("bag-missing", f"{path} is listed in {name} and is not here")
        elif hashlib.sha256(files[path]).hexdigest() != digest:
            yield _fault("bag-altered", f"{path} is not as it was when the package was made")
    for path in sorted(files.keys() - stated.keys()):
        yield _fault("bag-extra", f"{path} is here and is not listed in {name}")


def _stated(manifest: bytes, name: str) -> dict[str, str]:
    try:
        lines = manifest.decode("utf-8").split("\n")
    except UnicodeDecodeError:
        raise _bad(f"{name} is no text") from None
    found: dict[str, str] = {}
    for line in lines[:-1]:
        match = _LINE.fullmatch(line)
        if match is None or match.group(2) in found:
            raise _bad(f"{name} holds a line that is none: {line[:80]!r}")
        _refuse_name(match.group(2))
        found[match.group(2)] = match.group(1)
    if lines[-1]:
        raise _bad(f"{name} is cut off")
    return found


def _refuse_name(name: str) -> None:
    reason = ledger_files.refusal(name)
    if reason:
        raise _bad(f"the name {name[:80]!r} {reason}")


def _refuse_sizes(files: int, one: int, total: int, limits: BagLimits) -> None:
    if files > limits.files or one > limits.one or total > limits.all:
        raise _bad("it is larger than any handover")


def _fault(code: str, text: str) -> Finding:
    return Finding(code, "error", text, hint="ask for the package again")


def _bad(what: str) -> DamagedLedger:
    return DamagedLedger(f"the package cannot be accepted: {what}", hint="ask for it again")


def refuse_taken(folder: Path) -> None:
    """A package goes to a place where nothing is."""
    beside = [folder.with_name(folder.name + ".zip")] if folder.name else []
    for place in (folder, *beside):
        if place.exists() or place.is_symlink():
            raise InvalidInput(f"{place} is there already", hint="choose another name")
