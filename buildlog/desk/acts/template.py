"""The commented car.toml that a new ledger starts with."""

from __future__ import annotations

from pathlib import Path

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
    from jinja2 import Environment, StrictUndefined

    text = Path(__file__).with_name("new-car.toml.j2").read_text("utf-8")
    made = Environment(trim_blocks=True, keep_trailing_newline=True, undefined=StrictUndefined)
    return made.from_string(text).render(
        _EXAMPLES[units], name=name.replace("\\", "\\\\").replace('"', '\\"'),
        year=year, vin=vin, power_source=power_source, burns=power_source != "electric",
        diesel=power_source == "compression-ignition",
    )  # fmt: skip
