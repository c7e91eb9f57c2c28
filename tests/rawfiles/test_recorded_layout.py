"""A layout that was found once is known again; a file that it does not fit is not read by it."""

from dataclasses import replace

import pytest
from hypothesis import HealthCheck, given, settings
from rawfile_examples import EXAMPLES
from test_rawfiles_properties import files

from buildlog.analysis.pulls.recorded_layout import known_layout, layout_table
from buildlog.rawfiles.layout import KnownLayout, confirmed, find_layout
from buildlog.records.session import RawLayout


def known_of_record(data: bytes, name: str) -> KnownLayout:
    """Through the words of session.toml and back."""
    known = known_layout(RawLayout.model_validate(layout_table(find_layout(data, name))))
    assert known is not None
    return known


@pytest.mark.parametrize("name", EXAMPLES)
def test_every_example_is_known_again(name: str) -> None:
    data = EXAMPLES[name]().data
    found = replace(find_layout(data, name), above=())
    assert confirmed(data, name, known_of_record(data, name)) == found


@settings(suppress_health_check=[HealthCheck.too_slow], max_examples=60)
@given(files())
def test_every_random_table_is_known_again(
    case: tuple[bytes, list[list[float]], list[str]],
) -> None:
    data = case[0]
    found = replace(find_layout(data, "x.csv"), above=())
    assert confirmed(data, "x.csv", known_of_record(data, "x.csv")) == found


@pytest.mark.parametrize("name", EXAMPLES)
@pytest.mark.parametrize("other", EXAMPLES)
def test_another_files_layout_fits_as_its_own_or_not_at_all(name: str, other: str) -> None:
    """Whatever session.toml says of a file, it is never read in another way than it was found.

    A sign between thousands may show first far down: what is said of it is taken.
    """
    data = EXAMPLES[other]().data
    known = known_of_record(EXAMPLES[name]().data, name)
    found = confirmed(data, other, known)
    if found is not None:
        meant = find_layout(data, other)
        assert found == replace(
            meant, above=(), dialect=replace(meant.dialect, grouping=known.dialect.grouping)
        )


@pytest.mark.parametrize("name", EXAMPLES)
@pytest.mark.parametrize("moved", [-1, 1, 10_000])
def test_a_line_off_is_not_confirmed(name: str, moved: int) -> None:
    data = EXAMPLES[name]().data
    known = known_of_record(data, name)
    if known.first_line + moved >= 1:
        assert confirmed(data, name, replace(known, first_line=known.first_line + moved)) is None
