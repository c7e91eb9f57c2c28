"""Physical constants and unit sizes in SI, each with its source.

The unit sizes are exact by definition (checked against scipy.constants to 1e-12);
the gas properties are the rounded values of engineering handbooks.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

# A formula written for this type takes a float or an array and returns the same,
# so that a scalar call never has to import numpy.
Real = TypeVar("Real", float, "NDArray[np.float64]")

INCH = 0.0254
"""[m] international inch, exact (international yard and pound agreement of 1959)."""

POUND = 0.45359237
"""[kg] avoirdupois pound, exact (international yard and pound agreement of 1959)."""

G0 = 9.80665
"""[m/s^2] standard acceleration of free fall, exact (3rd CGPM, 1901)."""

LBF = POUND * G0
"""[N] pound-force: one pound in standard gravity."""

PSI = LBF / INCH**2
"""[Pa] pound-force per square inch."""

INHG = 13595.1 * G0 * INCH
"""[Pa] conventional inch of mercury (density 13 595.1 kg/m^3, ISO 80000-4 annex; from memory)."""

ATM = 101_325.0
"""[Pa] standard atmosphere, exact (10th CGPM, 1954)."""

ZERO_CELSIUS = 273.15
"""[K] 0 degC, exact (13th CGPM, 1967)."""

R_AIR = 287.05
"""[J/(kg*K)] specific gas constant of dry air (ISO 2533 prints 287.05287; from memory)."""

CP_AIR = 1005.0
"""[J/(kg*K)] specific heat of dry air at constant pressure, handbook value near 300 K.

CoolProp gives 1006.35 at 300 K and 1014.1 at 400 K for the real gas.
"""

GAMMA_AIR = 1.40
"""[-] ratio of specific heats of dry air, handbook value (CoolProp: 1.4017 at 300 K)."""
