"""TOML edits that change one value and no other byte; `tomllib` is the outside judge."""

import re
import tomllib
from datetime import date

import pytest
import tomlkit
from hypothesis import given, settings
from hypothesis import strategies as st

from buildlog.errors import InvalidInput
from buildlog.records.toml.toml_edit import append_items, delete, resolve, set_value, set_values

ORDER = ("car", "engine", "induction", "exhaust", "fuel", "calibration", "tyres", "work")
CAR = b"""\
# the car
format = 1

[car]
name = "Tern"   # invented

# the engine
[engine]
bore   = '84.0 mm'   # measured
ratios = [
  3.1,  # first
  1.9,
]

# as bought
[engine.part]
maker = "Alder"

[fuel]
kind = "e5"

[[work]]
item = "paint"

[[work]]
item = "seats"
"""


def test_a_value_is_replaced_and_nothing_else():
    out = set_values(CAR, {"engine.bore": "90.2 mm"})
    assert out == CAR.replace(b"'84.0 mm'", b'"90.2 mm"')
    assert set_values(CAR, {"engine.ratios": [3.0, 2.0]}).count(b"\n") == CAR.count(b"\n") - 3
    assert set_values(CAR, {"work.1.item": "two seats"}) == CAR.replace(b'"seats"', b'"two seats"')


def test_a_new_key_goes_behind_the_last_of_its_table():
    out = set_values(CAR, {"car.year": 1994, "engine.cylinders": 6, "work.0.note": "blue"})
    assert out == CAR.replace(b"# invented\n", b"# invented\nyear = 1994\n").replace(
        b"  1.9,\n]\n", b"  1.9,\n]\ncylinders = 6\n"
    ).replace(b'"paint"\n', b'"paint"\nnote = "blue"\n')


def test_a_new_table_goes_where_it_belongs():
    values = {
        "induction.boost.target_gauge": "7 psi",
        "fuel.pump.flow": "200 L/h",
        "tyres.size": "x",
    }
    out = set_values(CAR, values, order=ORDER)
    heads = re.findall(r"^\[.*\]$", out.decode(), re.M)
    assert heads == [
        "[car]", "[engine]", "[engine.part]", "[induction.boost]", "[fuel]", "[fuel.pump]",
        "[tyres]", "[[work]]", "[[work]]",
    ]  # fmt: skip
    assert "\n\n\n" not in out.decode()
    assert (
        set_values(out, {"induction.kind": "turbocharger"}, order=ORDER).count(b"[induction]") == 1
    )


def test_quoted_keys_of_written_for():
    out = set_values(CAR, {'calibration.written_for."fuel.injectors.flow"': "550 cc/min"})
    assert tomllib.loads(out.decode())["calibration"] == {
        "written_for": {"fuel.injectors.flow": "550 cc/min"}
    }
    assert (
        resolve(out, 'calibration.written_for."fuel.injectors.flow"')[-1] == "fuel.injectors.flow"
    )


def test_removing():
    assert delete(CAR, "fuel.kind") == CAR.replace(b'kind = "e5"\n', b"")
    gone = delete(CAR, "engine")
    assert tomllib.loads(gone.decode()).keys() == {"format", "car", "fuel", "work"}
    assert b"\n\n\n" not in gone
    assert tomllib.loads(delete(CAR, "work").decode()).keys() == {"format", "car", "engine", "fuel"}
    with pytest.raises(InvalidInput, match=r"no engine\.stroke to remove"):
        delete(CAR, "engine.stroke")


def test_one_more_item():
    out = append_items(CAR, "work", [{"item": "hood", "note": "carbon"}])
    assert out == CAR + b'\n[[work]]\nitem = "hood"\nnote = "carbon"\n'
    first = append_items(b"format = 1\n", "work", [{"item": "x"}])
    assert first == b'format = 1\n\n[[work]]\nitem = "x"\n'


def test_line_ends_and_a_byte_order_mark_stay():
    dos = b"\xef\xbb\xbf" + CAR.replace(b"\n", b"\r\n")
    out = set_values(dos, {"engine.bore": "90 mm", "car.year": 1994, "tyres.size": "x"})
    assert out.startswith(b"\xef\xbb\xbf#")
    assert out.count(b"\n") == out.count(b"\r\n")
    bare = set_values(CAR.rstrip(b"\n"), {"tyres.size": "x"})
    assert bare.endswith(b'"seats"\n\n[tyres]\nsize = "x"\n')
    assert set_values(CAR.rstrip(b"\n"), {"work.1.item": "y"}).endswith(b'item = "y"')


@pytest.mark.parametrize(
    ("text", "path", "words"),
    [
        (b"a = {b = 1}\n", "a.b", "cannot be made"),
        (b"a = {b = 1}\n", "a.c", "cannot be made"),
        (b"[a]\nb = 1\n", "a.b.c", "is a value"),
        (b"[a]\nb = 1\n", "a", "is a table"),
        (b"a = [1\n", "a", "not valid TOML"),
        (b"\xff", "a", "not valid TOML"),
        (b"", "a..b", "not a path"),
        (b"", "a = 1\nb", "not a path"),
        (b"", "", "not a path"),
        (b"[[w]]\nx = 1\n", "w.2.x", "w has places numbered from 0 to 0"),
        (b"[[w]]\nx = 1\n", "w.y", "numbered from 0"),
    ],
)
def test_what_is_refused(text, path, words):
    with pytest.raises(InvalidInput) as caught:
        set_values(text, {path: 2})
    assert words in caught.value.what


def test_the_editing_faults_of_the_library_do_not_reach_us():
    """tomlkit 0.15.2 moves `z` into [a.new] (its issue 588) and refuses the second text (571)."""
    out = set_values(b"a.b = 1\nz = 2\n", {"a.c": 3})
    assert tomllib.loads(out.decode()) == {"a": {"b": 1, "c": 3}, "z": 2}
    odd = b"[b.x]\ni = 1\n\n[a]\nj = 1\n\n[b]\nk = 1\n"
    assert set_values(odd, {"b.k": 2}) == odd.replace(b"k = 1", b"k = 2")
    split = b"[[p]]\ni = 1\n\n[q]\nj = 1\n\n[[p]]\ni = 2\n"
    assert set_values(split, {"p.1.i": 3}) == split.replace(b"i = 2", b"i = 3")


def test_texts_with_hidden_characters_are_refused():
    for value in ("a\x1b", "a\u202e", "line\nline", ["a\x00"]):
        with pytest.raises(InvalidInput, match="invisible"):
            set_values(CAR, {"car.name": value})


KEYS = st.sampled_from(["a", "b", "c-d", "e f", "ü", "a.b"])
TEXT = st.text(st.characters(exclude_categories=["Cc", "Cf", "Cs", "Co", "Cn", "Zl", "Zp"]))
SCALARS = TEXT | st.integers(-(2**53), 2**53) | st.booleans() | st.floats(allow_nan=False)
SCALARS |= st.dates(date(1900, 1, 1))
VALUES = SCALARS | st.lists(st.integers(0, 9), max_size=3)
TABLES = st.recursive(
    st.dictionaries(KEYS, VALUES, max_size=3),
    lambda inner: st.dictionaries(KEYS, VALUES | inner | st.lists(inner, min_size=1, max_size=2)),
    max_leaves=8,
)


def dotted(path):
    return ".".join(
        tomlkit.item(key).as_string() if isinstance(key, str) else str(key) for key in path
    )


def leaves(value, path=()):
    inner = value.items() if isinstance(value, dict) else enumerate(value)
    for key, one in inner:
        tables = isinstance(one, dict) or (
            one and isinstance(one, list) and isinstance(one[0], dict)
        )
        yield from leaves(one, (*path, key)) if tables else [(*path, key)]


@given(TABLES, VALUES, st.data())
@settings(max_examples=250)
def test_any_edit_means_what_it_says_or_is_refused(document, value, data):
    """Set one existing or new value in a random document: exactly that changes, or nothing does."""
    text = tomlkit.dumps(document)
    before = tomllib.loads(text)
    paths = list(leaves(before))
    new = data.draw(st.booleans()) or not paths
    path = data.draw(st.sampled_from(paths)) if paths else ()
    path = (*path[:-1], "fresh") if new and not isinstance(path[-1:] and path[-1], int) else path
    path = path or ("fresh",)
    try:
        out = set_value(text.encode(), path, value)
    except InvalidInput:
        assert "{" in text or "." in text  # only inline and dotted tables cannot always be edited
        return
    expected = tomllib.loads(text)
    level = expected
    for key in path[:-1]:
        level = level[key]
    level[path[-1]] = value
    assert tomllib.loads(out.decode()) == expected
    untouched = set(text.split("\n")) - set(out.decode().split("\n"))
    assert len(untouched) <= 1


@given(TABLES, st.data())
@settings(max_examples=100)
def test_any_removal_removes_that_and_nothing_else(document, data):
    text = tomlkit.dumps(document)
    paths = [path for path in leaves(tomllib.loads(text)) if isinstance(path[-1], str)]
    if not paths:
        return
    path = data.draw(st.sampled_from(paths))
    try:
        out = delete(text.encode(), dotted(path))
    except InvalidInput:
        assert "{" in text or "." in text
        return
    assert path not in list(leaves(tomllib.loads(out.decode())))
    assert set(leaves(tomllib.loads(out.decode()))) == set(leaves(tomllib.loads(text))) - {path}
