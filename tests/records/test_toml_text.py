"""Where TOML statements stand; `tomllib` is the outside judge of what stands there."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from buildlog.records.toml.toml_text import lines_of, places, split_path, statements

# Spellings of values and keys by the grammar of TOML 1.0.0 that are easily misread.
VALUES = [
    '"x"', "'#'", "1", '"""\na\n[b]\n"""', "'''x'y\n''z'''", "[1, # ]\n 2]", '{a=1, b="]"}',
    '[{a="}"},\n {b=2}]', '"a\\"#"', '""""a""""', '"""a"""""', "2020-01-01", "[]", '""',
    '"""\\\n  x"""', "''''a'''''", '"\\\\"',
]  # fmt: skip
KEYS = ["a", "b", '"q r"', "'s#'", '"e\\u0041\\""', "x.y", 'x."z ]".w', " a . b ", '""']
LINES = st.one_of(
    st.sampled_from(["", " ", "# c [x]", "\t# d"]),
    st.builds("{}[{}]".format, st.sampled_from(["", "  "]), st.sampled_from(KEYS)),
    st.builds("[[{}]]{}".format, st.sampled_from(KEYS), st.sampled_from(["", " # ]"])),
    st.builds(
        "{}{}{}{}{}".format, st.sampled_from(["", "\t"]), st.sampled_from(KEYS),
        st.sampled_from([" = ", "=", "  =\t"]), st.sampled_from(VALUES),
        st.sampled_from(["", " # c'\"["]),
    ),
)  # fmt: skip


def valid(text: str) -> dict[str, Any] | None:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return None


@given(st.lists(LINES, max_size=7).map("\n".join), st.sampled_from(["\n", "\r\n"]))
@settings(max_examples=600, deadline=None)
def test_at_each_place_stands_what_tomllib_finds_there(text: str, ending: str) -> None:
    text = text.replace("\n", ending)
    document = valid(text)
    assume(document is not None)
    lines = lines_of(text)
    seen = -1
    for one in statements(text):
        assert seen < one.first < one.last <= len(lines)
        seen = one.last - 1
        held = "".join(lines[one.first : one.last])
        level: Any = document
        for key in one.path:
            level = level[key]
        rest = held[one.column - 1 :]
        if one.is_header:
            assert rest.startswith("[")
        else:
            assert tomllib.loads(f"value = {rest}")["value"] == level
        for line in range(one.first, one.last):
            lines[line] = ""
    assert all(not line.strip() or line.lstrip().startswith("#") for line in lines)


def test_quotes_at_the_end_of_a_text_over_lines_and_brackets_in_a_key() -> None:
    found = places('a = """"x""""\nb = 1\n["k ]".c] # ]\nd = 2\n')
    assert found == {
        ("a",): (1, 5),
        ("b",): (2, 5),
        ("k ]", "c"): (3, 1),
        ("k ]", "c", "d"): (4, 5),
    }


@pytest.mark.parametrize(
    ("text", "keys"),
    [("a", ("a",)), ("a . b", ("a", "b")), ('a."b.c"', ("a", "b.c")), ('"\\u00e9"', ("é",))],
)
def test_a_dotted_path_is_its_keys(text: str, keys: tuple[str, ...]) -> None:
    assert split_path(text) == keys
