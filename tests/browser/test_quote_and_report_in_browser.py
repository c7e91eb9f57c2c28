"""Quote and customer's page in a real browser: light and dark, on a telephone and on a desk."""

from __future__ import annotations

import os
import shutil
from pathlib import Path

import pytest
from click.testing import CliRunner

from tests.browser.chromium import opened, program
from tests.browser.test_booklet_in_browser import violations

MORE = ("induction.boost.target_gauge=11 psi", "exhaust.catalysts.kind=none",
        "charge[induction]=900", "currency=USD")  # fmt: skip


@pytest.fixture(scope="module")
def pages(demo: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo with a plan: its quote, the report of its last stage, the plan that was built."""
    from buildlog.cli.main import cli

    base = tmp_path_factory.mktemp("pages")
    car = Path(shutil.copytree(demo, base / "car"))
    for line in (
        ["plan", "new", "more"], ["plan", "set", "more", *MORE],
        ["plan", "quote", "more", "--html", f"{base}/quote.html", "--date", "2026-06-07"],
        ["report", "stage-2", "--out", f"{base}/report.html"],
        ["report", "baseline", "--out", f"{base}/baseline.html"],
    ):  # fmt: skip
        told = CliRunner().invoke(cli, [*line, "--ledger", str(car)])
        assert told.exit_code == 0, told.output
    return base


@pytest.mark.parametrize("name", ["quote", "report", "baseline"])
def test_the_accessibility_checker_finds_nothing_and_nothing_scrolls_sideways(
    name: str, pages: Path
) -> None:
    if program() is None:
        if os.environ.get("CI") == "true":
            pytest.fail("CI has to bring a browser: the package chromium")
        pytest.skip("no browser of the Chromium family is on this computer")
    with opened(pages / f"{name}.html") as found:
        for scheme in ("light", "dark"):
            found.call("Emulation.setEmulatedMedia",
                       features=[{"name": "prefers-color-scheme", "value": scheme}])  # fmt: skip
            assert violations(found) == []
        for width in (360, 390, 1280):
            found.call("Emulation.setDeviceMetricsOverride", width=width, height=800,
                       deviceScaleFactor=1, mobile=False)  # fmt: skip
            assert found.value("document.documentElement.scrollWidth") <= width
            assert violations(found) == []
