"""One question to all the cars of a shop, answered: `buildlog shop list`."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from buildlog.analysis.answers.shop_tables import ShopAnswer, ShopStanding
from buildlog.desk.views.view import Forms, View

if TYPE_CHECKING:
    from buildlog.units import System


class ShopView(View):
    """What the shop's cars say to one question, as text, tables and rows."""

    def __init__(self, found: ShopAnswer, units: System) -> None:
        self._found, self._units = found, units
        self.unread = found.unread
        """Ledgers that could not be read, each with the reason."""

    @property
    def rows(self) -> list[dict[str, Any]]:
        """The rows of `--csv`, for a frame or a spreadsheet."""
        from buildlog.report.as_json.shop_json import shop_rows

        return shop_rows(self._found)

    def _forms(self) -> Forms:
        from buildlog.report.as_json.shop_json import shop_json
        from buildlog.report.as_text.shop_text import shop_lines

        found, tables = self._found, None
        if type(found) is ShopStanding:
            tables = found
        return Forms(
            lambda: shop_lines(found, self._show),
            lambda: shop_json(found)[1],
            lambda: f"{shop_json(found)[0]}: {len(self.rows)} rows",
            (lambda: self._tables.shop_html(tables, self._show)) if tables else None,
        )
