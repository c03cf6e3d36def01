"""What the live picture needs to know, worked out beforehand so that it need not ask.

A machine with given faults is a table in each *world* (see :mod:`mechlogic.model.behaviour`): for
every setting of the code bars, where each part stands, what is printed, and what a sentence about
each part says.  :func:`frames` writes those tables into one JSON-able dictionary.  The front end
only looks rows up in it, so a click is answered by the browser alone, even while Python is busy.

A good machine with a latch has a memory too, so the front end follows two memories, that of the
machine in the picture and that of a good one which was sent the same.

The shape of the dictionary::

    title, parts, labels, groups   the machine's title; each part's name, label and group
    rest                           each part's place number at rest
    bits                           for b1, b2, …: [label, part]; part is null where no bar is set;
                                   empty for a machine that is not set by bits
    settings, names                for each setting, a description and a short name
    buttons, keys                  what is sent by a button: [name, what it is, setting]; whether
                                   these are the machine's own keys
    say                            how one speaks of what is seen of the machine (see SAY)
    send                           for each character that can be typed, the setting it makes
    shifted                        for each that needs a latch thrown: [setting, good memory]
    cells                          for each good memory, for each cell of the output, a setting
                                   that chooses it, or null
    ways                           for each good memory, a sentence on how to get there
    nothing, unreadable            the two words that stand for prints that are no glyph
    texts                          every text that a column refers to
    columns                        each a base64 string of 16-bit little-endian numbers, one for
                                   each setting; equal columns are kept once
    healthy                        the worlds of a good machine, one for each of its memories
    good_start                     the memory of a good machine that has stood idle
    hand, speed                    the worlds of turning by hand, and at speed:
                                   memories × chances + chance
    chances                        how many chances there are
    start                          the memory of a machine that has stood idle
    faulty, faults                 the parts at fault; a text for each fault
    half_way                       the parts to be drawn half-way between their ends
    phases                         the phases of a cycle: for each, its name
    phase                          for each part, the phase in which it moves out, from 1
    aimed                          the phase at whose end the cell is chosen

A world gives numbers of columns::

    places     for each part, the column of its place numbers
    says       for each part, the column of the text that explains its place
    cell       the number of the cell that is chosen; 65535 where none is
    printed    text: what is printed
    tells      text: a sentence about what is printed
    instead    text: the same, as what a good machine does instead
    may        text: what else chance might print; an empty text where nothing else
    remembers  text: what is remembered, and how a latch now stands; empty where nothing is
    next       the memory after a cycle with that setting
    home       its place between two cycles; this column has a number for each part
    return     text: what happens as it goes home; this column has one number

A mechanism of 30 parts and 8 bits takes about 60 kB without faults.
"""

from base64 import b64encode
from collections.abc import Hashable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property, partial
from math import prod
from struct import pack
from typing import Any

from mechlogic.explaining import words
from mechlogic.explaining.cells import chosen_from, good_tables
from mechlogic.explaining.phases import STRIKE, home, phases
from mechlogic.helpers.kept import kept
from mechlogic.model.behaviour import Behaviour, World
from mechlogic.model.codes import CodeError, Setting, is_function
from mechlogic.model.faults import BY_CHANCE, SLUGGISH, Fault, FaultError, hypothesis
from mechlogic.model.logbook import NOTHING, UNREADABLE
from mechlogic.model.machine import Machine, spread
from mechlogic.model.outputs import OUTPUT
from mechlogic.model.table import Columns, Table, place_in_row

NO_CELL = 0xFFFF
"""Stands in a ``cell`` column where no character faces the hammer."""

MOST_WORLDS = 256
"""The most worlds that are worked out; more would take the browser more than a moment."""

MOST_ROWS = 1 << 16
"""The most settings of all worlds together: those of :data:`MOST_WORLDS` with eight bits."""

Frames = dict[str, Any]
Numbers = tuple[int, ...]
"""A number for each setting of the code bars."""

SAY = {
    "prints": {"cycle": "Print", "strip": "Paper", "seen": "printed", "wrong": "misprint"},
    "sends": {"cycle": "One cycle", "strip": "Line", "seen": "sent on", "wrong": "wrong"},
    "": {"cycle": "One cycle", "strip": "Done", "seen": "did", "wrong": "wrong"},
}
"""How one speaks of a machine that prints, that sends, and that does neither."""

STRIKES = {"prints": "Print", "sends": "Send", "": "Act"}
"""What such a machine does in the last phase but one."""

MOST_BUTTONS = 8
"""A machine that does something with more function codes than this gets no buttons for them."""


def frames(machine: Machine, faults: Iterable[Fault] = ()) -> Frames:
    """Everything the front end looks up, as described at the head of this module.

    Args:
        machine: The machine.
        faults: What is wrong with it.

    Raises:
        FaultError: If the machine cannot have these faults, or if together they leave so much
            open that there would be more than :data:`MOST_WORLDS` worlds, or more than
            :data:`MOST_ROWS` settings in all of them.
    """
    checked = hypothesis(machine.mechanism, faults)
    behaviour = Behaviour(machine, checked)
    _refuse_too_many(behaviour)
    return _Album(behaviour).frames()


def _refuse_too_many(behaviour: Behaviour) -> None:
    laws = behaviour.mechanism.laws
    memories = prod(len(laws[name].places) for name in behaviour.remembering)
    n_worlds = memories * prod(die.sides for die in behaviour.dice)  # counted, not listed
    most = min(MOST_WORLDS, MOST_ROWS >> behaviour.machine.units)
    if n_worlds > most:
        raise FaultError(
            f"these faults together leave {n_worlds} cases open, and at most {most} can be "
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
    cells: dict[Hashable, int] = field(default_factory=dict)
    """Columns of cells that need not be worked out twice."""

    def __post_init__(self) -> None:
        self.machine = self.behaviour.machine
        self.mechanism = self.machine.mechanism
        self.settings = self.machine.all_codes
        faults = self.behaviour.faults
        self.faulty = tuple(dict.fromkeys(fault.part for fault in faults))
        self.half_way = tuple(fault.part for fault in faults if fault.mode in BY_CHANCE)
        self.sluggish = {fault.part for fault in faults if fault.mode in SLUGGISH}
        self.good = Behaviour(self.machine, ())

    def frames(self) -> Frames:
        machine, behaviour = self.machine, self.behaviour
        healthy = self._good_worlds()
        hand = speed = healthy
        if behaviour.faults:
            speed = self._worlds(at_speed=True)
            # Only a sluggish part knows speed from turning by hand.
            hand = self._worlds(at_speed=False) if self.sluggish else speed
        parts, phase = list(self.mechanism), phases(machine)
        return {
            "title": machine.title,
            "parts": [part.name for part in parts],
            "labels": [part.label or part.name for part in parts],
            "groups": [part.group for part in parts],
            "rest": [self.mechanism.rest[part.name] for part in parts],
            "bits": self._bits(),
            "settings": [described for _, described in self._described],
            "names": [name for name, _ in self._described],
            "buttons": self._buttons,
            "keys": bool(self.mechanism.keys),
            "say": SAY[words.verb(machine.output)],
            "send": self._send(),
            "shifted": self._shifted(),
            "cells": list(map(self._settings_of_cells, self.good.memories)),
            "ways": list(map(self._way_to, self.good.memories)),
            "nothing": NOTHING,
            "unreadable": UNREADABLE,
            "healthy": healthy,
            "hand": hand,
            "speed": speed,
            "chances": len(behaviour.chances),
            "good_start": self._at_rest(self.good),
            "start": self._at_rest(behaviour),
            "faulty": list(self.faulty),
            "faults": [words.fault_sentence(machine, fault) for fault in behaviour.faults],
            "half_way": list(self.half_way),
            "phases": ["Set", "Settle", "Drive", STRIKES[words.verb(machine.output)], "Return"],
            "phase": [phase[part.name] for part in parts],
            "aimed": max((phase[name] for name in machine.output.selects), default=STRIKE),
            "texts": list(self.texts.items),
            "columns": [_encoded(column) for column in self.columns.items],
        }

    # -- worlds -----------------------------------------------------------------------------------

    @cached_property
    def _good(self) -> list[Table]:
        """The tables of a good machine, one for each of its memories."""
        return list(good_tables(self.machine).values())

    def _good_worlds(self) -> list[Frames]:
        worlds = []
        for memory, table in zip(self.good.memories, self._good, strict=True):
            world = self._world(self.good, table, World(memory), healthy=True)
            instead = (words.good_sentence(self.machine, seen) for seen in self._printed(table))
            worlds.append(world | {"instead": self._text_column(instead)})
        return worlds

    def _worlds(self, at_speed: bool) -> list[Frames]:
        """One world for each memory and chance."""
        behaviour = self.behaviour
        column = self.settings.every if at_speed else 0
        worlds = []
        for memory in behaviour.memories:
            some = [World(memory, chance) for chance in behaviour.chances]
            healthy = self.machine.healthy
            tables = [behaviour.table(self.settings, column, one, healthy) for one in some]
            both = list(zip(tables, some, strict=True))
            made = [self._world(behaviour, table, world, at_speed) for table, world in both]
            may = self._may([self._printed(table, behaviour, world) for table, world in both])
            worlds += [one | {"may": may} for one in made]
        return worlds

    def _world(
        self,
        behaviour: Behaviour,
        table: Table,
        world: World,
        at_speed: bool = True,
        healthy: bool = False,
    ) -> Frames:
        printed = self._printed(table, behaviour, world)
        return {
            "places": [
                self.columns.number(self._numbers(table.places[name]))
                for name in self.mechanism.parts
            ],
            "says": [self._says_column(table, name, healthy) for name in self.mechanism.parts],
            "cell": self._cell_column(table),
            "printed": self._text_column(printed),
            "tells": self.columns.number(tuple(map(self._tells, self.settings.codes, printed))),
            "may": self._text_column([""] * len(printed)),
            "remembers": self._remembers(behaviour, table, world.memory, at_speed),
            "next": self.columns.number(tuple(self._next(behaviour, table, world))),
            **self._home(behaviour, world, at_speed),
        }

    def _home(self, behaviour: Behaviour, world: World, at_speed: bool) -> Frames:
        """Where the parts stand between two cycles, and what is to be said of it."""
        stands, label = home(behaviour, world.memory, world.chance, at_speed), self.machine.label
        away = [name for name in stands if stands[name] != self.mechanism.rest[name]]
        said = [
            f"{words.the(label(name))} comes late and still stands at "
            f"{words.displacement(self.machine, name, stands[name])}"
            if name in self.sluggish
            else f"{words.the(label(name))} stays at {self._where(name, stands[name])}"
            for name in away
            if name in behaviour.remembering
        ]
        others = [words.the(label(name)) for name in away if name not in behaviour.remembering]
        if others:
            said.append(f"{words.listed(others)} {'stays' if len(others) == 1 else 'stay'} out")
        said.insert(0, "everything else goes home" if said else "everything goes home")
        text = words.capitalised("; ".join(said))
        return {
            "home": self.columns.number(tuple(stands.values())),
            "return": self._text_column([f"{text}."]),
        }

    def _printed(
        self, table: Table, behaviour: Behaviour | None = None, world: World | None = None
    ) -> tuple[str, ...]:
        """What is printed for each setting; as a good machine does, if no behaviour is given."""
        if behaviour is None or world is None:
            prints = self.machine.prints(table, self.settings)
        else:
            prints = behaviour.prints(table, self.settings, world)
        return spread(prints, len(self.settings.codes))

    def _may(self, outcomes: Sequence[tuple[str, ...]]) -> int:
        """The column that names what chance might print, where it might print several things."""
        return self._text_column(
            f"As chance has it, this prints {words.listed(map(_quoted, sorted(glyphs)), 'or')}."
            if len(glyphs) > 1
            else ""
            for glyphs in map(set, zip(*outcomes, strict=True))
        )

    def _next(self, behaviour: Behaviour, table: Table, world: World) -> Iterable[int]:
        """The memory after each setting."""
        if not behaviour.remembering:
            return (0 for _ in self.settings.codes)
        after = map(self._numbers, behaviour.remembered(table, world))
        return (self._memory_number(behaviour, places) for places in zip(*after, strict=True))

    def _memory_number(self, behaviour: Behaviour, places: Iterable[int]) -> int:
        """The position of a memory in :attr:`Behaviour.memories`."""
        number = 0
        for name, place in zip(behaviour.remembering, places, strict=True):
            number = number * len(self.mechanism.laws[name].places) + place
        return number

    def _at_rest(self, behaviour: Behaviour) -> int:
        rest = (self.mechanism.rest[name] for name in behaviour.remembering)
        return self._memory_number(behaviour, rest)

    @kept(None)
    def _tells(self, setting: int, printed: str) -> int:
        return self.texts.number(words.shown_sentence(self.machine, Setting(setting), printed))

    # -- columns ----------------------------------------------------------------------------------

    @kept(None)
    def _numbers(self, cuts: Columns) -> Numbers:
        """The number of the place in each row: how many cuts it has passed."""
        n_rows, every = len(self.settings.codes), self.settings.every
        passed = [map(int, f"{cut & every:0{n_rows}b}"[::-1]) for cut in cuts]
        return tuple(map(sum, zip(*passed, strict=True))) or (0,) * n_rows

    def _text_column(self, texts: Iterable[str]) -> int:
        return self.columns.number(tuple(map(self.texts.number, texts)))

    def _cell_column(self, table: Table) -> int:
        output = self.machine.output
        key = tuple(table.seen(OUTPUT, name) for name in output.selects)
        if key not in self.cells:
            cells = output.cells(self.mechanism, table, self.settings.every)
            chosen = spread(cells, len(self.settings.codes), NO_CELL)
            self.cells[key] = self.columns.number(chosen)
        return self.cells[key]

    def _says_column(self, table: Table, name: str, healthy: bool) -> int:
        """The sentences about one part: they follow from its place and what it finds."""
        inputs = self.mechanism[name].joint.inputs
        seen = (table.places[name], *(table.seen(name, other) for other in inputs))
        if bar := self.mechanism.bars.get(name):
            seen = (*seen, (self.settings.bit(bar.bit),))
        return self._says(name, seen, not healthy and name in self.faulty)

    @kept(None)
    def _says(self, name: str, seen: tuple[Columns, ...], at_fault: bool) -> int:
        rows = zip(*map(self._numbers, seen), strict=True)
        return self.columns.number(tuple(self._sentence(name, row, at_fault) for row in rows))

    @kept(None)
    def _sentence(self, name: str, row: Numbers, at_fault: bool) -> int:
        bar = self.mechanism.bars.get(name)
        setting = Setting(row[-1] << bar.bit - 1) if bar else None
        places = dict(zip(self.mechanism[name].joint.inputs, row[1:], strict=False))
        said = words.sentence(self.machine, name, places | {name: row[0]}, setting)
        return self.texts.number(self._at_fault(name, said) if at_fault else said)

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
        if not bars:
            return []
        return [
            [self.machine.label(bars[bit]) if bit in bars else f"bit {bit}", bars.get(bit)]
            for bit in range(1, self.machine.units + 1)
        ]

    @cached_property
    def _described(self) -> list[tuple[str, str]]:
        """For each setting, its short name and a description."""
        code, described = self.machine.code, []
        keys = {} if self.mechanism.bars else self.mechanism.keys
        pressed = {self._setting(key.code): self.machine.label(name) for name, key in keys.items()}
        for setting in self.settings.codes:
            sent = setting % len(code)
            name = code.name(sent)
            said = f"The bars say {name} ({code.position(sent)})"
            if self._setting(sent) != setting:
                said += ", with the wrong parity bit"
            if pressed:
                key = pressed.get(setting)
                said = words.capitalised(f"{key} is pressed") if key else f"No key sends {name}"
            described.append((name, said))
        return described

    def _setting(self, code: int) -> int:
        """The setting that a code makes."""
        return self.machine.as_set(code) % len(self.settings.codes)

    @cached_property
    def _buttons(self) -> list[tuple[str, str, int]]:
        """The keys of the machine, or the function codes with which it does something."""
        code = self.machine.code
        if keys := self.mechanism.keys:
            order = sorted(keys.items(), key=lambda item: item[1].code)
            return [
                (code.name(key.code), self.machine.label(name), self._setting(key.code))
                for name, key in order
            ]
        named = [(name, self._setting(sent)) for sent, name in enumerate(code.names) if name[1:]]
        found = [
            (name, f"send {name}", setting)
            for name, setting in named
            if name != "SP" and self._does_something(setting)
        ]
        return found if len(found) <= MOST_BUTTONS else []

    def _does_something(self, setting: int) -> bool:
        """Whether a good machine works a function, or remembers it, from any of its memories."""
        return any(
            any(map(is_function, self._printed(table)[setting].split("+")))
            or any(
                place_in_row(table.asked[name], setting) != place
                for name, place in zip(self.good.remembering, memory, strict=True)
            )
            for memory, table in zip(self.good.memories, self._good, strict=True)
        )

    def _send(self) -> dict[str, int]:
        code, found = self.machine.code, {}
        for sent in range(len(code)):
            try:
                character = code.character(sent)
            except CodeError:
                continue
            if character.isprintable():
                found[character] = self._setting(sent)
        return found

    def _shifted(self) -> dict[str, tuple[int, int]]:
        """The characters that are printed by another one's code once a latch is thrown."""
        plain = self._send()
        found: dict[str, tuple[int, int]] = {}
        for memory, table in enumerate(self._good):
            for sent in self.machine.printing_codes:
                seen = self._printed(table)[self._setting(sent)]
                if len(seen) == 1 and seen not in plain:
                    found.setdefault(seen, (self._setting(sent), memory))
        return found

    def _settings_of_cells(self, memory: tuple[int, ...]) -> list[int | None]:
        """For each cell a setting that chooses it from a memory."""
        ways = chosen_from(self.machine, memory)
        return [None if way is None else way.setting for way in ways]

    # -- what is remembered -----------------------------------------------------------------------

    def _remembers(
        self, behaviour: Behaviour, table: Table, memory: tuple[int, ...], at_speed: bool
    ) -> int:
        """The column that says how each latch stands, and what sluggish parts wait for."""
        remembered = dict(zip(behaviour.remembering, memory, strict=True))
        waiting = self._waiting(remembered) if at_speed and behaviour.faults else ""
        stands = [
            map(
                partial(self._latch_sentence, name, remembered[name]),
                self._numbers(table.asked[name]),
                self._numbers(table.places[name]),
            )
            for name in self.mechanism.latches
        ]
        each = zip(*stands, strict=True) if stands else ((),) * len(self.settings.codes)
        return self._text_column(" ".join(filter(None, (*said, waiting))) for said in each)

    def _waiting(self, remembered: Mapping[str, int]) -> str:
        asked = [
            f"{words.the(self.machine.label(name))} to stand at {self._where(name, place)}"
            for name, place in remembered.items()
            if name in self.sluggish
        ]
        return f"The character before asked {words.listed(asked)}." if asked else ""

    def _latch_sentence(self, name: str, before: int, asked: int, stands: int) -> str:
        """How a latch now stands that stood at the place *before*."""
        label = words.capitalised(words.the(self.machine.label(name)))
        if stands != asked:
            should = self._where(name, asked)
            return f"{label} should stand at {should}, but stands at {self._where(name, stands)}."
        if asked != before:
            return f"{label} goes from {self._where(name, before)} to {self._where(name, asked)}."
        return f"{label} stays where it was put: at {self._where(name, stands)}."

    def _where(self, name: str, place: int) -> str:
        return words.stand(self.machine, name, place)

    def _way_to(self, memory: tuple[int, ...]) -> str:
        """How to bring a good machine to a memory."""
        if not memory:
            return ""
        needs = words.listed(
            f"{words.the(self.machine.label(name))} at {self._where(name, place)}"
            for name, place in zip(self.good.remembering, memory, strict=True)
        )
        sure = [name for name, _, setting in self._buttons if self._leads_to(memory, setting)]
        return f"That needs {needs}{f': send {sure[0]} first' if sure else ''}."

    def _leads_to(self, memory: tuple[int, ...], setting: int) -> bool:
        """Whether a setting shows nothing and leads to a memory, from wherever it is sent."""
        return all(
            self._printed(table)[setting] == NOTHING
            and memory
            == tuple(place_in_row(table.asked[name], setting) for name in self.good.remembering)
            for table in self._good
        )


def _quoted(printed: str) -> str:
    """A glyph in quotation marks, so that a comma is not taken for one of ours."""
    return printed if printed in (NOTHING, UNREADABLE) else f"“{printed}”"


def _encoded(column: Any) -> str:
    return b64encode(pack(f"<{len(column)}H", *column)).decode("ascii")
