"""The commented car.toml that a new ledger starts with."""

from __future__ import annotations

# Commented starting values: one line a field, in the units a shop writes.
_EXAMPLES: dict[str, dict[str, str]] = {
    "us": {"mass": "3050 lb", "bore": "3.307 in", "stroke": "3.071 in", "rated": "170 hp",
           "torque": "160 lb*ft", "psi": "7 psi", "flow": "24 lb/h", "pipe": "2.5 in",
           "clutch": "9.1 in", "area": "7.3 ft^2", "tyre": "32 psi", "rail": "43.5 psi"},
    "metric": {"mass": "1385 kg", "bore": "84.0 mm", "stroke": "78.0 mm", "rated": "127 kW",
               "torque": "217 N*m", "psi": "0.48 bar", "flow": "310 cc/min", "pipe": "63.5 mm",
               "clutch": "231 mm", "area": "0.68 m^2", "tyre": "2.2 bar", "rail": "3.0 bar"},
}  # fmt: skip


def template(
    name: str, year: int | None, vin: str | None, power_source: str | None, units: str
) -> str:
    """A car.toml with the car's name and everything else as comments to be filled in."""
    e = _EXAMPLES[units]
    burns = power_source != "electric"
    diesel = power_source == "compression-ignition"
    quoted = name.replace("\\", "\\\\").replace('"', '\\"')
    known = [f'name = "{quoted}"']
    known.append(f"year = {year}" if year else "# year = 1994")
    known.append(f'vin = "{vin}"' if vin else '# vin = "..."                      # 17 characters')
    known.append(
        f'power_source = "{power_source}"'
        if power_source
        else '# power_source = "spark-ignition"  # compression-ignition, hybrid, electric'
    )
    lines = [
        "# The car as built. Quantities are texts with units; pressures say gauge or absolute",
        "# by the name of the field. Take away the # of a line to use it. Leave out what is not",
        "# known. `buildlog schema car` gives the whole list of fields to your editor.",
        "format = 1",
        "",
        "[car]",
        *known,
        "",
        "# [chassis]",
        f'# mass = "{e["mass"]}"               # as tested, with driver',
        f'# drag_area = "{e["area"]}"',
        '# driven_wheels = "rear"           # front, rear, all',
        "",
        "# [engine]",
        *(_cylinders(e, diesel) if burns else []),
        f'# rated_power = "{e["rated"]}"           # the maker\'s figure, at the crank',
        "",
        "# [engine.part]",
        '# condition = "original"           # original, new, used, rebuilt',
        "",
        *(_combustion(e, diesel) if burns else []),
        "# [calibration]",
        '# id = "original"',
        "",
        *(_gears(e) if burns else []),
        "# [final_drive]",
        f"# ratio = {3.73 if burns else 9.10}",
        "",
        "# [tyres]",
        '# size = "205/55 R16"',
        f'# pressure = "{e["tyre"]}"',
        "",
    ]
    return "\n".join(lines)


def _cylinders(e: dict[str, str], diesel: bool) -> list[str]:
    return [
        '# layout = "inline"                # inline, vee, flat, rotary',
        "# cylinders = 6",
        f'# bore = "{e["bore"]}"',
        f'# stroke = "{e["stroke"]}"',
        f"# compression_ratio = {18.0 if diesel else 9.2}",
        f'# rev_limit = "{4800 if diesel else 6500} rpm"',
    ]


def _combustion(e: dict[str, str], diesel: bool) -> list[str]:
    """Induction, exhaust and fuel."""
    return [
        "# [induction]",
        f'# kind = "{"turbocharger" if diesel else "naturally-aspirated"}"'
        "     # positive-displacement, centrifugal, turbocharger",
        "",
        "# [induction.boost]",
        f'# target_gauge = "{e["psi"]}"',
        "",
        "# [exhaust]",
        f'# pipe_diameter = "{e["pipe"]}"',
        "",
        "# [fuel]",
        f'# kind = "{"diesel" if diesel else "gasoline"}"',
        *([] if diesel else ["# ron = 95"]),
        "",
        *([] if diesel else _injectors(e)),
    ]


def _injectors(e: dict[str, str]) -> list[str]:
    return [
        "# [fuel.injectors]",
        "# count = 6",
        f'# flow = "{e["flow"]}"               # of one, at its rated pressure',
        f'# rated_pressure = "{e["rail"]}"',
        "",
    ]


def _gears(e: dict[str, str]) -> list[str]:
    """Clutch and gearbox."""
    return [
        "# [clutch]",
        f'# outer_diameter = "{e["clutch"]}"',
        f'# rated_torque = "{e["torque"]}"',
        "",
        "# [gearbox]",
        '# kind = "manual"                  # manual, automatic, dual-clutch',
        "# ratios = [3.32, 1.95, 1.31, 1.00, 0.81]",
        "",
    ]
