"""ASAM MDF4 measurement files, where the extra [mdf] is installed: read as one table of text.

The file itself stays the evidence. What is read is laid on the times of the channel with the
most samples, names and units in a header; then it is a raw file like any other.
"""

from __future__ import annotations

import contextlib
import csv
import gc
import importlib.util
import io
import sys
from collections.abc import Iterator
from functools import lru_cache
from typing import Any

from buildlog.errors import InvalidInput, MissingExtra

MAGIC = b"MDF     "  # the identification block; an unfinished file has b"UnFinMF "
_UNFINISHED = b"UnFinMF "
_LARGEST = 20_000_000  # values in all


def is_mdf(head: bytes) -> bool:
    """Whether a file begins as an MDF file does."""
    return head.startswith((MAGIC, _UNFINISHED))


@lru_cache(maxsize=4)
def as_csv(data: bytes) -> bytes:
    """The file's numeric channels as CSV: names, units, then one row for each time [s].

    MissingExtra where asammdf is not installed; InvalidInput where the file cannot be read.
    """
    if importlib.util.find_spec("asammdf") is None:
        raise MissingExtra(
            "this is an ASAM MDF file, and what reads them is not installed",
            hint='pip install "buildlog[mdf]", or export the log as CSV',
        )
    problem = ""
    with _quiet():
        try:
            return _csv(_signals(data))
        except InvalidInput:
            raise
        except Exception as error:  # whatever the library makes of a damaged file
            problem = " ".join(f"{type(error).__name__}: {error}".split())[:200]
        gc.collect()  # what is left of the half-read file goes here, in quiet
    raise InvalidInput(f"the MDF file cannot be read ({problem})", hint="copy or export it again")


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """The library complains on the error stream when it lets go of a file it could not read."""
    before = sys.unraisablehook
    sys.unraisablehook = lambda _: None
    try:
        yield
    finally:
        sys.unraisablehook = before


def _signals(data: bytes) -> list[Any]:
    """Every numeric channel with at least two samples; masters are the times of the others."""
    from asammdf import MDF

    found = []
    with MDF(io.BytesIO(data)) as file:
        _refuse_huge(sum(_cells(group) for group in file.groups))
        for signal in file.iter_channels(skip_master=True, raw=False):
            kind = getattr(signal.samples, "dtype", None)
            if kind is not None and kind.kind in "iufb" and signal.samples.ndim == 1:
                found.append(signal)
    longest = max((len(signal.timestamps) for signal in found), default=0)
    if longest < 2:
        raise InvalidInput("the MDF file holds no channel of numbers over time")
    _refuse_huge(longest * len(found))
    return [signal for signal in found if len(signal.timestamps) > 1]


def _cells(group: Any) -> int:
    """How many samples a group says it holds, before any is read."""
    return int(group.channel_group.cycles_nr) * len(group.channels)


def _refuse_huge(cells: int) -> None:
    if cells > _LARGEST:
        raise InvalidInput(
            f"the MDF file holds {cells:,} values ({_LARGEST:,} at most)",
            hint="export the stretches or the channels that matter",
        )


def _csv(signals: list[Any]) -> bytes:
    times = max((signal.timestamps for signal in signals), key=len)
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["time", *(signal.name for signal in signals)])
    writer.writerow(["s", *(signal.unit or "" for signal in signals)])
    columns = [times, *(_at(times, signal) for signal in signals)]
    texts = [["" if cell != cell else repr(cell) for cell in one.tolist()] for one in columns]
    out.writelines(",".join(row) + "\n" for row in zip(*texts, strict=True))
    return out.getvalue().encode()


def _at(times: Any, signal: Any) -> Any:
    """A channel at other times: straight between its samples, nothing where one is invalid."""
    import numpy as np

    own = signal.timestamps
    if (np.diff(own) < 0).any():
        raise InvalidInput(f"the MDF file's times of {signal.name!r} run backwards")
    bits = signal.invalidation_bits
    valid = np.ones(len(own), bool) if bits is None else ~np.asarray(bits, bool)
    before = np.maximum(np.searchsorted(own, times, "right") - 1, 0)
    after = np.minimum(np.searchsorted(own, times, "left"), len(own) - 1)
    held = valid[before] & valid[after] & (times >= own[0]) & (times <= own[-1])
    values = np.interp(times, own[valid], signal.samples[valid].astype(float)) if held.any() else 0
    return np.where(held, values, np.nan)
