"""A file whose last line is cut off loses that line, and no other file loses anything."""

from __future__ import annotations

import pytest

from buildlog.rawfiles.cutoff import without_cut_line
from buildlog.rawfiles.layout import RaggedLine
from buildlog.rawfiles.propose import propose
from tests.rawfiles.rawfile_examples import RUN

WHOLE = "RPM;Power\n" + "".join(f"{n:.0f};{p:.1f}\n" for n, p, _, _ in RUN)


def refused(text: str) -> RaggedLine:
    with pytest.raises(RaggedLine) as caught:
        propose(text.encode(), "pull.csv", [])
    return caught.value


@pytest.mark.parametrize("ending", ["", "\n", "\r\n"])
def test_the_rows_above_a_cut_line_are_whole(ending: str) -> None:
    text = f"{WHOLE}39{ending}"
    cut = without_cut_line(text.encode(), "pull.csv", refused(text))
    assert cut == (WHOLE.encode(), len(RUN) + 2)


@pytest.mark.parametrize("last", ["3900;80.1;7\n", "39\n3950;80.0\n"])
def test_a_line_that_is_too_long_or_not_the_last_is_not_cut_off(last: str) -> None:
    text = WHOLE + last
    assert without_cut_line(text.encode(), "pull.csv", refused(text)) is None
