"""What the live picture needs to know, worked out beforehand so that it need not ask.

A machine with given faults is a table in each *world* (see :mod:`mechlogic.behaviour`): for every
setting of the code bars, where each part stands, what is printed, and what a sentence about each
part says.  :func:`frames` writes those tables into one JSON-able dictionary.  The front end only
looks rows up in it, so a click is answered by the browser alone, even while Python is busy.

The shape of the dictionary::

    title, parts, labels, groups   the machine's title; each part's name, label and group
    rest                           each part's place number at rest
    bits                           for b1, b2, …: [label, part]; part is null where no bar is set
    settings, names                for each setting of the bars, a description and a short name
    send                           for each character that can be sent, the setting it makes
    nothing, unreadable            the two words that stand for prints that are no glyph
    texts                          every text that a column refers to
    columns                        each a base64 string of 16-bit little-endian numbers, one for
                                   each setting of the bars; equal columns are kept once
    healthy                        the world of a good machine
    hand                           the worlds of turning by hand, one for each chance
    speed                          the worlds at speed, memory × chances + chance
    chances                        how many chances there are
    start                          the memory of a machine that has stood idle
    remembers                      for each memory, the number of a text that says it (or null)
    faulty, faults                 the parts at fault; a text for each fault
    half_way                       the parts to be drawn half-way between their ends

A world gives numbers of columns::

    places   for each part, the column of its place numbers
    says     for each part, the column of the text that explains its place
    cell     the number of the type that faces the hammer; 65535 where none does
    printed  text: what is printed
    tells    text: a sentence about what is printed
    may      text: what else chance might print; an empty text where nothing else
    next     the memory after a cycle with that setting

A mechanism of 30 parts and 8 bits takes about 60 kB without faults.
"""

from base64 import b64encode
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from math import prod
from struct import pack
from typing import Any

from mechlogic import words
from mechlogic.behaviour import Behaviour, World
from mechlogic.codes import CodeError
from mechlogic.faults import (
    HALF_WAY,
    Fault,
    FaultError,
    hypothesis,
)
from mechlogic.logbook import NOTHING, UNREADABLE
from mechlogic.machine import Machine, spread
from mechlogic.outputs import OUTPUT
from mechlogic.table import Columns, Table

NO_CELL = 0xFFFF
"""Stands in a ``cell`` column where no character faces the hammer."""

MOST_WORLDS = 256
"""The most worlds that are worked out; more would take the browser more than a moment."""

Frames = dict[str, Any]
Numbers = tuple[int, ...]
"""A number for each setting of the code bars."""


def frames(machine: Machine, faults: Iterable[Fault] = ()) -> Frames:
    """Everything the front end looks up, as described at the head of this module.

    Args:
        machine: The machine.
        faults: What is wrong with it.

    Raises:
        FaultError: If the machine cannot have these faults, or if together they leave so much
            open that there would be more than :data:`MOST_WORLDS` worlds.
    """
    checked = hypothesis(machine.mechanism, faults)
    behaviour = Behaviour(machine, checked)
    _refuse_too_many(behaviour)
    return _Album(behaviour).frames()


def _refuse_too_many(behaviour: Behaviour) -> None:
    laws = behaviour.mechanism.laws
    memories = prod(len(laws[name].places) for name in behaviour.remembering)
    n_worlds = memories * prod(die.sides for die in behaviour.dice)  # counted, not listed
    if n_worlds > MOST_WORLDS:
        raise FaultError(
            f"these faults together leave {n_worlds} cases open, and at most {MOST_WORLDS} can be "
            "drawn. Take one of the faults away."
        )


@dataclass
class _Pool:
    """Things that are kept once each, and known by their number."""

    items: dict[Hashable, int] = field(default_factory=dict)

    def number(self, item: Hashable) -> int:
        return self.items.setdefault(item, len(self.items))


@dataclass
class _Album:
    """The frames of one behaviour, while they are put together."""

    behaviour: Behaviour
    texts: _Pool = field(default_factory=_Pool)
    columns: _Pool = field(default_factory=_Pool)
    known: dict[Hashable, int] = field(default_factory=dict)
    """Columns and sentences that need not be worked out twice."""
    numbers: dict[Columns, Numbers] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self.machine = self.behaviour.machine
        self.mechanism = self.machine.mechanism
        self.settings = self.machine.all_codes
        faults = self.behaviour.faults
        self.faulty = tuple(dict.fromkeys(fault.part for fault in faults))
        self.half_way = tuple(fault.part for fault in faults if fault.mode == HALF_WAY.name)

    def frames(self) -> Frames:
        machine, behaviour = self.machine, self.behaviour
        healthy = self._world(machine.healthy, healthy=True)
        hand = speed = [healthy]
        if behaviour.faults:
            speed = self._worlds(at_speed=True)
            # Only a sluggish part knows speed from turning by hand.
            hand = self._worlds(at_speed=False) if behaviour.remembering else speed
        parts = list(self.mechanism)
        return {
            "title": machine.title,
            "parts": [part.name for part in parts],
            "labels": [part.label or part.name for part in parts],
            "groups": [part.group for part in parts],
            "rest": [self.mechanism.rest[part.name] for part in parts],
            "bits": self._bits(),
            "settings": [described for _, described in self._described],
            "names": [name for name, _ in self._described],
            "send": self._send(),
            "nothing": NOTHING,
            "unreadable": UNREADABLE,
            "healthy": healthy,
            "hand": hand,
            "speed": speed,
            "chances": len(behaviour.chances),
            "start": self._memory_number(
                self.mechanism.rest[name] for name in behaviour.remembering
            ),
            "remembers": [self._remembers(memory) for memory in behaviour.memories],
            "faulty": list(self.faulty),
            "faults": [words.fault_sentence(machine, fault) for fault in behaviour.faults],
            "half_way": list(self.half_way),
            "texts": list(self.texts.items),
            "columns": [_encoded(column) for column in self.columns.items],
        }

    # -- worlds -----------------------------------------------------------------------------------

    def _worlds(self, at_speed: bool) -> list[Frames]:
        """One world for each memory and chance; by hand memory makes no difference."""
        behaviour = self.behaviour
        column = self.settings.every if at_speed else 0
        worlds = []
        for memory in behaviour.memories if at_speed else behaviour.memories[:1]:
            tables = [
                behaviour.table(self.settings, column, World(memory, chance), self.machine.healthy)
                for chance in behaviour.chances
            ]
            some = [self._world(table) for table in tables]
            may = self._may([self._printed(table) for table in tables])
            worlds += [world | {"may": may} for world in some]
        return worlds

    def _world(self, table: Table, healthy: bool = False) -> Frames:
        printed = self._printed(table)
        return {
            "places": [self._place_column(table.places[name]) for name in self.mechanism.parts],
            "says": [self._says_column(table, name, healthy) for name in self.mechanism.parts],
            "cell": self._cell_column(table),
            "printed": self._text_column(printed),
            "tells": self.columns.number(tuple(map(self._tells, self.settings.codes, printed))),
            "may": self._text_column([""] * len(printed)),
            "next": self.columns.number(tuple(self._next(table, healthy))),
        }

    def _printed(self, table: Table) -> tuple[str, ...]:
        return spread(self.machine.prints(table, self.settings), len(self.settings.codes))

    def _may(self, outcomes: Sequence[tuple[str, ...]]) -> int:
        """The column that names what chance might print, where it might print several things."""
        return self._text_column(
            f"As chance has it, this prints {words.listed(map(_quoted, sorted(glyphs)), 'or')}."
            if len(glyphs) > 1
            else ""
            for glyphs in map(set, zip(*outcomes, strict=True))
        )

    def _next(self, table: Table, healthy: bool) -> Iterable[int]:
        """The memory after each setting: what the sluggish parts' laws asked for."""
        if healthy or not self.behaviour.remembering:
            return (0 for _ in self.settings.codes)
        asked = [self._numbers(table.asked[name]) for name in self.behaviour.remembering]
        return (self._memory_number(places) for places in zip(*asked, strict=True))

    def _memory_number(self, places: Iterable[int]) -> int:
        """The position of a memory in :attr:`Behaviour.memories`."""
        number = 0
        for name, place in zip(self.behaviour.remembering, places, strict=True):
            number = number * len(self.mechanism.laws[name].places) + place
        return number

    def _tells(self, setting: int, printed: str) -> int:
        key = ("tells", setting, printed)
        if key not in self.known:
            said = words.printed_sentence(self.machine, setting, printed)
            self.known[key] = self.texts.number(said)
        return self.known[key]

    # -- columns ----------------------------------------------------------------------------------

    def _numbers(self, cuts: Columns) -> Numbers:
        """The number of the place in each row: how many cuts it has passed."""
        if not cuts:
            return (0,) * len(self.settings.codes)
        if cuts not in self.numbers:
            n_rows, every = len(self.settings.codes), self.settings.every
            passed = [map(int, f"{cut & every:0{n_rows}b}"[::-1]) for cut in cuts]
            self.numbers[cuts] = tuple(map(sum, zip(*passed, strict=True)))
        return self.numbers[cuts]

    def _place_column(self, cuts: Columns) -> int:
        return self.columns.number(self._numbers(cuts))

    def _text_column(self, texts: Iterable[str]) -> int:
        return self.columns.number(tuple(map(self.texts.number, texts)))

    def _cell_column(self, table: Table) -> int:
        output = self.machine.output
        key = ("cell", *(table.seen(OUTPUT, name) for name in output.selects))
        if key not in self.known:
            cells = output.cells(self.mechanism, table, self.settings.every)
            chosen = spread(cells, len(self.settings.codes), NO_CELL)
            self.known[key] = self.columns.number(chosen)
        return self.known[key]

    def _says_column(self, table: Table, name: str, healthy: bool) -> int:
        """The sentences about one part: they follow from its place and what it finds."""
        inputs = self.mechanism[name].joint.inputs
        seen = (table.places[name], *(table.seen(name, other) for other in inputs))
        own = not healthy and name in self.faulty
        key = ("says", name, seen, own)
        if key not in self.known:
            bar = self.mechanism.bars.get(name)
            if bar:
                seen = (*seen, (self.settings.bit(bar.bit),))
            rows = zip(*map(self._numbers, seen), strict=True)
            self.known[key] = self.columns.number(
                tuple(self._sentence(name, code, row, own) for code, row in enumerate(rows))
            )
        return self.known[key]

    def _sentence(self, name: str, code: int, row: Numbers, at_fault: bool) -> int:
        key = (name, row, at_fault)
        if key not in self.known:
            inputs = self.mechanism[name].joint.inputs
            places = dict(zip(inputs, row[1:], strict=False)) | {name: row[0]}
            said = words.sentence(self.machine, name, places, code)
            self.known[key] = self.texts.number(self._at_fault(name, said) if at_fault else said)
        return self.known[key]

    def _at_fault(self, name: str, said: str) -> str:
        """A sentence about a part, and what is wrong with it."""
        faults = [fault for fault in self.behaviour.faults if fault.part == name]
        if name in self.half_way:
            said = ""  # where its law asks it to stand is just where it does not
        return " ".join(
            filter(None, (said, *(words.fault_sentence(self.machine, f) for f in faults)))
        )

    # -- what does not depend on the world --------------------------------------------------------

    def _bits(self) -> list[list[str | None]]:
        bars = {bit.bit: name for name, bit in self.mechanism.bars.items()}
        return [
            [self.machine.label(bars[bit]) if bit in bars else f"bit {bit}", bars.get(bit)]
            for bit in range(1, self.machine.units + 1)
        ]

    @cached_property
    def _described(self) -> list[tuple[str, str]]:
        """For each setting of the bars, its short name and a description."""
        code, described = self.machine.code, []
        for setting in self.settings.codes:
            sent = setting % len(code)
            name = code.name(sent)
            wrong = setting != self.machine.as_set(sent) % len(self.settings.codes)
            parity = ", with the wrong parity bit" if wrong else ""
            said = f"The bars say {name} ({code.position(sent)}){parity}"
            described.append((name, said))
        return described

    def _send(self) -> dict[str, int]:
        code, found = self.machine.code, {}
        for sent in range(len(code)):
            try:
                character = code.character(sent)
            except CodeError:
                continue
            if character.isprintable():
                found[character] = self.machine.as_set(sent) % len(self.settings.codes)
        return found

    def _remembers(self, memory: tuple[int, ...]) -> int | None:
        if not memory:
            return None
        asked = (
            f"{words.the(self.machine.label(name))} to stand at "
            f"{words.displacement(self.machine, name, place)}"
            for name, place in zip(self.behaviour.remembering, memory, strict=True)
        )
        return self.texts.number(f"The character before asked {words.listed(asked)}.")


def _quoted(printed: str) -> str:
    """A glyph in quotation marks, so that a comma is not taken for one of ours."""
    return printed if printed in (NOTHING, UNREADABLE) else f"“{printed}”"


def _encoded(column: Any) -> str:
    return b64encode(pack(f"<{len(column)}H", *column)).decode("ascii")
