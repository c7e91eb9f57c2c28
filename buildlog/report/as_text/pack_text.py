"""What packing did."""

from __future__ import annotations

from buildlog.store.verify.repacking import Packed


def packed_lines(done: Packed) -> list[str]:
    """Files and bytes before and after."""
    before = f"{done.files_before:,} files of {done.bytes_before / 1000:,.0f} kB"
    after = f"{done.files_after:,} of {done.bytes_after / 1000:,.0f} kB"
    return [f"packed by {done.by}: {before} are now {after}", "next: buildlog verify"]
