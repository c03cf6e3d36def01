"""How a joint declares its fields: each with its key in a description, a sentence and a bound.

A joint is a dataclass whose fields are made by the functions here.  Whoever reads or writes a
description, lists dimensions or draws up a form goes through :func:`keys_of`.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, fields
from fractions import Fraction
from typing import Any

ENDS: Mapping[str, bool] = {"operated": True, "at rest": False}
"""The two ends at which a part may be sensed, as a description names them."""


NEEDED: Any = object()
"""The default of a key that must be given."""


@dataclass(frozen=True)
class Bound:
    """What a number must be.

    Attributes:
        holds: Whether a number is as it must be.
        what: What is wrong with one that is not.
        mend: What to do about it.
    """

    holds: Callable[[Fraction], bool]
    what: str
    mend: str


def above_zero(what: str, mend: str) -> Bound:
    """A number must be greater than 0."""
    return Bound(lambda number: number > 0, what, mend)


@dataclass(frozen=True)
class FieldKey:
    """The key that a field has in a description.

    Attributes:
        key: The key.
        kind: What its value is: ``"part"``, ``"parts"``, ``"number"`` or ``"code"``; ``"end"`` for
            the end at which a part is sensed; ``"sensed"`` for a part with such an end beside it,
            under the key ``when``; ``"entries"`` for a list of tables.
        says: A sentence for the reader.
        default: What holds if it is left out; ``NEEDED`` if it must be given, None if nothing
            holds then.
        of: What the dimension is, if the number is one: the depth at which a stop lets go.
        bound: What a number must be.
        whole: Whether the number is a count.
        entry: The class of each entry.
        when: The sentence about ``when``.
    """

    key: str
    kind: str
    says: str
    default: Any = NEEDED
    of: str = ""
    bound: Bound | None = None
    whole: bool = False
    entry: type[Any] | None = None
    when: str = ""

    def touched(self, value: Any) -> Iterator[str]:
        """The names of parts in a value of the field, in order."""
        if self.kind == "part":
            yield value
        elif self.kind == "parts":
            yield from value
        elif self.kind == "sensed":
            yield value.part
        elif self.kind == "entries":
            for one in value:
                for name, key in keys_of(type(one)).items():
                    yield from key.touched(getattr(one, name))


def keys_of(kind: type[Any]) -> Mapping[str, FieldKey]:
    """The key of each field of a class, by the field's name."""
    if kind not in _KEYS:
        _KEYS[kind] = {f.name: f.metadata["key"] for f in fields(kind) if "key" in f.metadata}
    return _KEYS[kind]


_KEYS: dict[type[Any], Mapping[str, FieldKey]] = {}


def _field(key: FieldKey) -> Any:
    told = {"key": key}
    return (
        field(metadata=told) if key.default is NEEDED else field(default=key.default, metadata=told)
    )


def part(key: str, says: str) -> Any:
    """A field that names a part."""
    return _field(FieldKey(key, "part", says))


def parts(key: str, says: str) -> Any:
    """A field that names one part or more."""
    return _field(FieldKey(key, "parts", says))


def code(key: str, says: str) -> Any:
    """A field that holds a code, written as its character, its name or its position."""
    return _field(FieldKey(key, "code", says))


def number(
    key: str,
    says: str,
    *,
    of: str = "",
    bound: Bound | None = None,
    default: Any = NEEDED,
    whole: bool = False,
) -> Any:
    """A field that holds a number."""
    return _field(FieldKey(key, "number", says, default, of, bound, whole))


def end(key: str, says: str) -> Any:
    """A field that says at which end a part is sensed; True is operated, and holds if left out."""
    return _field(FieldKey(key, "end", says, True))


def sensed(key: str, says: str, when: str) -> Any:
    """A field with a part that is sensed, and the end at which it is."""
    return _field(FieldKey(key, "sensed", says, when=when))


def entries(key: str, says: str, entry: type[Any]) -> Any:
    """A field with a list of tables, each of one class."""
    return _field(FieldKey(key, "entries", says, entry=entry))
