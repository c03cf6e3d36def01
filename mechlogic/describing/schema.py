"""Which tables and keys a description has, as the classes declare them for their fields."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cache

from mechlogic.describing.description import PARITY
from mechlogic.model.codes import ALPHABETS
from mechlogic.model.dimensions import KINDS
from mechlogic.model.keys import NEEDED, FieldKey, keys_of
from mechlogic.model.laws import JOINTS, Literal
from mechlogic.model.machine import Declared, Machine
from mechlogic.model.mechanism import Part
from mechlogic.model.motion import Cycle
from mechlogic.model.outputs import DECLARED, OUTPUTS

__all__ = ["Key", "Schema", "schema"]


@dataclass(frozen=True)
class Key:
    """One key of a table.

    Attributes:
        name: The key.
        kind: What its value is: ``"text"``, ``"number"``, ``"part"``, ``"code"``, ``"table"``;
            ``"texts"``, ``"numbers"``, ``"parts"`` and ``"tables"`` for lists of them.  Two kinds
            with " or " between them if either will do.
        says: A sentence for the reader.
        needed: Whether it must be given.
        default: What holds if it is left out, as it would be written; empty if that is nothing.
        choices: The texts that are allowed; empty if any is.
        keys: The keys of a table, or of each table of a list of tables.
    """

    name: str
    kind: str
    says: str
    needed: bool = False
    default: str = ""
    choices: tuple[str, ...] = ()
    keys: tuple["Key", ...] = ()


@dataclass(frozen=True)
class Schema:
    """The tables of a description.

    Attributes:
        tables: The keys of ``machine``, ``codes`` and whatever else may be there, and of ``parts``:
            those that every part has.
        joints: The keys that each joint adds to those of its part.
        outputs: The keys of each table that says what a machine shows.
    """

    tables: Mapping[str, tuple[Key, ...]]
    joints: Mapping[str, tuple[Key, ...]]
    outputs: Mapping[str, tuple[Key, ...]]


@cache
def schema() -> Schema:
    """The tables and keys of a description."""
    part, own = keys_of(Part), _own_of_joints()
    alphabet = Key("alphabet", "text or texts", ALPHABET, True, choices=tuple(ALPHABETS))
    return Schema(
        {
            "machine": _all(keys_of(Machine).values()),
            "cycle": _all(keys_of(Cycle).values()),
            "tolerances": ANY_DIMENSION,
            "parts": (
                Key("joint", "text", JOINT, True, choices=tuple(JOINTS)),
                *_all(key for name, key in part.items() if name not in own),
                Key("draw", "table", DRAW),
            ),
            "codes": (alphabet, *_one(PARITY), *_all(keys_of(Declared).values())),
        },
        {
            name: _all(
                (
                    *keys_of(joint).values(),
                    *(key for own_name, key in Part.keys(joint).items() if own_name in own),
                )
            )
            for name, joint in JOINTS.items()
        },
        {
            name: _all((*keys_of(kind).values(), *(DECLARED if kind.type_key else ())))
            for name, kind in OUTPUTS.items()
        },
    )


ALPHABET = (
    "A published code by its name; or a list of the characters of a code of your own, in the order "
    "of their codes: 2, 4, 8, 16 … of them."
)
JOINT = "How the part is moved: one of the joints below."
DRAW = "Hints for the picture; the picture finds places by itself without them."
ANY_DIMENSION = tuple(
    Key(kind, "number", f"{what[:1].upper()}{what[1:]}.") for kind, what in KINDS.items()
)
"""The kinds of dimension: which of them a part has depends on its joint."""


def _own_of_joints() -> frozenset[str]:
    """The fields of a part that not every joint lets it have."""
    every = [frozenset(Part.keys(joint)) for joint in JOINTS.values()]
    return frozenset().union(*every) - every[0].intersection(*every)


def _all(keys: Iterable[FieldKey]) -> tuple[Key, ...]:
    return tuple(key for field in keys for key in _one(field))


def _one(key: FieldKey) -> Iterator[Key]:
    """The keys of one field in a description."""
    needed = key.default is NEEDED
    match key.kind:
        case "together":
            yield from (Key(one.key, one.kind, one.says) for one in key.together)
        case "sensed":
            yield Key(key.key, "part", key.says, needed)
            yield from (replace(one, says=key.when) for one in _one(keys_of(Literal)["operated"]))
        case "dimensions":
            yield Key(key.key, "table", key.says, keys=ANY_DIMENSION)
        case kind:
            inner = _all(keys_of(key.entry).values()) if key.entry else ()
            default = "" if needed else _shown(key)
            kind = "text" if kind == "line" else kind
            yield Key(key.key, kind, key.says, needed, default, tuple(key.choices), inner)


def _shown(key: FieldKey) -> str:
    """A default as it would be written; nothing for one that means nothing."""
    if key.default is None:
        return ""
    if key.choices:
        return f'"{key.written(key.default)}"'
    return str(key.default) if key.default or key.kind == "number" else ""
