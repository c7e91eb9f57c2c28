"""`plan.toml`: what a proposal would cost and what it promises; it stays on the plan's branch."""

import datetime as dt
from decimal import Decimal
from typing import Annotated, Literal

from pydantic import Field

from buildlog.records.fields.base import (
    EntryId,
    FileFormat,
    Listed,
    Measure,
    Note,
    Record,
    Text,
    WholeFile,
)
from buildlog.units import Quantity

PRICE = r"^[0-9]{1,9}(\.[0-9]{1,2})?$"
CURRENCY = r"^[A-Z]{3}$"
Price = Annotated[str, Field(pattern=PRICE)]
Currency = Annotated[str, Field(pattern=CURRENCY)]
Power = Annotated[Quantity, Measure("power", "0 W", "5000 kW")]
Torque = Annotated[Quantity, Measure("torque", "0 N*m", "50000 N*m")]


class QuotedCharge(Record):
    """A line of the quote: what is to be paid for."""

    what: Text
    """An assembly of the car ("clutch"), or work in words ("fitting, 26 hours")."""
    price: Price
    """Its price: digits and a decimal point."""
    why: Text | None = None
    """Why it is needed, where the program does not say it by itself."""


class Promised(Record):
    """What the quote promised on the day it was made. Never worked out again."""

    date: dt.date
    """The day of the quote."""
    base: EntryId
    """The newest entry on that day: the car that the quote is for."""
    start: EntryId | None = None
    """The entry whose measured curve the figures start from; none where that is a rating."""
    at: Literal["wheels", "hubs", "crank"] | None = None
    """Where the figures hold."""
    standard: Text | None = None
    """The standard atmosphere that they are referred to."""
    power_before: Power | None = None
    """Peak power of the curve that they start from."""
    power_p10: Power | None = None
    """Peak power that nine results in ten are expected to exceed."""
    power_p50: Power | None = None
    """Peak power at the middle of the band."""
    power_p90: Power | None = None
    """Peak power that one result in ten is expected to exceed."""
    torque_before: Torque | None = None
    """Peak torque of the curve that they start from, where it is known."""
    torque_p10: Torque | None = None
    """Peak torque that nine results in ten are expected to exceed."""
    torque_p50: Torque | None = None
    """Peak torque at the middle of the band."""
    torque_p90: Torque | None = None
    """Peak torque that one result in ten is expected to exceed."""
    reason: Text | None = None
    """Why no figure is promised, where none is."""
    adopted: bool = False
    """Whether the plan was taken into the working files."""


class Accepted(Record):
    """That the customer said yes."""

    date: dt.date
    """The day."""
    how: Text
    """In which way: by phone, by e-mail, signed in the shop; nothing about persons."""
    by: Text
    """Who noted it: a staff code, or "customer"."""


class Plan(WholeFile):
    """A proposal's price and note, its promise and what became of it."""

    format: FileFormat
    """The format of this file."""
    price: Price | None = None
    """What it would cost, parts and work: digits and a decimal point, "4200.00"."""
    currency: Currency | None = None
    """The currency's three letters as in ISO 4217: "EUR"."""
    note: Note | None = None
    """What else is to be said about it; nothing about persons."""
    time: Text | None = None
    """How long the work takes, in words: "9 working days after parts arrive"."""
    valid_until: dt.date | None = None
    """The last day on which the quote holds."""
    charge: Annotated[tuple[QuotedCharge, ...], Listed] = ()
    """What the price is made of; without `price` their sum is the price."""
    promised: Promised | None = None
    """Written by `plan quote`."""
    accepted: Accepted | None = None
    """Written by `plan accept`."""

    @property
    def amount(self) -> Decimal | None:
        """The price as a number: as stated, else the sum of the charges."""
        if self.price is not None:
            return Decimal(self.price)
        return sum((Decimal(one.price) for one in self.charge), Decimal(0)) if self.charge else None

    @property
    def unaccounted(self) -> Decimal:
        """How far the stated price is from the sum of the charges; 0 where one is not given."""
        if self.price is None or not self.charge:
            return Decimal(0)
        return Decimal(self.price) - sum(Decimal(one.price) for one in self.charge)
