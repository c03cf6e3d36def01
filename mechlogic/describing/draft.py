"""A description while it is written: as fields of a form and as text by turns.

The text is the truth.  A form shows its tables and the fields that each may have, and writes one
field at a time into it; whatever else stands there, comments and order too, stays as it is.
Nothing is refused on the way: what is wrong is told by the reader, and :meth:`Draft.wrong` says at
which field.

Texts between the fields of a form and a description are turned by :func:`as_toml`: lengths may be
given in inches there, and numbers with a comma.
"""

import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from importlib.resources import files
from typing import Any

import tomlkit

from mechlogic.describing.description import (
    LARGEST_NUMBER,
    DescriptionError,
    Problem,
    dotted,
    load_toml,
    parse,
    sketch,
)
from mechlogic.describing.schema import Key, schema
from mechlogic.describing.writing import claims, inline
from mechlogic.helpers.toml_lines import lines_of
from mechlogic.model.machine import Machine, as_it_prints

__all__ = ["ASSEMBLIES", "BLANK", "Draft", "DraftError", "Field", "as_toml"]

Where = tuple[str | int, ...]
"""The keys that lead to a table, an entry of a list by its number from 0."""

MM_PER_INCH = Fraction(254, 10)
"""The international inch, by definition (ISO 31-1, 1992; from memory)."""

HERE = files("mechlogic.describing")

BLANK = HERE.joinpath("blank.toml").read_text("utf-8")
"""What a form begins with."""

ASSEMBLIES: Mapping[str, str] = {
    block.partition("\n")[0].strip(): block.partition("\n")[2].strip() + "\n"
    for block in HERE.joinpath("assemblies.toml").read_text("utf-8").split("\n#: ")[1:]
}
"""Assemblies to begin with, as text of a description, by what they are."""


class DraftError(ValueError):
    """A text that is no TOML: there are no fields to show."""


@dataclass(frozen=True)
class Field:
    """One field of a form.

    Attributes:
        key: What may be written there.
        said: What is written there, as the form shows it; empty if nothing is.
        wrong: What is wrong with it, and how to correct it; empty if nothing is.
    """

    key: Key
    said: str
    wrong: str = ""


class Draft:
    """A description while it is written.

    Args:
        text: What there is of it.

    Raises:
        DraftError: If it is no TOML at all.
    """

    def __init__(self, text: str = BLANK) -> None:
        self.text = text
        try:
            # a number stays as it is written
            self._data: Mapping[str, Any] = load_toml(text, "the text", number=str)
        except DescriptionError as error:
            raise DraftError(str(error)) from None

    # -- looking -----------------------------------------------------------------------------------

    @property
    def parts(self) -> tuple[str, ...]:
        """The names of the parts."""
        return tuple(self._table(("parts",)))

    @property
    def tables(self) -> tuple[Where, ...]:
        """The tables that are there, and those within their parts, in order."""
        tops = [(name,) for name in self._data if name != "parts"]
        return tuple(
            where
            for top in (*tops, *(("parts", name) for name in self.parts))
            for where in (top, *self._within(top))
        )

    def _within(self, where: Where) -> Iterator[Where]:
        for key in self._keys(where):
            if key.kind == "tables":
                entries = self._table(where).get(key.name, ())
                yield from ((*where, key.name, i) for i, _ in enumerate(entries))
            elif key.keys and key.name in self._table(where):
                yield (*where, key.name)

    def _table(self, where: Where) -> Any:
        found: Any = self._data
        for key in where:
            try:
                found = found[key]
            except (KeyError, IndexError, TypeError):
                return {}
        return found if isinstance(found, Mapping) else {}

    def _keys(self, where: Where) -> tuple[Key, ...]:
        """The keys that a table may have; an entry or a table within one has those of its list."""
        known = schema()
        match where:
            case ("parts", _):
                joint = str(self._table(where).get("joint", ""))
                return (*known.tables["parts"], *known.joints.get(joint, ()))
            case ("efforts_min",):
                return tuple(Key(name, "number", "Minutes.") for name in self._table(where))
        top = _top(where)
        if where != top:
            inner = where[len(top)]
            return next((key.keys for key in self._keys(top) if key.name == inner), ())
        name = str(where[0])
        return known.tables.get(name) or known.outputs.get(name, ())

    def fields(self, where: Where, problems: Sequence[Problem] = ()) -> tuple[Field, ...]:
        """The fields of a table, those that must be given first.

        Args:
            where: The table.
            problems: What the reader has found; see :meth:`wrong`.
        """
        table = self._table(where)
        keys = [key for key in self._keys(where) if key.kind != "tables" and not key.keys]
        return tuple(
            Field(key, _said(key, table.get(key.name)), _told(problems, where, key.name))
            for key in sorted(keys, key=lambda key: not key.needed)
            if key.name != "draw"
        )

    def lists(self, where: Where) -> tuple[Key, ...]:
        """The lists of tables that a table may have, and the tables within it."""
        return tuple(key for key in self._keys(where) if key.kind == "tables" or key.keys)

    @property
    def machine(self) -> Machine | None:
        """The machine as far as it is described rightly."""
        return sketch(self.text)

    def wrong(self) -> tuple[Problem, ...]:
        """What the reader finds wrong."""
        return self._problems

    @cached_property
    def _problems(self) -> tuple[Problem, ...]:
        try:
            parse(self.text, "your description")
        except DescriptionError as error:
            return error.problems
        return ()

    # -- writing -----------------------------------------------------------------------------------

    def written(self, where: Where, name: str, said: str) -> "Draft":
        """The draft with one field as the form says it; left out if it says nothing."""
        key = next(key for key in self._keys(where) if key.name == name)
        there = name in self._table(where)
        if not said.strip():
            return self._changed(where, lambda table: table.pop(name)) if there else self
        written = as_toml(key, said)
        if not there and where == _top(where):
            return self._with_line(where, f"{name} = {written}")
        return self._changed(where, lambda table: table.update({name: tomlkit.value(written)}))

    def _changed(self, where: Where, change: Callable[[Any], object]) -> "Draft":
        """The draft with something changed in one table; whatever else is in it stays."""
        first, behind = self._block(_top(where))
        lines = self.text.split("\n")
        document = tomlkit.parse("\n".join(lines[first:behind]))
        table: Any = document
        for step in where:
            table = table[step]
        change(table)
        changed = tomlkit.dumps(document).split("\n")
        return Draft("\n".join([*lines[:first], *changed, *lines[behind:]]))

    def _with_line(self, where: Where, line: str) -> "Draft":
        """The draft with one line more in a table: behind its last one, before what is blank."""
        lines = self.text.split("\n")
        first, behind = self._block(where)
        last = max(i for i in range(first, behind) if not _is_between(lines[i]))
        return Draft("\n".join([*lines[: last + 1], line, *lines[last + 1 :]]))

    def with_entry(self, where: Where, name: str) -> "Draft":
        """The draft with one more entry in a list of tables, or with a table within a table."""
        if name not in self._table(where):
            key = next(key for key in self.lists(where) if key.name == name)
            return self._with_line(where, f"{name} = {'[{}]' if key.kind == 'tables' else '{}'}")
        return self._changed(where, lambda table: table[name].append(tomlkit.inline_table()))

    def without(self, where: Where) -> "Draft":
        """The draft without a table, or without an entry of a list."""
        if where == _top(where):
            first, behind = self._block(where)
            lines = self.text.split("\n")
            return Draft("\n".join([*lines[:first], *lines[behind:]]))
        return self._changed(where[:-1], lambda table: table.pop(where[-1]))

    def with_table(self, name: str) -> "Draft":
        """The draft with one more table, which has nothing in it."""
        return Draft(f"{self.text.rstrip()}\n\n[{name}]\n")

    def claiming(self) -> "Draft":
        """The draft with claims that each code does what the parts make it do now."""
        machine = self.machine
        if machine is None or set(machine.mechanism.parts) != set(self.parts):
            return self  # a part that is not right yet would be claimed to do nothing
        draft = self
        for name, runs in claims(as_it_prints(machine), machine.code).items():
            if name in draft._table(("codes",)):
                draft = draft.without(("codes", name))
            if runs:
                draft = draft._with_line(("codes",), f"{name} = {inline(runs, name)}")
        return draft

    def with_part(self, name: str, joint: str) -> "Draft":
        """The draft with one more part, behind the others."""
        return self._with_block(f'[parts.{self._free(name)}]\njoint = "{joint}"\n')

    def with_assembly(self, what: str, bars: Sequence[str] = ()) -> "Draft":
        """The draft with the parts of an assembly.

        Args:
            what: A key of :data:`ASSEMBLIES`.
            bars: Which of the code bars take the place of its own, the first first.  A bar that is
                there already is not added again; a new one has the bit that its name ends with.
        """
        draft, text = self, ASSEMBLIES[what]
        own = Draft(text)
        bits = [name for name in own.parts if own._table(("parts", name))["joint"] == "bit"]
        new = {**dict(zip(bits, (*bars, *bits[len(bars) :]), strict=True))}
        new |= {name: self._free(name) for name in own.parts if name not in bits}
        for name in own.parts:
            first, behind = own._block(("parts", name))
            block = "\n".join(own.text.split("\n")[first:behind])
            for one, other in new.items():
                block = re.sub(rf"(?<![\w ]){one}(?=[\"\]])", f"\0{other}", block)
            number = re.search(r"\d+$", new[name])
            if name in bits and number:
                block = re.sub(r"(?m)^(label = .*?|bit = )\d+", rf"\g<1>{number[0]}", block)
            if new[name] not in self.parts:
                draft = draft._with_block(block.replace("\0", ""))
        return draft

    def copied(self, name: str, times: int = 1) -> "Draft":
        """The draft with copies of a part, every number in name, label and bit counted on."""
        first, behind = self._block(("parts", name))
        text = "\n".join(self.text.split("\n")[first:behind]).strip("\n") + "\n"
        draft = self
        for _ in range(times):
            taken = {*draft.parts}
            text = _counted_on(text)
            while set(Draft(text).parts) & taken:
                text = _counted_on(text)
            draft = draft._with_block(text)
        return draft

    def renamed(self, old: str, new: str) -> "Draft":
        """The draft with another name for a part, also wherever it is named."""
        quoted = rf"(?<=[\"']){re.escape(old)}(?=[\"'])"
        head = rf"(?m)^(\[parts\.){re.escape(old)}(?=[\].])"
        return Draft(re.sub(head, rf"\g<1>{new}", re.sub(quoted, new, self.text)))

    def moved(self, name: str, by: int) -> "Draft":
        """The draft with a part so many places further down, or up if less than 0."""
        rest = self.without(("parts", name))
        to = self.parts.index(name) + by
        first, behind = self._block(("parts", name))
        block = self.text.split("\n")[first:behind]
        if not 0 <= to <= len(rest.parts):
            return self
        last = to == len(rest.parts)
        place = rest._block(("parts", rest.parts[to - last]))[last]
        lines = rest.text.split("\n")
        return Draft("\n".join([*lines[:place], *block, *lines[place:]]))

    def _with_block(self, block: str) -> "Draft":
        """The draft with the text of a part behind the others, or before what prints."""
        lines = self.text.split("\n")
        if self.parts:
            place = self._block(("parts", self.parts[-1]))[1]
        else:
            place = self._block(("efforts_min",))[1] if "efforts_min" in self._data else len(lines)
        return Draft("\n".join([*lines[:place], *block.split("\n"), *lines[place:]]))

    def _free(self, name: str) -> str:
        """A name that no part has."""
        number, stem = 2, name
        while name in self.parts:
            name, number = f"{stem}_{number}", number + 1
        return name

    def _block(self, where: Where) -> tuple[int, int]:
        """The lines of a table from 0, with the remarks right above it, and that behind them."""
        lines = self.text.split("\n")
        heads = sorted(
            number - 1
            for path, number in lines_of(self.text).items()
            if all(isinstance(key, str) for key in path)
            and lines[number - 1].lstrip().startswith("[")
        )
        starts = []
        for head in heads:
            while head and lines[head - 1].startswith("#"):
                head -= 1
            starts.append(head)
        own = lines_of(self.text)[where] - 1
        first = max(start for start in starts if start <= own)
        return first, min((start for start in starts if start > own), default=len(lines))


def _top(where: Where) -> Where:
    """The table of a text of its own in which a table or an entry stands."""
    return where[:2] if where[0] == "parts" else where[:1]


# -- fields and text -------------------------------------------------------------------------------


def as_toml(key: Key, said: str) -> str:
    """What a form says of a key, as TOML: what can be no number stays a text, to be told of.

    Args:
        key: The key.
        said: What stands in the field.  Items of a list are divided by commas; texts stand on a
            line each; a number may have a comma, and one of mm may be in inches: ``0.5 in``.
    """
    match key.kind:
        case "number":
            return _number(key, said)
        case "numbers":
            return _list(_number(key, one) for one in re.split(r"[;,]?\s+|;", said.strip()))
        case "texts":
            return _list(_text(line) for line in said.split("\n") if line)
        case "parts":
            return _list(_text(one.strip()) for one in said.split(",") if one.strip())
        case "text or texts" if said.strip() not in key.choices:
            lines = said.split("\n") if "\n" in said else [*said]
            return _list(_text(line) for line in lines)
    return _text(said if key.kind == "text" else said.strip())


def _list(items: Iterator[str]) -> str:
    return f"[{', '.join(items)}]"


def _text(said: str) -> str:
    return tomlkit.string(said, literal='"' in said and "'" not in said).as_string()


def _number(key: Key, said: str) -> str:
    number = re.fullmatch(
        r"\s*([-+]?[0-9]{1,30})(?:[.,]([0-9]{1,30}))?\s*(mm|in|inch|\"|″|°)?\s*",
        said,
        re.IGNORECASE,
    )
    if not number:
        return _text(said.strip())
    figures = f"{number[1]}.{number[2]}" if number[2] else number[1]
    if (number[3] or "").lower() in ("in", "inch", '"', "″") and key.name.endswith("_mm"):
        return f"{float(Fraction(figures) * MM_PER_INCH):.6g}"
    return figures


def _said(key: Key, value: Any) -> str:
    """A value as a form shows it."""
    if value is None:
        return ""
    if isinstance(value, list):
        texts = [_said(key, one) for one in value]
        if key.kind == "text or texts" and all(len(text) == 1 for text in texts):
            return "".join(texts)
        return ("\n" if "texts" in key.kind else ", ").join(texts)
    if isinstance(value, int) and abs(value) > LARGEST_NUMBER:
        return "an enormous number"
    return str(value)


def _told(problems: Sequence[Problem], where: Where, name: str) -> str:
    table = dotted(where)
    found = [
        problem
        for problem in problems
        if problem.table == table and problem.key.split("[")[0] == name
    ]
    return " ".join(f"{problem.what}. {problem.mend}" for problem in found)


def _is_between(line: str) -> bool:
    return not line.strip() or line.startswith("#")


def _counted_on(text: str) -> str:
    """The text of a part with one more in its name, its label and its bit."""
    return re.sub(
        r"(?m)^(\[parts\.\w*?|label = .*?|bit = )(\d+)(?=\D*$)",
        lambda found: f"{found[1]}{int(found[2]) + 1}",
        text,
    )
