"""Write buildlog/unit_table.tsv from pint: `python tests/generate_unit_table.py`.

The list below says which unit texts the trade writes, what each measures and what
it is in pint's words. Factors and offsets to SI come from pint alone, never by hand. The words
themselves go along, for who wants a quantity of pint's.
"""

from __future__ import annotations

import sys
from pathlib import Path

import pint

TARGET = Path(__file__).parents[1] / "buildlog" / "unit_table.tsv"

# dimension -> (SI unit in pint's words, {text the trade writes: pint's words})
DIMENSIONS: dict[str, tuple[str, dict[str, str]]] = {
    "length": (
        "meter",
        {"mm": "mm", "cm": "cm", "m": "m", "km": "km", "in": "inch", "ft": "foot",
         "mi": "mile", "thou": "thou", "um": "micrometer"},
    ),
    "area": (
        "meter**2",
        {"mm^2": "mm**2", "cm^2": "cm**2", "m^2": "m**2", "in^2": "inch**2", "ft^2": "foot**2"},
    ),
    "volume": (
        "meter**3",
        {"cc": "cm**3", "cm^3": "cm**3", "ml": "milliliter", "mL": "milliliter",
         "l": "liter", "L": "liter", "m^3": "m**3", "cu in": "inch**3", "in^3": "inch**3"},
    ),
    "volume_flow": (
        "meter**3/second",
        {"cc/min": "cm**3/minute", "cm^3/min": "cm**3/minute", "ml/min": "milliliter/minute",
         "l/min": "liter/minute", "L/min": "liter/minute", "l/h": "liter/hour",
         "L/h": "liter/hour", "cfm": "foot**3/minute", "m^3/h": "m**3/hour",
         "m^3/s": "m**3/second"},
    ),
    "mass_flow": (
        "kilogram/second",
        {"lb/h": "pound/hour", "lb/hr": "pound/hour", "lb/min": "pound/minute",
         "g/s": "gram/second", "g/min": "gram/minute", "kg/h": "kilogram/hour",
         "kg/s": "kilogram/second"},
    ),
    "pressure": (
        "pascal",
        {"psi": "psi", "kPa": "kilopascal", "bar": "bar", "hPa": "hectopascal",
         "mbar": "millibar", "inHg": "inHg", "mmHg": "mmHg", "Pa": "pascal",
         "MPa": "megapascal", "GPa": "gigapascal", "ksi": "ksi",
         "kgf/cm^2": "kilogram_force/cm**2"},
    ),
    "temperature": (
        "kelvin",
        {"degC": "degC", "°C": "degC", "degF": "degF", "°F": "degF", "K": "kelvin"},
    ),
    "temperature_difference": (
        "kelvin",
        {"degC": "delta_degC", "°C": "delta_degC", "degF": "delta_degF", "°F": "delta_degF",
         "K": "kelvin"},
    ),
    "power": (
        "watt",
        {"hp": "horsepower", "PS": "metric_horsepower", "kW": "kilowatt", "W": "watt"},
    ),
    "torque": (
        "newton*meter",
        {"N*m": "newton*meter", "Nm": "newton*meter", "lb*ft": "pound_force*foot",
         "ft*lb": "pound_force*foot", "lbf*ft": "pound_force*foot",
         "lb-ft": "pound_force*foot", "ft-lb": "pound_force*foot",
         "lb*in": "pound_force*inch", "lbf*in": "pound_force*inch",
         "kgf*m": "kilogram_force*meter"},
    ),
    "force": (
        "newton",
        {"N": "newton", "kN": "kilonewton", "lbf": "pound_force", "kgf": "kilogram_force"},
    ),
    "force_per_speed": (
        "newton*second/meter",
        {"N*s/m": "newton*second/meter", "N/(km/h)": "newton/(kilometer/hour)",
         "lbf/mph": "pound_force/(mile/hour)"},
    ),
    "force_per_speed_squared": (
        "newton*second**2/meter**2",
        {"N*s^2/m^2": "newton*second**2/meter**2",
         "N/(km/h)^2": "newton/(kilometer/hour)**2",
         "lbf/mph^2": "pound_force/(mile/hour)**2"},
    ),
    "angular_speed": (
        "radian/second",
        {"rpm": "revolution/minute", "rad/s": "radian/second"},
    ),
    "speed": (
        "meter/second",
        {"mph": "mile/hour", "km/h": "kilometer/hour", "m/s": "meter/second",
         "ft/min": "foot/minute"},
    ),
    "acceleration": (
        "meter/second**2",
        {"m/s^2": "meter/second**2", "g0": "standard_gravity"},
    ),
    "mass": (
        "kilogram",
        {"kg": "kilogram", "lb": "pound", "g": "gram", "t": "metric_ton"},
    ),
    "density": (
        "kilogram/meter**3",
        {"kg/m^3": "kilogram/meter**3", "kg/l": "kilogram/liter", "kg/L": "kilogram/liter",
         "g/cc": "gram/cm**3"},
    ),
    "inertia": (
        "kilogram*meter**2",
        {"kg*m^2": "kilogram*meter**2", "lb*ft^2": "pound*foot**2", "lb*in^2": "pound*inch**2"},
    ),
    "angle": ("radian", {"deg": "degree", "rad": "radian"}),
    "ratio": ("dimensionless", {"percent": "percent", "%": "percent", "1": "dimensionless"}),
    "time": (
        "second",
        {"ms": "millisecond", "s": "second", "min": "minute", "h": "hour"},
    ),
    "voltage": ("volt", {"V": "volt", "mV": "millivolt"}),
    "current": ("ampere", {"A": "ampere", "mA": "milliampere"}),
    "energy": ("joule", {"kWh": "kilowatt_hour", "kJ": "kilojoule", "MJ": "megajoule"}),
    "specific_energy": (
        "joule/kilogram",
        {"MJ/kg": "megajoule/kilogram", "kJ/kg": "kilojoule/kilogram"},
    ),
    # A level is a logarithm: it is kept as the number of decibels, not turned into a ratio.
    "sound_level": ("", {"dB": "", "dB(A)": ""}),
}  # fmt: skip


def rows() -> list[tuple[str, str, float, float]]:
    """(text, dimension, factor, offset): SI value = number * factor + offset."""
    registry: pint.UnitRegistry[float] = pint.UnitRegistry(autoconvert_offset_to_baseunit=True)
    out = []
    for dimension, (si, units) in DIMENSIONS.items():
        for text, words in units.items():
            if not words:
                out.append((text, dimension, 1.0, 0.0))
                continue
            unit = words if words.startswith("deg") else None
            if unit:  # an offset unit: two points give offset and factor
                zero = registry.Quantity(0.0, unit).to(si).magnitude
                hundred = registry.Quantity(100.0, unit).to(si).magnitude
                out.append((text, dimension, (hundred - zero) / 100.0, zero))
            else:
                factor = (1.0 * registry.parse_expression(words)).to(si).magnitude
                out.append((text, dimension, float(factor), 0.0))
    return out


def source() -> str:
    """A line a unit: text, dimension, factor, offset, pint's words, the SI unit in pint's words."""
    lines = []
    for text, dimension, factor, offset in rows():
        si, units = DIMENSIONS[dimension]
        lines.append("\t".join([text, dimension, repr(factor), repr(offset), units[text], si]))
    return "\n".join([*lines, ""])


if __name__ == "__main__":
    TARGET.write_text(source(), encoding="utf-8")
    print(f"wrote {len(rows())} rows to {TARGET.name}", file=sys.stderr)
