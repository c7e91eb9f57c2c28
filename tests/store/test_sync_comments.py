"""Comments of both sides stand in the joined car.toml; what cannot stand there is told."""

from __future__ import annotations

import itertools
import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from buildlog.store.join import comments, filemerge
from tests.histories import CAR
from tests.store.test_sync import EDITS, car, edited, meet, pair, sound, tip, write

assert pair  # the fixture

BASE = """\
# The car of the corner house.
format = 1

[car]
name = "Marrow Tern 2.6"
year = 1994

# Block, measured by hand.
[engine]
bore = "84.0 mm"      # measured
compression_ratio = 9.2
stroke = "78.0 mm"

[gearbox]
ratios = [
  3.5,  # from the plate
  2.0,
  1.3,
]

[[work]]
item = "seats"

# that is all
"""


def joined(one, other, base=BASE):
    """Both orders of joining, which must agree; the text and what was left out."""
    texts = [text.encode() for text in (base, one, other)]
    results = []
    for mine, their in (texts[1:], texts[:0:-1]):
        data, open_, _ = filemerge.joined([texts[0]], mine, their)
        assert not open_
        results.append(data)
    assert results[0] == results[1]
    return results[0].decode(), comments.left_out(texts[0], texts[1], texts[2], results[0])


def test_comments_of_both_sides_stand_where_they_were_written():
    one = BASE.replace(
        "year = 1994\n", "# from the plate on the bulkhead\nyear = 1995  # not 1994\n"
    )
    other = BASE.replace('"78.0 mm"', '"79.4 mm"  # new crank')
    other = other.replace("# that is all", "# that is all\n# for now")
    text, left = joined(one, other)
    assert text == other.replace(
        "year = 1994\n", "# from the plate on the bulkhead\nyear = 1995  # not 1994\n"
    )
    assert left == []


def test_a_comment_alone_is_a_change():
    one = BASE.replace("# measured", "# measured twice")
    other = BASE.replace('bore = "84.0 mm"', 'bore = "84.5 mm"')
    text, left = joined(one, other)
    assert 'bore = "84.5 mm"      # measured twice\n' in text
    assert left == []


def test_a_comment_taken_out_by_one_side_stays_out():
    one = BASE.replace("# Block, measured by hand.\n", "").replace("      # measured", "")
    text, _ = joined(one, BASE.replace("1994", "1995"))
    assert text == one.replace("1994", "1995")


def test_two_comments_at_one_place_both_stand():
    one = BASE.replace("# measured", "# measured; bored in May").replace(
        "# Block, measured by hand.", "# Block, measured by hand.\n# Cracked near bolt 7."
    )
    other = BASE.replace("# measured", "# by micrometer").replace(
        "# Block, measured by hand.", "# Block, measured by hand.\n# Cast in 1993."
    )
    text, left = joined(one, other)
    assert "# bored in May; by micrometer\n" in text
    assert "# Block, measured by hand.\n# Cast in 1993.\n# Cracked near bolt 7.\n[engine]" in text
    assert left == []


def test_a_comment_inside_a_list_goes_with_the_list():
    one = BASE.replace("  2.0,\n", "  2.0,  # counted: 34 to 17\n")
    text, left = joined(one, BASE.replace("1994", "1995"))
    assert text == one.replace("1994", "1995")
    assert left == []


def test_a_comment_above_a_new_item_comes_with_it():
    new = '\n# ours, not the last shop\'s\n[[work]]\nitem = "paint"\nnote = "blue"  # code 41\n'
    one = BASE.replace('item = "seats"\n', f'item = "seats"\n{new}')
    text, left = joined(one, BASE.replace("1994", "1995"))
    assert new in text
    assert "# that is all" in text
    assert left == []


def test_a_comment_on_what_the_other_side_took_out_is_told():
    one = BASE.replace("compression_ratio = 9.2", "compression_ratio = 9.2  # from the brochure")
    other = BASE.replace("compression_ratio = 9.2\n", "")
    text, left = joined(one, other)
    assert "compression_ratio" not in text
    assert left == ["# from the brochure"]


def test_windows_line_ends_stay():
    one, other = (BASE.replace("\n", "\r\n") for _ in range(2))
    one = one.replace("1994", "1994  # plate")
    other = other.replace('"78.0 mm"', '"79.4 mm"  # new crank')
    text, left = joined(one, other, BASE.replace("\n", "\r\n"))
    assert "\n" not in text.replace("\r\n", "")
    assert "1994  # plate\r\n" in text
    assert '"79.4 mm"  # new crank\r\n' in text
    assert left == []


def test_a_hash_inside_a_text_is_no_comment():
    base = BASE.replace("Marrow Tern 2.6", "Tern # 4")
    text, left = joined(base.replace("1994", "1995 # plate # 2"), base.replace("9.2", "9.0"), base)
    assert 'name = "Tern # 4"\n' in text
    assert "year = 1995 # plate # 2\n" in text
    assert left == []


def test_two_laptops_keep_their_comments_and_hear_of_those_left_out(pair):
    a, b, stick = pair
    base = car(a)
    write(a, "a", {"car.toml": base.replace("year = 1994", "year = 1994  # plate")})
    write(b, "b", {"car.toml": base.replace("# measured", "# measured cold")})
    meet(a, stick)
    done = meet(b, stick)
    meet(a, stick)
    assert done.comments_left == ()
    assert tip(a) == tip(b)
    assert "# plate" in car(a)
    assert "# measured cold" in car(a)
    write(a, "a", {"car.toml": car(a).replace('bore = "84.0 mm"      # measured cold\n', "")})
    write(b, "b", {"car.toml": car(b).replace("cold", "at 20 degrees")})
    meet(a, stick)
    assert meet(b, stick).comments_left == ("# measured at 20 degrees",)
    for folder in pair:
        sound(folder)


# --- order does not matter ------------------------------------------------------------------

WORDS = st.sampled_from(["plate", "by hand; cold", "see photo 3", "not sure", 'the "big" one'])
PLACES = ("format", "name", "year", "[engine]", "bore", "compression_ratio", "[[work]]", "item")


def commented(text: str, notes: list[tuple[str, str, bool]]) -> str:
    """The text with a comment above or beside the first line that begins with each place."""
    lines = text.splitlines()
    for place, words, above in notes:
        number = next((n for n, line in enumerate(lines) if line.startswith(place)), None)
        if number is None:
            continue
        if above:
            lines.insert(number, f"# {words}")
        elif "#" in lines[number]:
            lines[number] = lines[number].split("#")[0] + f"# {words}"
        else:
            lines[number] += f"  # {words}"
    return "\n".join(lines) + "\n"


@st.composite
def three_sides(draw):
    """Three people's edits that share no field, and comments wherever they like."""
    paths = draw(st.permutations(sorted(EDITS)))
    owners = draw(st.lists(st.integers(0, 3), min_size=len(paths), max_size=len(paths)))
    sides = [({}, [], []) for _ in range(3)]
    for path, owner in zip(paths, owners, strict=True):
        if owner < 3:
            sides[owner][0][path] = draw(st.sampled_from(EDITS[path]))
    for number in range(draw(st.integers(0, 3))):
        sides[draw(st.integers(0, 2))][1].append(f"paint {number}")
    for side in sides:
        side[2].extend(
            draw(st.lists(st.tuples(st.sampled_from(PLACES), WORDS, st.booleans()), max_size=4))
        )
    return sides


@pytest.mark.parametrize("examples", [20, pytest.param(600, marks=pytest.mark.long)])
def test_joining_comments_does_not_depend_on_the_order(examples):
    base = CAR + '\n# the inside\n[[work]]\nitem = "seats"\n'

    @settings(max_examples=examples)
    @given(sides=three_sides())
    def law(sides):
        texts = [
            commented(edited(base.encode(), *side[:2]).decode(), side[2]).encode() for side in sides
        ]
        results = set()
        for one, two, three in itertools.permutations(texts):
            middle, open_, _ = filemerge.joined([base.encode()], one, two)
            assert not open_
            last, open_, _ = filemerge.joined([base.encode()], middle, three)
            assert not open_
            results.add(last)
        assert len(results) == 1
        text = results.pop().decode()
        tomllib.loads(text)
        for side in texts:  # nothing that a side wrote is lost
            assert comments.left_out(base.encode(), side, side, text.encode()) == []

    law()
