"""`plan.toml`: what a proposal would cost; it stays on the plan's own branch."""

from decimal import Decimal
from typing import Annotated

from pydantic import Field

from buildlog.records.base import FileFormat, Note, Record

PRICE = r"^[0-9]{1,9}(\.[0-9]{1,2})?$"
CURRENCY = r"^[A-Z]{3}$"
Price = Annotated[str, Field(pattern=PRICE)]
Currency = Annotated[str, Field(pattern=CURRENCY)]


class Plan(Record):
    """A proposal's price and note."""

    format: FileFormat
    """The format of this file."""
    price: Price | None = None
    """What it would cost, parts and work: digits and a decimal point, "4200.00"."""
    currency: Currency | None = None
    """The currency's three letters as in ISO 4217: "EUR"."""
    note: Note | None = None
    """What else is to be said about it; nothing about persons."""

    @property
    def amount(self) -> Decimal | None:
        """The price as a number."""
        return None if self.price is None else Decimal(self.price)
