"""Dataclasses as plain JSON, and back: one declaration is the writer, the reader and its checks.

:func:`plain` gives what a dataclass holds as texts, numbers, lists and objects.  :func:`load` reads
such a text back as a class, from the types that its fields declare (text, whole number, number, yes
or no, day, one of several words, another dataclass, a tuple of any of these, or one of these and
None), and refuses a wrong file with *every* place in it: line, place, what is wrong, what to do.
"""

import json
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import MISSING, fields, is_dataclass
from datetime import date
from difflib import get_close_matches
from functools import cache
from types import NoneType, UnionType
from typing import Any, Literal, TypeVar, get_args, get_origin, get_type_hints

from mechlogic.helpers import json_lines
from mechlogic.helpers.reading import FileRefused
from mechlogic.helpers.refusal import Problem, Refusal

__all__ = ["decode", "dumps", "load", "plain"]

MOST_PROBLEMS = 100
"""So many are told; the reading stops there."""

MOST_CHARACTERS = 200
"""The longest "what is wrong"."""

T = TypeVar("T")
Special = Mapping[Any, Callable[[Any], Any]]
"""Readers of one's own: for a class, or for ``(class, "field")``; each may raise a ``Refusal``."""


# -- writing ---------------------------------------------------------------------------------------


def plain(thing: Any) -> Any:
    """A dataclass, or anything in one, as JSON has it; fields with their usual value left out."""
    if is_dataclass(thing):
        kept = ((each, getattr(thing, each.name)) for each in fields(thing) if each.init)
        return {each.name: plain(value) for each, value in kept if value != each.default}
    if isinstance(thing, tuple | list):
        return [plain(one) for one in thing]
    return thing.isoformat() if isinstance(thing, date) else thing


def dumps(top: Mapping[str, Any]) -> str:
    """An object as JSON text that a person can read: a line for each item of each list."""
    return "{\n" + ",\n".join(f"  {_json(k)}: {_block(v)}" for k, v in top.items()) + "\n}\n"


def _block(value: Any) -> str:
    value = plain(value)
    if isinstance(value, list) and value:
        return "[\n" + ",\n".join(f"    {_json(one)}" for one in value) + "\n  ]"
    return _json(value)


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)


# -- reading ---------------------------------------------------------------------------------------


def decode(text: str, source: str) -> tuple[Any, bool]:
    """What a JSON text holds, and whether a key stands twice in one object.

    Raises:
        FileRefused: If it is not valid JSON.
    """
    twice = False

    def pairs(found: list[tuple[str, Any]]) -> dict[str, Any]:
        nonlocal twice
        made = dict(found)
        twice |= len(found) != len(made)
        return made

    try:
        text = text.removeprefix("\ufeff")
        return json.loads(text, object_pairs_hook=pairs, parse_constant=_no_number), twice
    except json.JSONDecodeError as error:
        what = f"this is not valid JSON: {error.msg} (character {error.colno} of the line)"
        raise FileRefused.of(source, error.lineno, what, _COMPARE) from None
    except RecursionError:
        what = "brackets within brackets without end"
        raise FileRefused.of(source, 0, what, _COMPARE) from None
    except ValueError as error:
        raise FileRefused.of(source, 0, str(error), _COMPARE) from None


def _no_number(name: str) -> float:
    raise ValueError(f"{name} is not a number that a file can hold")


_COMPARE = "Compare it with a file that can be read, or take an older copy"


def load(
    text: str,
    source: str,
    kind: type[T],
    form: str,
    special: Special | None = None,
    whole: bool = False,
) -> T:
    """What a JSON text holds, as a class.

    Args:
        text: The text; its first key is ``format``.
        source: The file's name, for messages.
        kind: A dataclass.
        form: What ``format`` has to say: what the file is, and last in which version.
        special: Readers of one's own for some classes or fields.
        whole: Whether every field of the class must be there, also those that have a default.

    Raises:
        FileRefused: If it cannot be, with every problem there is; nothing is half read.
    """
    data, twice = decode(text, source)
    reader = _Reader(special or {})
    made: Any = None
    try:
        reader.check_format(data, form)
        if twice:
            for path in json_lines.lines_of(text)[1]:
                reader.report(path, "this stands here twice", "Keep one of them")
        if not reader.found:
            rest = {key: value for key, value in data.items() if key != "format"}
            made = reader.object(kind, rest, (), whole)
    except _Enough:
        pass
    if reader.found:
        raise FileRefused(_placed(reader.found, text, source))
    assert isinstance(made, kind)
    return made


_Path = json_lines.Path


def _placed(found: list[tuple[_Path, str, str]], text: str, source: str) -> Iterable[Problem]:
    lines, _ = json_lines.lines_of(text)
    for path, what, mend in found:
        at = path
        while at not in lines:
            at = at[:-1]
        place = json_lines.shown_path(path)
        place = place if len(place) <= 80 else f"{place[:79]}…"
        yield Problem(source, lines[at], place, what, mend.removesuffix("."))


class _Enough(Exception):
    """So much is wrong that nothing more is looked at."""


@cache
def _declared(kind: type) -> Mapping[str, Any]:
    """The fields of a dataclass and their types."""
    hints = get_type_hints(kind)
    return {each.name: hints[each.name] for each in fields(kind) if each.init}


class _Reader:
    """One reading of one file; collects problems as it goes."""

    def __init__(self, special: Special) -> None:
        self.special = special
        self.found: list[tuple[_Path, str, str]] = []

    def report(self, path: _Path, what: str, mend: str) -> None:
        short = what if len(what) <= MOST_CHARACTERS else f"{what[: MOST_CHARACTERS - 1]}…"
        self.found.append((path, short, mend))
        if len(self.found) == MOST_PROBLEMS:
            raise _Enough

    def check_format(self, data: Any, form: str) -> None:
        said = data.get("format") if isinstance(data, dict) else None
        if said == form:
            return
        kind, version = form.rsplit(" ", 1)
        what = kind.removeprefix("mechlogic ")
        _, _, newer = said.rpartition(" ") if isinstance(said, str) else ("", "", "")
        if newer.isdecimal() and newer.isascii() and len(newer) < 10 and said == f"{kind} {newer}":
            what = f"this is a {what} in version {newer}, newer than version {version}"
            mend = "Open it with the newer mechlogic that wrote it, or bring this one up to date"
        else:
            what = f"this is not a {what}"
            mend = f'Choose another file; a {kind.partition(" ")[2]} begins with "format": "{form}"'
        self.report(("format",), what, mend)

    def value(self, kind: Any, value: Any, path: _Path, where: Any = None) -> Any:
        """A value of a declared type, or None and at least one problem more."""
        try:
            for special in (where, kind):
                if special in self.special:
                    return self.special[special](value)
            origin, inner = get_origin(kind), get_args(kind)
            if origin is tuple:
                return self._list(inner[0], value, path)
            if origin is UnionType:
                (real,) = (one for one in inner if one is not NoneType)
                return None if value is None else self.value(real, value, path)
            if is_dataclass(kind):
                return self.object(kind, value, path)  # type: ignore[arg-type]
            return _simple(kind if origin is not Literal else str, value)
        except Refusal as refusal:
            self.report(path, refusal.what, refusal.mend)
            return None

    def _list(self, kind: Any, value: Any, path: _Path) -> tuple[Any, ...]:
        if not isinstance(value, list):
            raise Refusal(f"{_called(value)} where a list is wanted", "Write it in [ ]")
        return tuple(self.value(kind, one, (*path, at)) for at, one in enumerate(value))

    def object(self, kind: type, value: Any, path: _Path, whole: bool = False) -> Any:
        """A dataclass, or None and at least one problem more.

        If it must be *whole*, fields that have a default must be there, too.
        """
        if not isinstance(value, dict):
            raise Refusal(f"{_called(value)} where an object is wanted", "Write it in { }")
        before, declared = len(self.found), _declared(kind)
        for each in fields(kind):
            has_default = each.default is not MISSING or each.default_factory is not MISSING
            if each.init and each.name not in value and (whole or not has_default):
                self.report((*path, each.name), "this is missing", "Add it")
        made = {}
        for name, one in value.items():
            if name not in declared:
                near = get_close_matches(name[:100], declared, n=1)
                mend = f"Did you mean {near[0]}?" if near else f"Known here: {', '.join(declared)}"
                self.report((*path, name), "nothing is called so here", mend)
            else:
                made[name] = self.value(declared[name], one, (*path, name), (kind, name))
        if len(self.found) > before:
            return None
        try:
            return kind(**made)
        except ValueError as error:
            name, colon, what = str(error).partition(": ")
            if not colon or name not in declared:
                path, what = path, str(error)
            else:
                path = (*path, name)
            self.report(path, what, "Mend it in a copy of the file")
            return None


def _simple(kind: Any, value: Any) -> Any:
    """A text, number, yes or no, or day."""
    if kind is date:
        return _day(value)
    if kind is float and isinstance(value, int | float) and not isinstance(value, bool):
        if abs(value) > 1e15:
            raise Refusal("the number is too large", "Write a smaller one")
        return value
    if type(value) is not kind:
        wanted, mend = _WANTED[kind]
        raise Refusal(f"{_called(value)} where {wanted} is wanted", mend)
    return value


_WANTED = {
    str: ("a text", 'Write it in " "'),
    int: ("a whole number", "Write 0, 1, 2 and so on"),
    float: ("a number", "Write 12 or 0.5"),
    bool: ("true or false", "Write true or false"),
}


def _day(value: Any) -> date:
    said = _simple(str, value)
    try:
        if re.fullmatch("[0-9]{4}-[0-9]{2}-[0-9]{2}", said):
            return date.fromisoformat(said)
    except ValueError:
        pass
    raise Refusal(f"{said[:40]!a} is not a day", "Write year, month and day: 2031-02-28")


def _called(value: Any) -> str:
    names = {dict: "an object", list: "a list", str: "a text", bool: "true or false"}
    return names.get(type(value), "nothing" if value is None else "a number")
