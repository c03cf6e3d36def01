"""Which tables and keys a description has, as its reader asks for them.

Nothing is listed here.  A joint declares its keys with its fields.  For the other tables the reader
of :mod:`mechlogic.describing.description` is run over sections that hold nothing and only take down
what it asks for: once as if every key were there, once as if none were, and once as if every value
were a list.  What it asks for although nothing is there, without a value to fall back on, must be
given.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import partial
from typing import Any

from mechlogic.describing import description
from mechlogic.describing.description import OUTPUTS
from mechlogic.helpers.toml_lines import Path as Keys
from mechlogic.model.codes import SEVEN_UNIT, Code
from mechlogic.model.dimensions import KINDS
from mechlogic.model.keys import ENDS, NEEDED, keys_of
from mechlogic.model.laws import JOINTS, Joint

__all__ = ["Key", "Schema", "schema"]

PART: Keys = ("parts", "part")
TABLE: Keys = ("table",)
"""The tables that are read: of a part, and of whatever else is looked at by itself."""

SOME_JOINT = "follow"
"""The joint of the part that is read to learn which keys every part has."""

SOME_NUMBER = Fraction(1, 8)
"""What every number is said to be: above 0, and so small that it is in nobody's way."""


@dataclass(frozen=True)
class Key:
    """One key of a table.

    Attributes:
        name: The key.
        kind: What its value is: ``"text"``, ``"number"``, ``"part"``, ``"code"``, ``"table"``;
            ``"texts"``, ``"numbers"``, ``"parts"`` and ``"tables"`` for lists of them.  Two kinds
            with " or " between them if either will do.
        needed: Whether it must be given.
        default: What holds if it is left out, as it would be written; empty if that is nothing.
        choices: The texts that are allowed; empty if any is.
        keys: The keys of each table of a list of tables.
    """

    name: str
    kind: str
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


def schema() -> Schema:
    """The tables and keys that the reader of descriptions asks for."""
    runs = _in_all_ways(_everything)
    found = {str(table[0]): keys for table, keys in runs.items() if len(table) == 1}
    tables = {name: keys for name, keys in found.items() if keys}
    joints = {name: tuple(_keys_behind(kind)) for name, kind in JOINTS.items()}
    own = {key.name for key in joints[SOME_JOINT]}
    tables["parts"] = tuple(
        replace(key, keys=ANY_DIMENSION) if key.name in ("tolerances", "adjusts") else key
        for key in runs[PART]
        if key.name not in own
    )
    outputs = {
        name: _in_all_ways(partial(_of_one, reader))[TABLE] for name, reader in OUTPUTS.items()
    }
    return Schema(tables, joints, outputs)


ANY_DIMENSION = tuple(Key(kind, "number") for kind in KINDS)
"""The kinds of dimension: which of them a part has depends on its joint."""


def _keys_behind(joint: type[Joint]) -> Iterator[Key]:
    """The keys that a joint adds to those of its part."""
    yield from _declared_by(joint)
    for name in (*(() if joint.given else ("gap_mm",)), *joint.more):
        yield Key(name, "number")


def _declared_by(kind: type[Any]) -> Iterator[Key]:
    """The keys that a class declares for its fields."""
    for key in keys_of(kind).values():
        needed = key.default is NEEDED
        if key.entry:
            yield Key(key.key, "tables", needed, keys=tuple(_declared_by(key.entry)))
        elif key.kind != "end":
            default = "" if needed else _shown(key.default)
            yield Key(key.key, "part" if key.when else key.kind, needed, default)
        if key.kind == "end" or key.when:
            yield Key("when", "text", default='"operated"', choices=tuple(ENDS))


# -- taking down -----------------------------------------------------------------------------------


class _Held(Mapping[str, Any]):
    """The values of a section that holds nothing, and claims to hold every key or few.

    Args:
        every: Whether any key is said to be there.
        value: What a key is said to hold.
        there: The keys that are said to be there in any case.
        names: The keys that are found by going through it.
    """

    def __init__(
        self,
        every: bool,
        value: Any = None,
        there: Iterable[str] = (),
        names: Iterable[str] = (),
    ) -> None:
        self.every, self.value = every, value
        self.there, self.names = frozenset(there), tuple(names)

    def __contains__(self, key: object) -> bool:
        return self.every or key in self.there

    def __getitem__(self, key: str) -> Any:
        if key not in self:
            raise KeyError(key)
        return self.value

    def __iter__(self) -> Iterator[str]:
        return iter(self.names)

    def __len__(self) -> int:
        return len(self.names)


EVERYTHING = _Held(True)


class _Recorder(description._Section):
    """A section that takes down what it is asked for, and answers with something of the kind."""

    reader: "_Recording"

    def __init__(
        self, reader: "_Recording", keys: Keys, values: Mapping[str, Any], lost: bool = False
    ) -> None:
        super().__init__(reader, keys, values, lost)
        self.taken: dict[str, Key] = {}
        reader.sections.setdefault(keys, self)

    def take(self, name: str, kind: str, default: object, **rest: Any) -> None:
        """Note that a key was asked for."""
        key = Key(name, kind, default is None, _shown(default), **rest)
        self.taken.setdefault(name, key)

    def report(self, key: str, what: str, mend: str, item: int | None = None) -> None:
        pass

    def close(self) -> None:
        pass

    def text(
        self, key: str, default: str | None = None, choices: Iterable[str] | None = None
    ) -> str:
        allowed = tuple(choices or ())
        self.take(key, "text", default, choices=allowed)
        return SOME_JOINT if SOME_JOINT in allowed else next(iter(allowed), "")

    def texts(
        self, key: str, default: tuple[str, ...] | None = None, choices: Iterable[str] | None = None
    ) -> list[str]:
        names_parts = choices is not None and tuple(choices) == self.reader.names
        self.take(key, "parts" if names_parts else "texts", default)
        return []

    def part(self, key: str) -> str:
        self.take(key, "part", None)
        return key

    def parts(self, key: str) -> tuple[str, ...]:
        self.take(key, "parts", None)
        return ()

    def number(self, key: str, default: Fraction | None = None) -> Fraction | None:
        self.take(key, "number", default)
        return SOME_NUMBER

    def numbers(self, key: str) -> list[Fraction]:
        self.take(key, "numbers", None)
        return []

    def code(self, alphabet: Code, key: str) -> int | None:
        self.take(key, "code", None)
        return 0

    def mapping(self, key: str) -> Mapping[str, object]:
        self.take(key, "table", {})
        return self.values

    def tables(self, key: str, default: tuple[()] | None = None) -> Iterator[description._Section]:
        self.take(key, "tables", default)
        yield _Recorder(self.reader, (*self.keys, key), self.values)

    def all_asked(self) -> "Asked":
        """What was taken down, with the keys of the tables within."""
        within = self.reader.sections
        if self.values is EVERYTHING:  # what is known by name but not read is read in a loop
            for name in sorted(self.asked - self.taken.keys()):
                self.take(name, "number", 0)
        return {
            name: replace(key, keys=tuple(within[*self.keys, name].all_asked().values()))
            if (*self.keys, name) in within
            else key
            for name, key in self.taken.items()
        }


class _Done(Exception):
    """The reader has asked for everything."""


class _Recording(description._Reader):
    """A reader whose sections take down what they are asked for."""

    def __init__(self, held: _Held) -> None:
        super().__init__("", "", held)
        self.held, self.names = held, (str(PART[-1]),)
        self.code, self.parity = SEVEN_UNIT, "none"
        self.sections: dict[Keys, _Recorder] = {}

    def section(self, *keys: str) -> _Recorder:
        if keys not in self.sections:
            values = _Held(True, names=self.names) if keys == ("parts",) else self.held
            _Recorder(self, keys, values)
        return self.sections[keys]

    def report(self, keys: Keys, what: str, mend: str, key: Keys = ()) -> None:
        pass

    def stop_if_wrong(self) -> None:
        raise _Done


Asked = dict[str, Key]


def _everything(held: _Held) -> dict[Keys, Asked]:
    """What is asked for in every table."""
    reader = _Recording(held)
    with suppress(_Done):
        reader.machine()
    return {keys: section.all_asked() for keys, section in reader.sections.items()}


def _of_one(reader: Callable[[Any], object], held: _Held) -> dict[Keys, Asked]:
    """What the reader of a single table asks for."""
    section = _Recorder(_Recording(held), TABLE, held)
    reader(section)
    return {TABLE: section.all_asked()}


def _in_all_ways(asked: Callable[[_Held], dict[Keys, Asked]]) -> dict[Keys, tuple[Key, ...]]:
    """The keys of each table: as if all were there, as if none were, and as if all were lists."""
    full = asked(EVERYTHING)
    there = {str(keys[0]) for keys in full}
    there |= {key.name for keys in full.values() for key in keys.values() if key.kind == "table"}
    bare, lists = asked(_Held(False, {}, there)), asked(_Held(True, []))
    return {
        table: _merged(keys, bare.get(table, {}), lists.get(table, {}))
        for table, keys in full.items()
    }


def _merged(full: Asked, bare: Asked, lists: Asked) -> tuple[Key, ...]:
    """What was taken down in each way, put together; the last one only adds kinds of value."""
    return tuple(
        _one(full.get(name) or bare[name], bare.get(name), lists.get(name))
        for name in dict.fromkeys((*full, *bare))
    )


def _one(key: Key, bare: Key | None, as_list: Key | None) -> Key:
    """One key.  What it falls back on counts only if it is asked for although it is not there."""
    inner = [{one.name: one for one in way.keys} if way else {} for way in (key, bare, as_list)]
    kinds = dict.fromkeys(way.kind for way in (key, as_list) if way)
    return replace(
        key,
        kind=" or ".join(kinds),
        needed=bool(bare and bare.needed),
        default=bare.default if bare else "",
        keys=_merged(*inner),
    )


def _shown(default: object) -> str:
    """A default as it would be written; nothing for one that means nothing."""
    if default is None or (not isinstance(default, Fraction) and not default):
        return ""
    return f'"{default}"' if isinstance(default, str) else str(default)
