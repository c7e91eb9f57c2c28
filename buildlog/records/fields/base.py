"""The base of every record, and the kinds of field that records are made of."""

from __future__ import annotations

import ast
import inspect
import os
import re
import unicodedata
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache, wraps
from itertools import pairwise
from typing import Annotated, Any, Literal, Self, TypeVar

# Looking for plugins reads the metadata of everything that is installed, and a plugin of another
# program has no say over a ledger.
os.environ.setdefault("PYDANTIC_DISABLE_PLUGINS", "__all__")

from pydantic import (
    AfterValidator,
    BaseModel,
    BeforeValidator,
    ConfigDict,
    Field,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    PrivateAttr,
)
from pydantic_core import PydanticCustomError, core_schema

from buildlog.errors import InvalidInput
from buildlog.records.fields.newer import FORMAT as FORMAT
from buildlog.records.fields.newer import Path
from buildlog.records.toml.plain_text import hidden
from buildlog.units import (
    BLANK,
    BY_THE_THOUSAND,
    LONGEST,
    NUMBER,
    THOUSANDS,
    Quantity,
    known,
    parse,
    spelled,
    texts,
)  # fmt: skip

# Units that people leave out or mix up, the likelier first.
COMMON = ("mm", "in", "rpm", "psi", "kPa", "bar", "degC", "degF", "hp", "kW", "kg", "mi", "km")
NUMBER_ALONE = re.compile(f"{BLANK}{NUMBER}{BLANK}")
_MOST_REMEMBERED = 256
R = TypeVar("R", bound=BaseModel)
T = TypeVar("T")


class Record(BaseModel):
    """A frozen record that refuses unknown keys, guessed types and numbers that are none."""

    model_config = ConfigDict(
        frozen=True,
        strict=True,
        extra="forbid",
        allow_inf_nan=False,
        defer_build=True,  # each model is compiled once, inside the file it is read with
    )

    @classmethod
    def __get_pydantic_json_schema__(
        cls, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        made = handler(schema)
        fields = handler.resolve_ref_schema(made)["properties"]
        for name, sentence in sentences(cls).items():
            fields[name]["description"] = sentence
        return made

    @classmethod
    def blank(cls) -> Self:
        """One of which nothing is said, made without compiling its rules."""
        return cls.model_construct()


class WholeFile(Record):
    """A record that is a whole file: it knows what a newer buildlog wrote into it."""

    _newer: dict[Path, Any] = PrivateAttr(default_factory=dict)

    @property
    def newer(self) -> dict[Path, Any]:
        """What is carried untouched and means nothing to this program, by its place."""
        return self._newer


def once(work: Callable[[R], T]) -> Callable[[R], T]:
    """A function of a record that is worked out once for each of the newest records.

    Records are frozen but hold dicts, so they are told apart as objects, not by their values.
    """
    known: dict[int, tuple[R, T]] = {}

    @wraps(work)
    def remembered(record: R) -> T:
        found = known.get(id(record))
        if found is None:
            if len(known) >= _MOST_REMEMBERED:
                known.pop(next(iter(known)))
            found = known[id(record)] = (record, work(record))  # held, so its id stays its own
        return found[1]

    return remembered


@cache
def sentences(model: type[BaseModel]) -> dict[str, str]:
    """What stands under each field of a model: what it means, in one sentence.

    Read from the source when somebody asks, so that no command pays for it that does not print it.
    """
    found: dict[str, str] = {}
    for one in reversed(model.__mro__[: model.__mro__.index(BaseModel)]):
        (table,) = ast.parse(inspect.getsource(one)).body
        assert isinstance(table, ast.ClassDef)
        for field, text in pairwise(table.body):
            if isinstance(field, ast.AnnAssign) and isinstance(text, ast.Expr):
                found[ast.unparse(field.target)] = " ".join(ast.literal_eval(text.value).split())
    return found


@dataclass(frozen=True)
class Measure:
    """What a quantity field measures, and the bounds beyond which it is a slip of the pen.

    `low` and `high` are quantities as text ("20 mm"); both ends are allowed. `place`: "gauge" or
    "absolute" of a pressure, "crank" or "wheels" of a power, where the field means one of them.
    """

    dimensions: str | tuple[str, ...]
    low: str
    high: str
    place: str | None = None

    @property
    def names(self) -> tuple[str, ...]:
        """The dimensions as a tuple."""
        return (self.dimensions,) if isinstance(self.dimensions, str) else self.dimensions

    def read(self, value: object) -> Quantity:
        """A Quantity inside the bounds, or an error that pydantic reports with its place."""
        if isinstance(value, Quantity):
            return value
        if not isinstance(value, str):
            raise PydanticCustomError(
                "quantity",
                "{value} needs a unit",
                {"value": repr(value), "hint": f'write "{self._with_unit(value)}"'},
            )
        try:
            quantity = parse(value, self.names, self.place)
            low, high = (_bound(text, quantity.dimension) for text in (self.low, self.high))
        except InvalidInput as error:
            meant = self.fitting(value) if NUMBER_ALONE.fullmatch(value) else None
            hint = f'did you mean "{meant}"? ({known(self.names)})' if meant else error.hint
            raise PydanticCustomError(
                "quantity", "{what}", {"what": error.what, "hint": hint or ""}
            ) from None
        slack = 1e-12 * abs(quantity.si)  # both ends are allowed, whatever unit they come in
        if (low and quantity.si < low.si - slack) or (high and quantity.si > high.si + slack):
            meant = self.fitting(value)
            hint = f'did you mean "{meant}"?' if meant else "look at the unit"
            raise PydanticCustomError(
                "bounds",
                '"{text}" is outside {low} to {high}',
                {"text": value, "low": self.low, "high": self.high, "hint": hint},
            )
        return quantity

    def _with_unit(self, value: object) -> str:
        number = str(value)
        fitting = self.fitting(number) if NUMBER_ALONE.fullmatch(number) else None
        return fitting or f"{number} {texts(self.names)[0]}"

    def fitting(self, text: str) -> str | None:
        """The number with a common unit in which it lies inside the bounds: what was meant.

        >>> Measure("length", "20 mm", "300 mm").fitting("3.551 mm")
        '3.551 in'
        """
        number = text.split()[0]
        for unit in (unit for unit in COMMON if unit in texts(self.names)):
            quantity = parse(f"{number} {unit}", self.names)
            low, high = (_bound(bound, quantity.dimension) for bound in (self.low, self.high))
            if low and high and low.si <= quantity.si <= high.si:
                return quantity.text
        return None

    def __get_pydantic_core_schema__(
        self, source: Any, handler: GetCoreSchemaHandler
    ) -> core_schema.CoreSchema:
        return core_schema.no_info_plain_validator_function(
            self.read, serialization=core_schema.plain_serializer_function_ser_schema(str)
        )

    def __get_pydantic_json_schema__(
        self, schema: core_schema.CoreSchema, handler: GetJsonSchemaHandler
    ) -> dict[str, Any]:
        taken = [*texts(self.names), *spelled(self.names, self.place)]
        number = f"(?:{THOUSANDS}|{NUMBER})" if BY_THE_THOUSAND & {*self.names} else NUMBER
        units = "|".join(_escape(text) for text in sorted(taken, key=len, reverse=True))
        return {
            "type": "string",
            "pattern": f"^{BLANK}{number}{BLANK}({units}){BLANK}$",
            "maxLength": LONGEST,
            "x-dimension": " | ".join(self.names),
            "x-low": self.low,
            "x-high": self.high,
        }


@cache
def _bound(text: str, dimension: str) -> Quantity | None:
    """A bound in the quantity's dimension; None where it is written in the field's other one."""
    try:
        return parse(text, (dimension,))
    except InvalidInput:
        return None


def _escape(text: str) -> str:
    # Not re.escape: JSON Schema patterns are ECMA regular expressions.
    return "".join(f"\\{c}" if c in r"^$.*+?()[]{}|/\\" else c for c in text)


def clean_text(limit: int, lines: bool = False) -> Callable[[str], str]:
    """A check that text holds no control, direction or private-use characters."""

    def check(text: str) -> str:
        if len(text) > limit:
            raise PydanticCustomError(
                "text",
                "{n} characters are too many, {limit} at most",
                {"n": len(text), "limit": limit},
            )
        if code := hidden(text, "\n\t" if lines else ""):
            raise PydanticCustomError(
                "text",
                "the text holds a character that cannot be shown: {code}",
                {"code": code, "hint": "type the text anew"},
            )
        return unicodedata.normalize("NFC", text)

    return check


def _whole_number(value: object) -> object:
    if type(value) is not int:
        raise PydanticCustomError("text", "the format is a whole number", {"hint": "format = 1"})
    return value


# Literal alone would take `true` and 1.0 for 1.
FileFormat = Annotated[Literal[1], BeforeValidator(_whole_number)]
Text = Annotated[str, Field(min_length=1), AfterValidator(clean_text(240))]
Note = Annotated[str, AfterValidator(clean_text(10_000, lines=True))]
# TOML arrays become tuples, so that records stay frozen.
Listed = BeforeValidator(lambda value: tuple(value) if isinstance(value, list) else value)
EntryId = Annotated[str, Field(pattern=r"^[0-9a-f]{40}$")]
Count = Annotated[int, Field(ge=0, le=10_000)]
