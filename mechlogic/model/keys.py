"""How a class declares its fields: each with its key in a description, a sentence and a bound.

Joints, outputs and whatever else a description has a table for are dataclasses whose fields are
made by the functions here.  Whoever reads or writes a description, lists dimensions or draws up a
form goes through :func:`keys_of`.
"""

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, fields
from fractions import Fraction
from functools import partial
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


def hold_bounds(thing: Any) -> None:
    """Refuse an object of which a field is out of the bound that its class declares.

    Raises:
        ValueError: For the first such field.
    """
    for name, key in keys_of(type(thing)).items():
        if key.bound and not key.bound.holds(getattr(thing, name)):
            raise ValueError(f"{name}: {key.bound.what}")


def _field(kind: str, key: str, says: str, default: Any = NEEDED, **more: Any) -> Any:
    """A field of a dataclass with its key; *more* are attributes of a :class:`FieldKey`."""
    told = {"key": FieldKey(key, kind, says, default, **more)}
    return field(metadata=told) if default is NEEDED else field(default=default, metadata=told)


text = partial(_field, "text")
"""A field that holds a text, or what one of some texts stands for (*choices*)."""

texts = partial(_field, "texts")
"""A field that holds texts."""

line = partial(_field, "line")
"""A field that holds texts, of which there is but one."""

part = partial(_field, "part")
"""A field that names a part."""

parts = partial(_field, "parts")
"""A field that names one part or more."""

code = partial(_field, "code")
"""A field that holds a code, written as its character, its name or its position."""

number = partial(_field, "number")
"""A field that holds a number: what it is a dimension *of*, its *bound*, whether it is *whole*."""

numbers = partial(_field, "numbers")
"""A field that holds numbers."""

sensed = partial(_field, "sensed")
"""A field with a part that is sensed, and the end at which it is (*when*)."""

tables = partial(_field, "tables")
"""A field with a list of tables, each of one class (*entry*)."""

table = partial(_field, "table", default=None)
"""A field with a table of one class (*entry*); None if it is left out."""

dimensions = partial(_field, "dimensions", default=())
"""A field with an amount for each of some kinds of dimension."""

end = partial(_field, "text", default=True, choices=ENDS)
"""A field that says at which end a part is sensed; True is operated, and holds if left out."""


def together(entry: type[Any], *keys: FieldKey) -> Any:
    """A field whose class takes several keys of the same table; None if they are left out."""
    return _field("together", keys[0].key, "", None, entry=entry, together=keys)
