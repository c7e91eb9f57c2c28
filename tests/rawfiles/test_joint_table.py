"""A maker's sheet of joints: columns by their headings, torques as people write them."""

from __future__ import annotations

import math

import pytest

from buildlog.errors import InvalidInput, UsageError
from buildlog.rawfiles.joint_table import read_joints
from buildlog.rawfiles.tightening_text import asked
from buildlog.records.fasteners import stage_asked

# 1 lbf*ft = 1.3558179483314004 N*m, 1 kgf*m = 9.80665 N*m: NIST SP 811 (2008), appendix B.8.
LBF_FT, KGF_M = 1.3558179483314004, 9.80665


@pytest.mark.parametrize(
    ("text", "unit", "meant"),
    [
        ("22 N*m", None, ["22 N*m"]),
        ("22", "Nm", ["22 N*m"]),
        ("22 Nm", "lb*ft", ["22 N*m"]),
        ("16 ft-lb", None, ["16 lb*ft"]),
        ("16 ft·lb", None, ["16 lb*ft"]),
        ("95 in-lbs", None, ["95 lb*in"]),
        ("2.2 kgf·m", None, ["2.2 kgf*m"]),
        ("20-24 N*m", None, ["20 to 24 N*m"]),
        ("20 – 24 Nm", None, ["20 to 24 N*m"]),
        ("20 Nm to 24 Nm", None, ["20 to 24 N*m"]),
        ("20...24", "Nm", ["20 to 24 N*m"]),
        ("22 ± 2 N*m", None, ["20 to 24 N*m"]),
        ("22 N*m +/- 2", None, ["20 to 24 N*m"]),
        ("20 Nm ± 10 %", None, ["18 to 22 N*m"]),
        ("8,5 Nm", None, ["8.5 N*m"]),
        ("30/60/90 Nm", None, ["30 N*m", "60 N*m", "90 N*m"]),
        ("30 Nm + 90°", None, ["30 N*m", "90 deg"]),
        ("30 Nm, 90 deg, 90 deg", None, ["30 N*m", "90 deg", "90 deg"]),
        ("30 N*m then 2 x 90°", None, ["30 N*m", "90 deg", "90 deg"]),
        ("20 / 40 ft-lb + 1/4 turn", None, ["20 lb*ft", "40 lb*ft", "90 deg"]),
        ("90", "deg", ["90 deg"]),
        ("120 degrees", None, ["120 deg"]),
    ],
)
def test_a_torque_is_taken_as_meant(text: str, unit: str | None, meant: list[str]) -> None:
    found = [one.text for one in asked(text, unit)]
    assert found == meant
    for one in found:  # and the file's own grammar reads the same
        low, high = stage_asked(one)
        assert low.si <= high.si


def test_what_is_taken_has_the_size_it_says() -> None:
    assert stage_asked("16 to 20 lb*ft")[1].si == pytest.approx(20 * LBF_FT, rel=1e-9)
    assert stage_asked(asked("2.2 mkg")[0].text)[0].si == pytest.approx(2.2 * KGF_M, rel=1e-9)
    assert stage_asked("90 deg")[0].si == pytest.approx(math.pi / 2)


@pytest.mark.parametrize(
    ("text", "hint"),
    [
        ("hand tight", "22 N*m"), ("22", "22 N*m"), ("30 psi", "known here"),
        ("24 - 20 N*m", ""), ("22 N*m + snug", "22 N*m"), ("", ""),
    ],
)  # fmt: skip
def test_what_is_none_is_refused(text: str, hint: str) -> None:
    if not text:
        assert asked(text) == []
        return
    with pytest.raises(InvalidInput) as refused:
        asked(text)
    assert hint in (refused.value.hint or "")


@pytest.mark.parametrize(
    ("head", "fields"),
    [
        ("joint,count,thread,grade,torque [N*m]", ["name", "count", "thread", "grade", "torque"]),
        ("Verschraubung;Anzahl;Gewinde;Festigkeitsklasse;Anzugsmoment (Nm);Drehwinkel",
         ["name", "count", "thread", "grade", "torque", "angle"]),
        ("Désignation;Nombre;Filetage;Classe;Couple de serrage [Nm];Remarque",
         ["name", "count", "thread", "grade", "torque", "note"]),
        ("Fastener|Qty|Size|Torque ft-lb|Tool", ["name", "count", "thread", "torque", "tool"]),
        ("Bolt\tMin Nm\tMax Nm\tSequence", ["name", "low", "high", "order"]),
        ("Item,Step 1 (lb-ft),Step 2 (lb-ft),Angle (deg)", ["name", "stage", "stage", "angle"]),
    ],
)  # fmt: skip
def test_columns_are_known_by_their_headings(head: str, fields: list[str]) -> None:
    sign = next(one for one in "\t;|," if one in head)
    cells = sign.join(["bolts", *["10"] * head.count(sign)])
    table = read_joints(f"\n# made by hand\n{head}\n{cells}\n".encode(), "a.csv")
    assert [column.field for column in table.columns] == fields
    assert table.rows[0].line == 4
    torque = next(one for one in table.columns if one.field in ("torque", "low", "stage"))
    assert torque.unit


def test_a_map_says_what_a_heading_does_not() -> None:
    data = b"What;X;Y\nsump;16;8.5\n"
    table = read_joints(data, "a.csv", ["count=X", "torque=Y:Nm"])
    assert table.rows[0].text("count") == "16"
    assert table.columns[2].said == 'torque [Nm] from "Y"'
    wrongs = {"colour=X": "fields:", "torque=Z:Nm": "did you mean", "torque": "--map"}
    for wrong, hint in wrongs.items():
        with pytest.raises(UsageError) as refused:
            read_joints(data, "a.csv", [wrong])
        assert hint in (refused.value.hint or "")


@pytest.mark.parametrize(
    ("data", "what"),
    [
        (b"", "empty"),
        (b"\x89PNG\r\n\x1a\n\0\0", "no text"),
        (b"a;b\n1;2\n", "no line heads columns"),
        (b"joint;count\nsump;16\n", "a torque"),
        (b"count;torque\n16;8\n", "the joints"),
        (b"joint;torque\nsump;8;9;10\n", "4 cells"),
    ],
)
def test_what_is_no_sheet_is_refused_with_its_place(data: bytes, what: str) -> None:
    with pytest.raises(InvalidInput) as refused:
        read_joints(data, "a.csv")
    assert what in str(refused.value)
    assert "a.csv" in str(refused.value)
