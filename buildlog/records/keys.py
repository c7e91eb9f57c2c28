"""The key register: public keys and what became of them, as events that are only ever added.

Order in the file says nothing. What counts is which entry an event first stands in, and who
signed that entry.
"""

from typing import Annotated, Literal

from pydantic import AfterValidator, Field, ValidationError

from buildlog.errors import InvalidInput
from buildlog.records.fields.base import EntryId, Listed, Note, Record, Text, clean_text
from buildlog.records.toml.toml_read import parse_toml

Public = Annotated[str, Field(pattern=r"^[a-z0-9@.-]{4,60} [A-Za-z0-9+/=]{16,4000}$")]
Name = Annotated[
    str, Field(pattern=r"^[A-Za-z0-9][A-Za-z0-9 ._-]{0,59}$"), AfterValidator(clean_text(60))
]
Signature = Annotated[str, Field(pattern=r"^[A-Za-z0-9+/=]{16,8000}$")]


class KeyEvent(Record):
    """What became of a key in the entry that adds this event."""

    kind: Literal["add", "rotate", "retire", "compromised", "restart"]
    """What became of it."""
    key: Public
    """The public key: kind and base 64, no comment."""
    name: Name | None = None
    """Whose key it is: a bench or a shop, no person."""
    after: Public | None = None
    """The key that a rotation follows."""
    proof: Signature | None = None
    """A rotation: the new key's own signature, base 64."""
    last_good: EntryId | None = None
    """A compromised key: the last entry it is trusted for."""
    earlier_lost: Literal[True] | None = None
    """A new beginning: all keys before were lost and are out of use."""
    reason: Text | None = None
    """Why, in a few words."""
    note: Note | None = None
    """Anything else."""


class KeyRegister(Record):
    """keys/register.toml."""

    format: Literal[1]
    """The format of this file."""
    event: Annotated[tuple[KeyEvent, ...], Listed] = ()
    """What became of keys."""


def read_register(data: bytes, name: str) -> KeyRegister:
    """The register; InvalidInput if it is not as this program writes it.

    Not by `records.reading`: events have no name of their own, one key may have several.
    """
    try:
        return KeyRegister.model_validate(parse_toml(data, name))
    except ValidationError as error:
        first = error.errors(include_url=False)[0]
        place = ".".join(map(str, first["loc"]))
        raise InvalidInput(
            f"{place}: {first['msg']}", where=name, hint="only buildlog key writes this file"
        ) from None
