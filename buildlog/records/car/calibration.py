"""The calibration in the engine control, and the hardware it was written for."""

from typing import Annotated, Any

from pydantic import AfterValidator, Field
from pydantic_core import PydanticCustomError

from buildlog.records.car.engine import EngineSpeed
from buildlog.records.car.induction import Boost
from buildlog.records.fields.base import Measure, Text
from buildlog.records.fields.parts import Assembly
from buildlog.records.fields.traits import MARGIN, NOTHING, PREDICTION, UNMODELLED
from buildlog.units import Quantity

Lambda = Annotated[float, Field(ge=0.5, le=1.6)]
Retard = Annotated[Quantity, Measure("angle", "-10 deg", "40 deg")]


def _plain_values(values: dict[str, Any]) -> dict[str, Any]:
    for path, value in values.items():
        numbers = isinstance(value, list) and all(isinstance(v, int | float) for v in value)
        if not (isinstance(value, str | int | float) or numbers):
            raise PydanticCustomError(
                "written_for",
                '"{path}" needs a value as car.toml would have it',
                {"path": path, "hint": 'write "fuel.injectors.flow" = "550 cc/min"'},
            )
    return values


PathValues = Annotated[dict[str, Any], AfterValidator(_plain_values)]
SHA256 = Annotated[str, Field(pattern=r"^[0-9a-f]{64}$")]


class Calibration(Assembly):
    """An id and a file; `written_for` names the hardware by path and value."""

    id: Annotated[Text, UNMODELLED | MARGIN] | None = None
    """The name the shop gave this calibration."""
    file: Annotated[Text, NOTHING] | None = None
    """File under attachments that holds it."""
    file_sha256: Annotated[SHA256, UNMODELLED] | None = None
    """SHA-256 of that file; it is checked."""
    author: Annotated[Text, NOTHING] | None = None
    """Who wrote it, as the shop chooses to publish."""
    verification_number: Annotated[Text, NOTHING] | None = None
    """The number the engine control reports for it."""
    lambda_full_load: Annotated[Lambda, PREDICTION | MARGIN] | None = None
    """Mixture aimed at under full load."""
    lambda_cruise: Annotated[Lambda, UNMODELLED] | None = None
    """Mixture aimed at when cruising."""
    boost_limit_gauge: Annotated[Boost, UNMODELLED | MARGIN] | None = None
    """Boost above which it cuts."""
    rev_limit: Annotated[EngineSpeed, PREDICTION | MARGIN] | None = None
    """Engine speed at which it cuts."""
    speed_limit: Annotated[Quantity, Measure("speed", "20 km/h", "500 km/h"), MARGIN] | None = None
    """Road speed at which it cuts."""
    spark_retard: Annotated[Retard, PREDICTION | MARGIN] | None = None
    """How far full-load spark was taken back from best torque."""
    written_for: Annotated[PathValues, NOTHING] | None = None
    """Quoted paths and values of the hardware it was written for."""
