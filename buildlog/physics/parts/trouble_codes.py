"""The structure of diagnostic trouble codes (SAE J2012 / ISO 15031-6)."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Literal

Kind = Literal["standard", "maker", "reserved"]
_SYSTEMS = {"P": "powertrain", "C": "chassis", "B": "body", "U": "network"}

# Third character of a standard powertrain code: 1 to 7 secondary (two makers' manuals), the
# rest from memory.
_GROUPS = {
    "0": "fuel, air and auxiliary emissions",
    "1": "fuel and air",
    "2": "fuel and air, injector circuits",
    "3": "ignition and misfire",
    "4": "auxiliary emissions",
    "5": "vehicle speed, idle and auxiliary inputs",
    "6": "computer and outputs",
    "7": "transmission",
    "8": "transmission",
    "9": "transmission",
    "A": "hybrid propulsion",
    "B": "hybrid propulsion",
    "C": "hybrid propulsion",
}


@dataclass(frozen=True)
class TroubleCode:
    """A code such as P0301: its letter, who defines it, and what it is about."""

    text: str
    letter: str
    kind: Kind
    group: str


def parse(text: str) -> TroubleCode:
    """Read a five-character trouble code.

    Formula: letter P, C, B or U; a digit 0 to 3; three hexadecimal digits.
    Inputs: text [-], capitals or not. Result: TroubleCode.
    Validity: the structure only; what a code means beyond its group is in the standard or,
    for a maker's code, in the maker's manual.
    Errors: ValueError for anything else.
    Source: SAE J2012 / ISO 15031-6 (structure secondary; reserved ranges from memory).

    >>> parse("P0301")
    TroubleCode(text='P0301', letter='P', kind='standard', group='ignition and misfire')
    """
    plain = text.strip().upper()
    if re.fullmatch(r"[PCBU][0-3][0-9A-F]{3}", plain) is None:
        raise ValueError(
            f"{text!r} is not a trouble code: P, C, B or U, then 0 to 3, then three digits or A-F."
        )
    kind = _powertrain_kind(plain) if plain[0] == "P" else _other_kind(plain)
    group = _SYSTEMS[plain[0]]
    if plain[0] == "P" and kind == "standard" and plain[1] in "02":
        group = _GROUPS.get(plain[2], group)
    return TroubleCode(plain, plain[0], kind, group)


def _powertrain_kind(code: str) -> Kind:
    if code[1] in "02":
        return "standard"
    if code[1] == "1" or code[2] in "0123":
        return "maker"
    return "standard" if code[2] in "456789" else "reserved"


def _other_kind(code: str) -> Kind:
    if code[1] == "0" or code[:2] == "U3":
        return "standard"
    return "maker" if code[1] in "12" else "reserved"
