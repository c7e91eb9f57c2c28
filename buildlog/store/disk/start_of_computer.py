"""When the computer started, as its own system says: no process that wrote before lives still."""

from __future__ import annotations

import contextlib
import sys
import time
from pathlib import Path


def last_start() -> float:
    """Seconds since 1970; 0 where that cannot be known."""
    with contextlib.suppress(OSError, ValueError, AttributeError):
        if sys.platform == "win32":
            return _of_windows()
        return _of_macos() if sys.platform == "darwin" else _of_linux()
    return 0.0


def _of_linux() -> float:
    for line in Path("/proc/stat").read_text().splitlines():
        if line.startswith("btime "):
            return float(line.split()[1])
    return 0.0


def _of_windows() -> float:
    """GetTickCount64: milliseconds since the start, sleep included (Win32; from memory)."""
    import ctypes

    ticks = ctypes.windll.kernel32.GetTickCount64  # type: ignore[attr-defined,unused-ignore]
    ticks.restype = ctypes.c_uint64
    return time.time() - float(ticks()) / 1000


def _of_macos() -> float:
    """kern.boottime of sysctl(3): a `struct timeval`, whose seconds come first (from memory)."""
    import ctypes

    held, size = (ctypes.c_long * 2)(), ctypes.c_size_t(ctypes.sizeof(ctypes.c_long) * 2)
    system = ctypes.CDLL(None)
    if system.sysctlbyname(b"kern.boottime", held, ctypes.byref(size), None, 0) != 0:
        return 0.0
    return float(held[0])
