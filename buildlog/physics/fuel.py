"""Density, heating value and stoichiometric air-fuel ratio of fuels and their blends."""

from __future__ import annotations

from dataclasses import dataclass

from buildlog.physics.constants import INCH, POUND

# One Btu per pound is 2326 J/kg exactly (international table Btu).
_BTU_PER_LB = 2326.0
_GALLON = 231 * INCH**3
_DOE = "US DOE Alternative Fuels Data Center, Properties of Fuels (opened)"


@dataclass(frozen=True)
class Fuel:
    """What the engine formulas need to know of a liquid fuel, in SI.

    density [kg/m^3], lower_heating_value [J/kg], stoichiometric_ratio [kg air/kg fuel].
    """

    name: str
    density: float
    lower_heating_value: float
    stoichiometric_ratio: float
    source: str

    @property
    def energy_per_air(self) -> float:
        """Heat released per kilogram of air of a stoichiometric mixture [J/kg]."""
        return self.lower_heating_value / self.stoichiometric_ratio


def _doe(name: str, btu_per_lb: float, btu_per_gallon: float, ratio: float, note: str) -> Fuel:
    """Build a fuel from the table's two heating values, whose quotient is the density."""
    density = btu_per_gallon / btu_per_lb * POUND / _GALLON
    return Fuel(name, density, btu_per_lb * _BTU_PER_LB, ratio, _DOE + note)


# Gasoline as sold differs by about 2 % from these typical values.
FUELS: dict[str, Fuel] = {
    "gasoline": _doe("gasoline", 18_676, 116_090, 14.7, ""),
    "ethanol": _doe("ethanol", 11_585, 76_330, 9.0, ""),
    "methanol": _doe("methanol", 8_637, 57_250, 6.47, "; stoichiometric ratio computed from CH4O"),
    "diesel": _doe("diesel", 18_394, 128_450, 14.7, ""),
}


def blend(ethanol_volume_fraction: float) -> Fuel:
    """Return the properties of gasoline with a share of ethanol.

    Formula: density by volume; heating value and stoichiometric ratio by mass,
    w = x rho_e / (x rho_e + (1 - x) rho_g).
    Inputs: ethanol_volume_fraction x [-], 0 to 1.
    Result: Fuel (density [kg/m^3], lower heating value [J/kg], stoichiometric ratio [-]).
    Validity: volumes are taken as additive (true to about 0.2 %; from memory); the
    gasoline is the typical one of FUELS.
    Errors: ValueError outside 0 to 1.
    Source: mass average of the values of FUELS, computed. Averaging the ratio by volume, as
    some trade tables do, is wrong by 0.04 at 85 %.

    >>> round(blend(0.85).stoichiometric_ratio, 3)
    9.814
    """
    x = ethanol_volume_fraction
    if not 0 <= x <= 1:
        raise ValueError(f"the ethanol volume fraction must be 0 to 1, not {x}.")
    gasoline, ethanol = FUELS["gasoline"], FUELS["ethanol"]
    density = x * ethanol.density + (1 - x) * gasoline.density
    w = x * ethanol.density / density
    return Fuel(
        name=f"E{100 * x:g}",
        density=density,
        lower_heating_value=w * ethanol.lower_heating_value
        + (1 - w) * gasoline.lower_heating_value,
        stoichiometric_ratio=w * ethanol.stoichiometric_ratio
        + (1 - w) * gasoline.stoichiometric_ratio,
        source=f"mass average of gasoline and ethanol; {_DOE}",
    )


def stoichiometric_ratio(c: float, h: float, o: float = 0.0) -> float:
    """Return the mass of air that burns one unit mass of a fuel CcHhOo completely.

    Formula: (c + h/4 - o/2) (M_air / x_O2) / M_fuel.
    Inputs: atoms of carbon c, hydrogen h and oxygen o per molecule (or per carbon) [-].
    Result: stoichiometric air-fuel ratio by mass [-].
    Validity: dry air of 20.946 % oxygen WITH its argon (M 28.9647 g/mol); leaving argon
    out (O2 + 3.76 N2) reads 0.7 % lower. Fuels without nitrogen or sulphur.
    Errors: ValueError for negative numbers of atoms or a fuel that needs no oxygen.
    Source: combustion balance; Heywood, Internal Combustion Engine Fundamentals, eq. 3.6
    (from memory). Cantera 3.2 gives 15.1332 for isooctane and 9.0058 for ethanol.

    >>> [round(stoichiometric_ratio(*f), 3) for f in [(8, 18, 0), (2, 6, 1), (1, 4, 1)]]
    [15.132, 9.005, 6.474]
    """
    oxygen = c + h / 4 - o / 2
    if min(c, h, o) < 0 or oxygen <= 0:
        raise ValueError(f"C{c}H{h}O{o} is not a fuel: it needs no oxygen to burn.")
    return oxygen * (28.9647 / 0.20946) / (12.011 * c + 1.008 * h + 15.999 * o)
