"""How a class declares its fields: each with its key in a description, a sentence and a bound.

Joints, outputs and whatever else a description has a table for are dataclasses whose fields are
made by the functions here.  Whoever reads or writes a description, lists dimensions or draws up a
form goes through :func:`keys_of`.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, fields
from fractions import Fraction
from typing import Any

ENDS: Mapping[str, bool] = {"operated": True, "at rest": False}
"""The two ends at which a part may be sensed, as a description names them."""

NEEDED: Any = object()
"""The default of a key that must be given."""


Wrong = tuple[tuple[str | int, ...], str, str]
"""Something wrong among fields: the keys that lead to it, what it is, and how to correct it."""


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


def above_zero(
    what: str = "it is not greater than 0", mend: str = "Give a number greater than 0."
) -> Bound:
    """A number must be greater than 0."""
    return Bound(lambda number: number > 0, what, mend)


NOT_NEGATIVE = Bound(lambda number: number >= 0, "it is less than 0", "Give 0 or more.")
"""A number must be 0 or more."""


@dataclass(frozen=True)
class FieldKey:
    """The key that a field has in a description.

    Attributes:
        key: The key.
        kind: What its value is: ``"text"``, ``"number"``, ``"part"`` or ``"code"``; ``"texts"``,
            ``"numbers"`` and ``"parts"`` for lists of them; ``"line"`` for a single text that
            stands for a list; ``"sensed"`` for a part with the end at which it is sensed beside it,
            under the key ``when``; ``"table"``, and ``"tables"`` for a list of them; ``"together"``
            for several keys of the same table that are all given or all left out;
            ``"dimensions"`` for a table of amounts by kind of dimension.
        says: A sentence for the reader.
        default: What holds if it is left out; ``NEEDED`` if it must be given, None if nothing
            holds then.
        of: What the dimension is, if the number is one: the depth at which a stop lets go.
        bound: What a number must be.
        whole: Whether the number is a count.
        entry: The class of a table or entry.
        choices: The texts that are allowed, each with the value that it stands for.
        together: The keys, one for each field of *entry*, where they are given together.
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
    choices: Mapping[str, Any] = field(default_factory=dict)
    together: tuple["FieldKey", ...] = ()
    when: str = ""

    def written(self, value: Any) -> str:
        """The choice that stands for a value."""
        return next(name for name, meant in self.choices.items() if meant == value)

    def touched(self, value: Any) -> Iterator[str]:
        """The names of parts in a value of the field, in order."""
        if self.kind == "part":
            yield value
        elif self.kind == "parts":
            yield from value
        elif self.kind == "sensed":
            yield value.part
        elif self.kind == "tables":
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


def text(
    key: str, says: str, *, choices: Mapping[str, Any] | None = None, default: Any = NEEDED
) -> Any:
    """A field that holds a text, or what one of some texts stands for."""
    return _field(FieldKey(key, "text", says, default, choices=choices or {}))


def texts(key: str, says: str, *, default: Any = NEEDED) -> Any:
    """A field that holds texts."""
    return _field(FieldKey(key, "texts", says, default))


def line(key: str, says: str) -> Any:
    """A field that holds texts, of which there is but one."""
    return _field(FieldKey(key, "line", says))


def part(key: str, says: str, *, default: Any = NEEDED) -> Any:
    """A field that names a part."""
    return _field(FieldKey(key, "part", says, default))


def parts(key: str, says: str, *, default: Any = NEEDED) -> Any:
    """A field that names one part or more."""
    return _field(FieldKey(key, "parts", says, default))


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


def numbers(key: str, says: str, *, default: Any = NEEDED) -> Any:
    """A field that holds numbers."""
    return _field(FieldKey(key, "numbers", says, default))


def end(key: str, says: str) -> Any:
    """A field that says at which end a part is sensed; True is operated, and holds if left out."""
    return text(key, says, choices=ENDS, default=True)


def sensed(key: str, says: str, when: str) -> Any:
    """A field with a part that is sensed, and the end at which it is."""
    return _field(FieldKey(key, "sensed", says, when=when))


def table(key: str, says: str, entry: type[Any]) -> Any:
    """A field with a table of one class; None if it is left out."""
    return _field(FieldKey(key, "table", says, None, entry=entry))


def tables(key: str, says: str, entry: type[Any], *, default: Any = NEEDED) -> Any:
    """A field with a list of tables, each of one class."""
    return _field(FieldKey(key, "tables", says, default, entry=entry))


def together(entry: type[Any], *keys: FieldKey) -> Any:
    """A field whose class takes several keys of the same table; None if they are left out."""
    return _field(FieldKey(keys[0].key, "together", "", None, entry=entry, together=keys))


def dimensions(key: str, says: str) -> Any:
    """A field with an amount for each of some kinds of dimension."""
    return _field(FieldKey(key, "dimensions", says, ()))
