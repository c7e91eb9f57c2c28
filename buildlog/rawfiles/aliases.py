"""How raw files spell units, and the one text each spelling stands for in the unit table.

Spellings only: what a unit is worth is said by `buildlog.units` alone. A spelling may say more than
a unit: "psig" says gauge, "whp" at the wheels, "%RH" humidity; that is kept as a remark.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

from buildlog import units

# Canonical text: spellings after `_squeeze` (case folded, no blanks, no brackets).
SPELLINGS: dict[str, str] = {
    "rpm": "1/min u/min min-1 min^-1 tr/min t/min rev/min revs/min r/min umin upm r.p.m. u./min",
    "km/h": "kmh kph kmph kilometerprostunde",
    "mph": "mi/h mp/h miles/h",
    "m/s": "mps m/sec ms-1",
    "kW": "kilowatt",
    "hp": "bhp whp rwhp wheelhp h.p. hp(i) hp(uk) hp(us)",
    "PS": "ch cv ps(din) hp(m) hpmetric pk",
    "Nm": "n.m n-m n·m nxm newtonmeter newtonmetre nmeter",
    "lb-ft": (
        "lbft lb.ft lbsft lbs-ft lbs.ft lbs*ft lbf-ft lbf.ft lbfft ftlb ftlbs ft-lbs ft.lb ft.lbs"
        " ft*lbs ft-lbf ft*lbf ft.lbf ftlbf lb·ft ft·lb lbf·ft poundfeet pound-feet"
    ),
    "kgf*m": "mkg m-kg kgm kg-m kgf-m kgfm kg*m m*kg m.kg kg.m mkp kpm",
    "degC": "c degc grdc gradc grad deg.c degreesc celsius cel",
    "degF": "f degf deg.f degreesf fahrenheit",
    "K": "kelvin degk °k",
    "kPa": "kpaabs kpaa kpa(a) kpagauge kpag kpa(g) kparel",
    "psi": "psig psia psi(g) psi(a) psigauge psiabs lb/in2 lbf/in2 lbs/in2",
    "bar": "barg bara bar(g) bar(a) barabs barrel bargauge bar(abs) bar(rel)",
    "mbar": "millibar mbara mbarg mbarabs mbarrel",
    "hPa": "hpaabs hparel",
    "inHg": "in.hg inhg. inch.hg inchhg in-hg inches.hg",
    "mmHg": "torr mm.hg mm-hg",
    "%": "pct prozent pourcent %rh %r.h. %rf %r.f. %rel %relf. %hr %duty %tps",
    "s": "sec secs second seconds sek sekunden sekunde secondes seconde",
    "ms": "msec millisec",
    "min": "minutes minuten",
    "deg": (
        "° degree degrees grad-kw °kw °ca °btdc degbtdc deg.btdc degca degkw degcrank °crank °v"
        " kw° °kwv.ot °vot °v.ot kurbelwinkel degrésv °pmh"
    ),
    "g/s": "g/sec gps gr/s",
    "kg/h": "kg/hr",
    "lb/h": "lbs/hr lbs/h lbh pph",
    "lb/min": "lbs/min",
    "L/h": "l/hr lph ltr/h",
    "cc/min": "ccm/min cm3/min",
    "cfm": "ft3/min cuft/min",
    "m^3/h": "m3/h",
    "V": "volt volts",
    "mV": "millivolt",
    "m/s^2": "m/s2 m/s² m/ss",
    "g0": "g-force",
    "m": "meter metre metres mtr",
    "km": "kilometer kilometre",
    "mi": "mile miles",
    "ft": "feet",
    "N": "newton",
    "lbf": "poundforce",
    "1": "- – -- λ lambda afr a/f :1 xx:1 ratio none l/l kg/kg",
}
# Spelled the same whatever the case; the table's own texts stay exact.
_LOOKUP = {word: text for text, words in SPELLINGS.items() for word in words.split()}
_FOLDED = {
    row.casefold(): row for row in units.texts(units.DIMENSIONS) if len(row) > 1 or row in "shVA"
}
# One spelling, two meanings by case only: never folded.
_CASE_MATTERS = {"mw", "mpa"}

_GAUGE = re.compile(r"^(psi|bar|kpa|mbar|hpa)[ .]*(g|\(g\)|gauge|rel|\(rel\))$")
_ABSOLUTE = re.compile(r"^(psi|bar|kpa|mbar|hpa)[ .]*(a|\(a\)|abs|\(abs\))$")
_WHEEL = {"whp", "rwhp", "wheelhp"}
_CRANK = {"bhp"}


@dataclass(frozen=True)
class Spelling:
    """A unit of the table as a raw file wrote it, with what the spelling says beside the unit."""

    unit: str
    reference: str | None = None  # "gauge" | "absolute"
    place: str | None = None  # "wheel" | "crank"


def _squeeze(raw: str) -> str:
    kept = raw.replace("⁻¹", "-1").replace("º", "°").replace("⋅", "·")
    folded = re.sub(r"\s+", "", unicodedata.normalize("NFKC", kept)).casefold()
    return unwrap(folded)


def unwrap(text: str) -> str:
    """The text without the brackets that enclose all of it."""
    match = re.fullmatch(r"\s*[\[({<](.*)[\])}>]\s*", text)
    return match[1].strip() if match else text.strip()


def spelling(raw: str) -> Spelling | None:
    """The unit that a raw spelling stands for, or None.

    >>> spelling("[1/min]").unit, spelling("PS").unit, spelling("ft.lbs").unit
    ('rpm', 'PS', 'lb-ft')
    >>> spelling("psig")
    Spelling(unit='psi', reference='gauge', place=None)
    """
    plain = unwrap(raw)
    word = _squeeze(raw)
    unit = plain if units.find(plain) and plain not in {"g", "t"} else _by_word(word)
    if unit is None:
        return None
    reference = "gauge" if _GAUGE.match(word) else "absolute" if _ABSOLUTE.match(word) else None
    place = "wheel" if word in _WHEEL else "crank" if word in _CRANK else None
    return Spelling(unit, reference, place)


def _by_word(word: str) -> str | None:
    if word in _CASE_MATTERS:
        return None
    return _LOOKUP.get(word) or _FOLDED.get(word)
