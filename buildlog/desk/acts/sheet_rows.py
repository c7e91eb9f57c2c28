"""The joints of a maker's sheet as fields of `Fastened`: from TOML, or from a table's rows."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from typing import Any, get_args

from buildlog.errors import InvalidInput
from buildlog.rawfiles.joint_table import SheetRow, read_joints
from buildlog.rawfiles.tightening_text import TightenTo, asked
from buildlog.records.fasteners import Condition, Fastened, again_after
from buildlog.records.paths import nearest
from buildlog.records.toml.toml_read import parse_toml

_YES = {"yes", "y", "true", "x", "1", "ja", "oui"}
_CONDITIONS = {"dry": "dry", "plated": "plated", "zinc": "plated", "oil": "oiled", "oiled": "oiled",
               "engine oil": "oiled", "lightly oiled": "oiled", "anti-seize": "anti-seize",
               "anti seize": "anti-seize", "wax": "waxed", "waxed": "waxed"}  # fmt: skip
_PLACE = ["stage", "stages", "torque", "low", "high", "angle"]  # in the order they are done


def from_toml(data: bytes, name: str) -> tuple[list[dict[str, Any]], tuple[str, ...], str | None]:
    """Joints written as TOML: `[[fastened]]` or `[[joint]]` tables with the fields of a sheet."""
    values = parse_toml(data, name)
    joints = values.get("fastened") or values.get("joint")
    if not isinstance(joints, list) or not all(isinstance(one, dict) for one in joints):
        hint = '[[fastened]] with name = "main caps", torque = "60 N*m"'
        raise InvalidInput("no [[fastened]] table stands in the file", where=name, hint=hint)
    known = set(Fastened.model_fields) - {"done"}
    for number, one in enumerate(joints, start=1):
        if wrong := next((key for key in one if key not in known), None):
            raise InvalidInput(f'"{wrong}" is no field of a joint', hint=nearest(wrong, known),
                               where=f"{name}, joint {number}")  # fmt: skip
        if isinstance(again := one.get("retorque_after"), str):
            after = again_after(again)
            one |= {name: value for name, value in after.items() if value}
            one["retorque_after"] = after["retorque_after"]
    title = values.get("title")
    return joints, (), title if isinstance(title, str) else None


def from_table(
    data: bytes, name: str, maps: Sequence[str]
) -> tuple[list[dict[str, Any]], tuple[str, ...], str | None]:
    """The same from a table's columns, with what was taken as what, and the table's title."""
    table = read_joints(data, name, maps)
    told = [column.said for column in table.columns if column.field]
    told += [f'"{one.heading}" is not read' for one in table.columns
             if not one.field and one.heading]  # fmt: skip
    joints: list[tuple[SheetRow, dict[str, Any]]] = []
    for row in table.rows:
        fields = _joint(row, name)
        if fields is None:
            text = ", ".join(cell for _, cell in row.cells)
            told.append(f"line {row.line} gives no torque and is left out: {text}")
        else:
            joints.append((row, fields))
    if not joints:
        raise InvalidInput("the sheet holds no joint", where=name, hint="see --map")
    return _ordered(_named_apart([one for _, one in joints])), tuple(told), table.title


def _joint(row: SheetRow, name: str) -> dict[str, Any] | None:
    """The fields of a joint by one row; None for a heading or a remark between joints."""
    fields: dict[str, Any] = {"name": row.text("name")}
    stages = [one for part in _stage_texts(row, name) for one in part]
    if not stages:
        return None
    if not fields["name"]:
        raise InvalidInput("this row has no name", where=f"{name}, line {row.line}",
                           hint="name the joint in the file")  # fmt: skip
    fields |= {"part": row.text("part"), "count": _count(row, name),
               "thread": row.text("thread").replace("×", "x").replace(" x ", "x"),
               "grade": row.text("grade"), **_condition(row)}  # fmt: skip
    fields |= _stage_fields(stages)
    for field in ("order", "tool"):
        fields[field] = row.text(field)
    fields |= again_after(row.text("retorque_after"))
    fields["single_use"] = row.text("single_use").casefold() in _YES or None
    fields["note"] = "; ".join(filter(None, (fields.pop("remark", ""), row.text("note"))))
    return fields


def _stage_texts(row: SheetRow, name: str) -> Iterator[list[TightenTo]]:
    """What each column asks for, in the order in which it is done."""
    unit = row.text("unit") or None
    low, high = row.text("low"), row.text("high")
    by_place = sorted(row.cells, key=lambda one: (_PLACE.index(one[0].field), one[0].stage)
                      if one[0].field in _PLACE else (len(_PLACE), 0))  # fmt: skip
    for column, text in by_place:
        if column.field not in _PLACE or text in {"-", "–", "—", "n/a"}:
            continue
        own = column.unit or ("deg" if column.field == "angle" else unit)
        if column.field == "torque" and low and high:
            continue  # the range says it, and the value between
        if column.field in ("low", "high"):
            text = f"{low} - {high}" if low and high else text
            if column.field == "high" and low:
                continue
        try:
            yield asked(text, own)
        except InvalidInput as error:
            bare = column.unit is None and unit is None
            mapped = f'--map "{column.field}={column.heading}:N*m", or write "22 N*m" in the file'
            raise InvalidInput(
                error.what, hint=mapped if bare else error.hint,
                where=f'{name}, line {row.line}, column "{column.heading}"',
            ) from None  # fmt: skip


def _stage_fields(stages: Sequence[TightenTo]) -> dict[str, Any]:
    """What is asked as the fields of a joint: stages, the last torque or range, the last angle."""
    before, fields = list(stages), {}
    if before[-1].turns and sum(one.turns for one in before) == 1 and len(before) > 1:
        fields["angle"] = before.pop().text
    if not before[-1].turns and not any(one.turns for one in before):
        last = before.pop()
        one = last.low == last.high
        fields |= {"torque": last.low} if one else {"low": last.low, "high": last.high}
    return {"stages": [one.text for one in before], **fields}


def _count(row: SheetRow, name: str) -> int:
    text = row.text("count")
    if not text:
        return 1
    found = re.fullmatch(r"x?\s*(\d{1,3})\s*(?:x|off|pcs|×|stk|st)?\.?", text, re.I)
    if not found or not 1 <= int(found[1]) <= 200:
        raise InvalidInput(f'"{text}" is no count of fasteners', where=f"{name}, line {row.line}",
                           hint="write a whole number from 1 to 200")  # fmt: skip
    return int(found[1])


def _condition(row: SheetRow) -> dict[str, str]:
    """What is on the threads by a word of ours; other words are kept as a remark."""
    text = row.text("condition")
    plain = text.casefold().strip()
    if not text or plain in get_args(Condition) or plain in _CONDITIONS:
        return {"condition": _CONDITIONS.get(plain, plain)}
    return {"condition": "", "remark": f"threads: {text}"}


def _named_apart(joints: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Joints of one name are told apart by their thread, else by a number."""
    seen: dict[str, int] = {}
    for joint in joints:
        plain = joint["name"]
        seen[plain] = seen.get(plain, 0) + 1
        if seen[plain] > 1:
            joint["name"] = f"{plain} ({seen[plain]})"
    return joints


def _ordered(joints: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """By the numbers of `order`, where every joint has one."""
    if all(str(joint["order"]).isdecimal() for joint in joints):
        return sorted(joints, key=lambda joint: int(joint["order"]))
    return joints
