"""The figure of what changes gave in a whole shop."""

from __future__ import annotations

from typing import TYPE_CHECKING

from buildlog.desk.give.drawn import Drawn
from buildlog.errors import NotFound

if TYPE_CHECKING:
    from buildlog.analysis.answers.shop_tables import ShopGains


def shop_figure(found: ShopGains) -> Drawn:
    """Gains by kind of change, and predictions against what was measured."""
    from buildlog.report.pictures.shop_pictures import draw_shop

    if not found.table:
        raise NotFound(
            "no stage of this shop was measured before and after, like for like",
            hint="buildlog shop list DIR... --gains says why",
        )
    return Drawn(draw_shop(found.table, [stage for _, stage in found.stages]))
