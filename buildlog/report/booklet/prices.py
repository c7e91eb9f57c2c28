"""What the work of a sheet was quoted at: only where somebody asks for prices."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal

from buildlog.records.plan import Plan
from buildlog.report.booklet import document as doc


def quoted_prices(plans: Sequence[Plan]) -> Iterator[doc.Block]:
    """A table a quote: each charge, and the sum."""
    for plan in plans:
        if plan.amount is None:
            continue
        rows: list[list[doc.Cell]] = [
            [one.what.replace("_", " "), money(Decimal(one.price), plan.currency, whole=True)]
            for one in plan.charge
        ]
        total = money(plan.amount, plan.currency, whole=True)
        rows.append([doc.Span("Total before tax", "strong"), doc.Span(total, "strong")])
        yield doc.table("What it was quoted at", ("", "price"), rows, right=(1,))


def money(amount: Decimal, currency: str | None, whole: bool = False) -> str:
    """ "$13,960", "13,960.50 EUR"; without cents where there are none."""
    bare = whole and amount == amount.to_integral()
    said = f"{amount:,.0f}" if bare else f"{amount:,.2f}"
    return f"${said}" if currency == "USD" else f"{said} {currency or ''}".strip()
