"""A new car: what it is called and what drives it."""

from __future__ import annotations

from typing import TYPE_CHECKING

from buildlog.page.drawing.form_fields import FormField, form

if TYPE_CHECKING:
    from buildlog.page.asked import Asked

_SOURCES = (("spark-ignition", "gasoline"), ("compression-ignition", "diesel"),
            ("hybrid", "hybrid"), ("electric", "electric"))  # fmt: skip


def page(asked: Asked) -> str:
    """What is known at the door; the rest is asked for by the intake list."""
    fields = [
        FormField("text", "name", "Make, model, version"),
        FormField("text", "year", "Model year"),
        FormField("text", "vin", "VIN, 17 characters"),
        FormField("strip", "power_source", "What drives it", "spark-ignition", options=_SOURCES),
        FormField("text", "folder", "Its folder", hint="from the name if left empty"),
    ]  # fmt: skip
    return form(
        asked, "new-car", fields, said="Which car is it?", main="Begin its ledger",
        lead="Nothing about persons belongs here. The intake list comes next.", title="New car",
        back=asked.at("/"),
    )  # fmt: skip
