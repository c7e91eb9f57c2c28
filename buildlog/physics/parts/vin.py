"""Vehicle identification numbers: form, North-American check digit, model year."""

from __future__ import annotations

import re

_VALUES = dict(zip("ABCDEFGH", range(1, 9), strict=True))
_VALUES |= dict(zip("JKLMN", range(1, 6), strict=True)) | {"P": 7, "R": 9}
_VALUES |= dict(zip("STUVWXYZ", range(2, 10), strict=True))
_VALUES |= {str(digit): digit for digit in range(10)}
_WEIGHTS = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)

# Position 10 for 1980 to 2009; the same letters and digits began again in 2010.
_YEAR_CODES = "ABCDEFGHJKLMNPRSTVWXY123456789"


def normalise(text: str) -> str:
    """Return a VIN in capitals, without the spaces and hyphens people write into it.

    Formula: none. Inputs: text [-]. Result: text [-]. Validity: any text. Errors: none.
    Source: none needed.

    >>> normalise(" 1g4ah59h4-5g118341 ")
    '1G4AH59H45G118341'
    """
    return re.sub(r"[\s-]", "", text).upper()


def fault(vin: str) -> str | None:
    """Return what keeps a text from being a VIN in one sentence, or None.

    Formula: 17 characters of A-Z and 0-9 without I, O and Q.
    Inputs: vin [-], normalised or not. Result: sentence or None.
    Validity: cars from about 1981 on; older cars have shorter chassis numbers, which are
    no VIN. The check digit is not judged here, as only North America requires it.
    Errors: none.
    Source: ISO 3779 (from memory) and 49 CFR 565.13 (secondary).

    >>> fault("1G4AH59H45G11834I")
    'a VIN has no I, O or Q, but character 17 is I.'
    """
    plain = normalise(vin)
    if len(plain) != 17:
        return f"a VIN has 17 characters, not {len(plain)}."
    for place, character in enumerate(plain, start=1):
        if character in "IOQ":
            return f"a VIN has no I, O or Q, but character {place} is {character}."
        if character not in _VALUES:
            return f"a VIN has only letters and digits, but character {place} is {character!r}."
    return None


def check_digit(vin: str) -> str:
    """Return the check digit that position 9 of a North-American VIN must have.

    Formula: sum of value times weight over all places, modulo 11; 10 is written X.
    Inputs: vin [-]; what stands at position 9 does not count. Result: "0" to "9" or "X".
    Validity: a rule of North America only: European and Japanese VINs may differ from it
    legitimately. It finds any one wrong character that changes the value.
    Errors: ValueError if the text is not a VIN.
    Source: 49 CFR 565.15(c), tables III to VI; example opened.

    >>> check_digit("1G4AH59H_5G118341".replace("_", "0"))
    '4'
    """
    wrong = fault(vin)
    if wrong is not None:
        raise ValueError(wrong)
    products = (_VALUES[c] * w for c, w in zip(normalise(vin), _WEIGHTS, strict=True))
    remainder = sum(products) % 11
    return "X" if remainder == 10 else str(remainder)


def model_year(vin: str) -> int | None:
    """Return the model year that positions 7 and 10 tell, or None if they tell none.

    Formula: position 10 gives the year of a 30-year cycle; a letter at position 7 means
    2010 or later, a digit 1980 to 2009.
    Inputs: vin [-]. Result: year 1980 to 2039, or None where position 10 is no year code.
    Validity: North-American cars and light vehicles; elsewhere position 10 is the maker's.
    Errors: ValueError if the text is not a VIN.
    Source: 49 CFR 565.15 (codes from memory).

    >>> model_year("1G4AH59H45G118341")
    2005
    """
    wrong = fault(vin)
    if wrong is not None:
        raise ValueError(wrong)
    plain = normalise(vin)
    place = _YEAR_CODES.find(plain[9])
    if place < 0:
        return None
    return (2010 if plain[6].isalpha() else 1980) + place
