"""Density, heating value and stoichiometric air-fuel ratio of fuels and their blends."""

from __future__ import annotations

from dataclasses import dataclass

from buildlog.physics.numerics.constants import CP_AIR, INCH, POUND, Real

# One Btu per pound is 2326 J/kg exactly (international table Btu).
_BTU_PER_LB = 2326.0
_GALLON = 231 * INCH**3
_DOE = "US DOE Alternative Fuels Data Center, Properties of Fuels (opened)"


@dataclass(frozen=True)
class FuelProperties:
    """What the engine formulas need to know of a liquid fuel, in SI.

    density [kg/m^3], lower_heating_value [J/kg], stoichiometric_ratio [kg air/kg fuel],
    latent_heat of evaporation at 25 degC [J/kg].
    """

    name: str
    density: float
    lower_heating_value: float
    stoichiometric_ratio: float
    source: str
    latent_heat: float

    @property
    def energy_per_air(self) -> float:
        """Heat released per kilogram of air of a stoichiometric mixture [J/kg]."""
        return self.lower_heating_value / self.stoichiometric_ratio


# Ethanol and methanol: open library CoolProp (computed); gasoline: handbook figure (from memory),
# between isooctane 0.31 and toluene 0.41 MJ/kg.
_LATENT_HEAT = {"ethanol": 0.921e6, "methanol": 1.169e6}
_GASOLINE_LATENT_HEAT = 0.35e6
_MOLAR_LATENT_HEAT = 42.3e3
_AIR_MOLAR_MASS = 0.0289647


def _doe(
    name: str, btu_per_lb: float, btu_per_gallon: float, ratio: float, note: str
) -> FuelProperties:
    """Build a fuel from the table's two heating values, whose quotient is the density."""
    density = btu_per_gallon / btu_per_lb * POUND / _GALLON
    latent = _LATENT_HEAT.get(name, _GASOLINE_LATENT_HEAT)
    return FuelProperties(name, density, btu_per_lb * _BTU_PER_LB, ratio, _DOE + note, latent)


# Gasoline as sold differs by about 2 % from these typical values.
FUELS: dict[str, FuelProperties] = {
    "gasoline": _doe("gasoline", 18_676, 116_090, 14.7, ""),
    "ethanol": _doe("ethanol", 11_585, 76_330, 9.0, ""),
    "methanol": _doe("methanol", 8_637, 57_250, 6.47, "; stoichiometric ratio computed from CH4O"),
    "diesel": _doe("diesel", 18_394, 128_450, 14.7, ""),
}


def blend(ethanol_volume_fraction: float) -> FuelProperties:
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
    return FuelProperties(
        name=f"E{100 * x:g}",
        density=density,
        lower_heating_value=w * ethanol.lower_heating_value
        + (1 - w) * gasoline.lower_heating_value,
        stoichiometric_ratio=w * ethanol.stoichiometric_ratio
        + (1 - w) * gasoline.stoichiometric_ratio,
        source=f"mass average of gasoline and ethanol; {_DOE}",
        latent_heat=w * ethanol.latent_heat + (1 - w) * gasoline.latent_heat,
    )


def evaporation_cooling(fuel: FuelProperties, lambda_: float, share: float = 1.0) -> float:
    """Return how much the evaporation of a fuel cools the air it is mixed with.

    Formula: dT = share h / (lambda AFR cp), all heat taken from the air.
    Inputs: fuel (latent heat h [J/kg], stoichiometric ratio AFR [-]), lambda [-], share of
    the fuel that evaporates before the inlet valves close [-].
    Result: temperature drop [K]. Validity: an upper bound for its share: what evaporates on
    hot walls and valves takes its heat from there, and the charge cools too little to keep
    evaporating long before all of an alcohol is vapour.
    Errors: ValueError for a lambda that is not above zero or a share outside 0 to 1.
    Source: first law of thermodynamics; latent heats as stated beside the table.

    >>> round(evaporation_cooling(FUELS["ethanol"], 0.85, 0.3), 1)
    35.9
    """
    if lambda_ <= 0 or not 0 <= share <= 1:
        raise ValueError(f"lambda must be above zero and the share 0 to 1: {lambda_}, {share}.")
    return share * fuel.latent_heat / (lambda_ * fuel.stoichiometric_ratio * CP_AIR)


def room_left_by_vapour(cooling: Real) -> Real:
    """Return the air that fits beside the vapour whose evaporation cooled it, over that without.

    Formula: 1 / (1 + n), n = dT cp M_air / L moles of vapour for a mole of air: what cools
    the charge by dT took this much latent heat, so this much vapour is there, too.
    Inputs: cooling of the air by evaporation dT [K], scalar or array.
    Result: factor on the trapped air at equal pressure and temperature [-].
    Validity: molar latent heat L of ethanol, 42.3 kJ/mol; methanol (37.5) and the parts of
    gasoline (35 to 41) take 2 to 20 % more room for the same cooling. Errors: none.
    Source: ideal gas mixture and first law of thermodynamics; L: CRC Handbook by the open
    package chemicals (secondary), and CoolProp (computed).

    >>> round(room_left_by_vapour(30.0), 4)
    0.9798
    """
    return 1 / (1 + cooling * (CP_AIR * _AIR_MOLAR_MASS / _MOLAR_LATENT_HEAT))


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
