"""What aviation rules ask of a maintenance record, mapped field by field to the ledger.

Sources: 14 CFR 43.9(a) (several consistent paraphrases, secondary); 14 CFR 43.11(a) and (b)
(opened copy); 14 CFR 91.417(a) (opened, (vi) secondary); NZ Civil Aviation Rule 43.69 (opened).
They bind aircraft, not cars: here they only show that nothing a careful record needs is left out.
"""

from __future__ import annotations

from dataclasses import fields as dataclass_fields

import pytest

from buildlog.analysis.workshop.partlife import PartLife
from buildlog.records import paths
from buildlog.records.car.configuration import Configuration
from buildlog.records.checks import Check
from buildlog.records.fasteners import Joint
from buildlog.records.faults import Fault
from buildlog.records.session import Session
from buildlog.store.git.message import EntryFacts

RECORDS = {
    "car.toml": Configuration, "check": Check, "fault": Fault, "torque": Joint, "session": Session,
}  # fmt: skip

ASKED: dict[str, list[str]] = {
    # 14 CFR 43.9(a): a maintenance entry
    "43.9(a)(1) description of the work": ["entry:subject", "entry:notes"],
    "43.9(a)(1) or reference to acceptable data": [
        "car.toml:clutch.part.document",
        "car.toml:clutch.source",
        "torque:spec_source",
    ],
    "43.9(a)(2) date of completion": ["entry:work_date"],
    "43.9(a)(3) name of the person who did it": ["entry:done_by"],
    "43.9(a)(4) approval: who, and for this work only": ["entry:approved_by"],
    # 14 CFR 43.11(a), (b): an inspection entry
    "43.11(a) type and extent of inspection": ["check:list", "check:item[].text"],
    "43.11(a) date and total time in service": ["check:date", "check:odometer"],
    "43.11(a) who inspected": ["check:item[].by"],
    "43.11(a) statement that it passed": ["check:item[].result"],
    "43.11(a) or a signed, dated list of discrepancies": [
        "fault:symptom",
        "fault:date",
        "fault:by",
    ],
    "43.11 a defect is not overwritten by its repair": ["fault:closes", "entry:resolves"],
    # 14 CFR 91.417(a): what is kept and passed on
    "91.417(a)(2)(i) total time in service": [
        "entry:odometer",
        "car.toml:odometer_offset[].distance",
    ],
    "91.417(a)(2)(ii) status of life-limited parts": [
        "life:distance",
        "life:since",
        "life:break_in_left",
    ],
    "91.417(a)(2)(iii) time since last overhaul": [
        "car.toml:engine.part.condition",
        "car.toml:engine.part.distance_before",
    ],
    "91.417(a)(2)(iv) current inspection status": ["check:date", "check:before"],
    "91.417(a)(2)(v) mandatory action: method, number": ["car.toml:exhaust.catalysts.exemption"],
    "91.417(a)(2)(vi) copies of major alterations": ["entry:kind", "car.toml:work[].note"],
    # NZ 43.69: what a parts ledger needs most
    "43.69 technical data used": ["car.toml:clutch.source", "torque:spec_source"],
    "43.69 part number": ["car.toml:clutch.part.number"],
    "43.69 serial number": ["car.toml:clutch.part.serial"],
    "43.69 description of the component": [
        "car.toml:clutch.part.maker",
        "car.toml:clutch.part.name",
    ],
    "43.69 release document": ["car.toml:clutch.part.document"],
    "43.69 details of measurements": [
        "check:item[].value",
        "check:item[].values",
        "check:item[].low",
        "torque:fastener[].torque",
    ],
    "43.69 ground test": ["session:pull[].file", "session:air.pressure"],
    "43.69 location": ["session:place"],
    "43.69 reason for the work": ["entry:notes", "fault:cause"],
}

FACTS = {field.name for field in dataclass_fields(EntryFacts)}
LIFE = {field.name for field in dataclass_fields(PartLife)} | {"since"}


@pytest.mark.parametrize("asked", ASKED)
def test_every_point_has_its_place_in_the_ledger(asked: str):
    for place in ASKED[asked]:
        record, _, path = place.partition(":")
        if record == "entry":
            assert path in FACTS
        elif record == "life":
            assert path in LIFE
        else:
            assert paths.fields(RECORDS[record])[path].description
