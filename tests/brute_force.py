"""A faulty machine followed the slow and plain way, one part and one character at a time.

The library is held against this.  It shares no code with the library: it takes a description as
``tomllib`` reads it, plain dicts, and works with the displacements themselves, in exact
fractions.  There are no cuts, no columns and no integers with many bits here, and no attempt at
speed: what can happen is found by trying everything that can happen.

A fault is a plain tuple (part, mode, input), with "" for the input unless the mode is
"disconnected".  A fault that comes and goes has " at times" after its mode.

Two kinds of part remember: a sluggish one, and a latch, which need not be at fault.  Either
remembers where its law last asked it to stand, whether or not it then stood there.
"""

import random
import tomllib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from fractions import Fraction
from functools import cached_property
from itertools import pairwise, product
from pathlib import Path
from typing import Any, NamedTuple

Description = Mapping[str, Any]
Fault = tuple[str, str, str]
Link = tuple[str, str]
State = tuple[Fraction, ...]
"""For each part that remembers, where it was asked to go one character ago."""

PAPER = "the paper"
"""What follows the parts that a machine shows itself by, be it on paper or on the line."""

NOTHING, UNREADABLE = "nothing", "unreadable"
SLUGGISH = ("slow to return", "slow to operate")
BY_CHANCE = ("half-way", "bouncing contact")
AT_TIMES = " at times"
HELD = ("stuck at rest", "stuck operated", "unknown")
"""What holds a part; a latch that is held remembers where it stands, not where it was asked."""

# The seven-unit code: ECMA-6, columns 0 and 1, then the space and the printing characters.
CONTROLS = (
    "NUL SOH STX ETX EOT ENQ ACK BEL BS HT LF VT FF CR SO SI "
    "DLE DC1 DC2 DC3 DC4 NAK SYN ETB CAN EM SUB ESC IS4 IS3 IS2 IS1 SP"
)
SEVEN_UNIT = [*CONTROLS.split(), *map(chr, range(0x21, 0x7F)), "DEL"]


class Entry(NamedTuple):
    """One character as it was sent.

    code    the setting of the code bars, parity included: b1 is the lowest bit
    driven  "speed", or "hand" if the shaft was turned over by hand
    gap     whether something may have been sent before it that we do not know of
    rest    whether there may have been time for slow parts to come home since the one before
    """

    code: int
    driven: str = "speed"
    gap: bool = False
    rest: bool = False


class Printed(NamedTuple):
    """A line of a made-up log: the entry, and what one run of the machine printed."""

    entry: Entry
    printed: str


def read(path: str | Path) -> Description:
    return tomllib.loads(Path(path).read_text(encoding="utf-8"), parse_float=Fraction)


# -- parts -----------------------------------------------------------------------------------------


def inputs_of(part: Description) -> list[str]:
    """The parts that a part touches."""
    match part["joint"]:
        case "bit" | "key":
            return []
        case "follow" | "withdraw" | "contact" | "spring_link" | "cam":
            return [part["input"]]
        case "latch":
            return [part["set"], part["reset"]]
        case "either_pushes" | "all_clear":
            return list(part["inputs"])
        case "pull_bar":
            return [notch["part"] for notch in part["notches"]]
        case "stepped_stops":
            return [stop["lever"] for stop in part["stops"]]
        case "half_step":
            return [part["base"], part["shoulder"]]
        case "opposed_racks":
            return [part["forward"], part["backward"]]
        case "summing_lever":
            return [part["first"], part["second"]]
    raise NotImplementedError(f"no case for {part['joint']!r} in brute_force.inputs_of")


def travel(part: Description, x: Sequence[Fraction], full: Sequence[Fraction]) -> Fraction:
    """How far a part is moved by inputs that have moved by *x*, out of *full*."""
    ratio = Fraction(part.get("ratio", 1))
    match part["joint"]:
        case "follow":
            return ratio * x[0]
        case "spring_link":
            free_to_go = ratio * x[0]
            return part["at_mm"] if free_to_go > part["at_mm"] else free_to_go
        case "withdraw":
            return ratio * (full[0] - x[0])
        case "either_pushes":
            furthest = x[0]
            for pushed in x:
                if pushed > furthest:
                    furthest = pushed
            return ratio * furthest
        case "all_clear":
            nearest = x[0]
            for cleared in x:
                if cleared < nearest:
                    nearest = cleared
            return ratio * nearest
        case "pull_bar":
            depths = []
            for notch, moved, whole in zip(part["notches"], x, full, strict=True):
                under_it_when_operated = notch.get("when", "operated") == "operated"
                depths.append(moved if under_it_when_operated else whole - moved)
            return min(depths)
        case "stepped_stops":
            arrested = [Fraction(part["end_mm"])]
            for stop, moved, whole in zip(part["stops"], x, full, strict=True):
                drawn_back = moved if stop.get("when", "operated") == "operated" else whole - moved
                if drawn_back < Fraction(stop.get("lets_go_mm", whole / 2)):
                    arrested.append(Fraction(stop["at_mm"]))
            return min(arrested)
        case "half_step":
            return x[0] + Fraction(part["step_mm"]) * x[1] / full[1]
        case "opposed_racks":
            return Fraction(part["degrees_per_mm"]) * (x[0] - x[1])
        case "summing_lever":
            a = Fraction(part.get("first_arm_mm", 1))
            b = Fraction(part.get("second_arm_mm", 1))
            return (b * x[0] + a * x[1]) / (a + b)
        case "cam":
            before = {"input_mm": Fraction(0), "output_mm": Fraction(0)}
            if x[0] < 0:  # it has not come to the cam yet
                return Fraction(0)
            for corner in part["corners"]:
                if x[0] < corner["input_mm"]:
                    way = (x[0] - before["input_mm"]) / (corner["input_mm"] - before["input_mm"])
                    return (1 - way) * before["output_mm"] + way * corner["output_mm"]
                before = corner
            return Fraction(before["output_mm"])
        case "contact":
            return Fraction(1 if x[0] >= part.get("closes_mm", full[0] / 2) else 0)
    raise NotImplementedError(f"no case for {part['joint']!r} in brute_force.travel")


def allowed(stations: Sequence[Fraction], output: Description, kind: str) -> Fraction:
    """How far from its place type may be struck and print whole."""
    window = {"": "window_mm", "type_bar": "window_mm"}.get(kind, "window_deg")
    if window in output and (kind or "lift" in output):
        return Fraction(output[window])
    if len(stations) < 2:
        return Fraction(0)
    in_order = sorted(map(Fraction, stations))
    return min(above - below for below, above in pairwise(in_order)) / 10


def latched(
    part: Description, x: Sequence[Fraction], full: Sequence[Fraction], before: Fraction
) -> Fraction:
    """Where a latch is asked to stand that was asked to stand at *before* the last time."""
    thrown_over = x[0] >= full[0] / 2
    thrown_back = x[1] >= full[1] / 2
    if thrown_over:
        return Fraction(part["throw_mm"])
    if thrown_back:
        return Fraction(0)
    return before


def sluggish_parts(faults: Iterable[Fault]) -> list[str]:
    """The parts that remember because they are at fault."""
    return [part for part, mode, _ in faults if mode.removesuffix(AT_TIMES) in SLUGGISH]


# -- what is seen ----------------------------------------------------------------------------------

Finds = Callable[[str], Fraction]
"""Where the paper, or the line, finds a part."""


def parts_shown(kind: str, output: Description) -> list[str]:
    """The parts that something is seen of."""
    match kind:
        case "wheel":
            return [output[key] for key in ("lift", "turn", "hammer") if output.get(key)]
        case "type_bar":
            return [output[key] for key in ("shift", "hammer") if output.get(key)]
        case "typebars":
            shift = [output["shift"]] if "shift" in output else []
            return [bar["pull"] for bar in output["bars"]] + shift
        case "actions":
            return [action["lever"] for action in output["levers"]]
        case "line":
            return list(output["contacts"])
    raise ValueError(kind)


def together(seen: Iterable[str]) -> str:
    """Several things that are seen at once, as they are noted: ``A+LF``."""
    seen = list(seen)
    if UNREADABLE in seen:
        return UNREADABLE
    return "+".join(one for one in seen if one != NOTHING) or NOTHING


OUTPUTS = ("wheel", "type_bar", "typebars", "line", "actions")
"""The tables that say what is seen; of two, what the first shows is noted first: ``A+LF``."""


def alphabet_of(table: Description) -> Sequence[str]:
    """The characters of a code in the order of their numbers, where this file knows them."""
    alphabet = table.get("alphabet", ())
    return SEVEN_UNIT if alphabet == "seven-unit" else () if isinstance(alphabet, str) else alphabet


class Printer:
    """A description made ready to be followed.

    Attributes:
        order: Names of the parts, each after the parts it touches.
        places: For each part, the displacements that it can have, lowest first, if its inputs
            may stand at any of theirs.
        rest: For each part, where it stands when no bit is set and no member is driven out.
    """

    def __init__(self, description: Description) -> None:
        self.parts: Description = description["parts"]
        self.outputs = {kind: description[kind] for kind in OUTPUTS if kind in description}
        self.wheel: Description = description.get("wheel", {})
        self.alphabet = alphabet_of(description.get("codes", {}))
        self.order: list[str] = []
        while len(self.order) < len(self.parts):
            ready = [n for n, p in self.parts.items() if set(inputs_of(p)) <= set(self.order)]
            self.order += [name for name in ready if name not in self.order]
        self.places: dict[str, list[Fraction]] = {}
        self.rest: dict[str, Fraction] = {}
        for name in self.order:
            self.places[name] = sorted(set(self._all_travels(name)))
            self.rest[name] = self._rest(name)

    def _all_travels(self, name: str) -> Iterator[Fraction]:
        part = self.parts[name]
        if part["joint"] in ("bit", "key"):
            yield from (Fraction(0), Fraction(part["stroke_mm"]))
        else:
            before = {Fraction(0), Fraction(part.get("throw_mm", 0))}
            for x in product(*(self.places[i] for i in inputs_of(part)), before):
                yield self.law(name, x[:-1], x[-1])

    def _rest(self, name: str) -> Fraction:
        part = self.parts[name]
        if part["joint"] in ("bit", "key"):
            return Fraction(0)
        if part["joint"] == "stepped_stops":  # the cycle brings it home
            return self.places[name][0]
        return self.law(name, [self.rest[i] for i in inputs_of(part)])

    def law(self, name: str, x: Sequence[Fraction], before: Fraction = Fraction(0)) -> Fraction:
        """Where a part is asked to go by inputs at *x*; *before* matters to a latch alone."""
        part = self.parts[name]
        full = [self.places[i][-1] - self.places[i][0] for i in inputs_of(part)]
        if "gap_mm" in part:  # the first bit of every input's way does nothing
            x = [moved - part["gap_mm"] if moved > part["gap_mm"] else Fraction(0) for moved in x]
        return latched(part, x, full, before) if part["joint"] == "latch" else travel(part, x, full)

    @cached_property
    def latches(self) -> list[str]:
        """The parts that remember though nothing is wrong with them."""
        return [name for name in self.order if self.parts[name]["joint"] == "latch"]

    def remembering(self, faults: Iterable[Fault]) -> list[str]:
        """The parts that remember, in the order of a state: sluggish ones, then latches."""
        sluggish = sluggish_parts(faults)
        return sluggish + [name for name in self.latches if name not in sluggish]

    def far_end(self, name: str) -> Fraction:
        """The end place further from rest; of two equally far, the higher."""
        low, high, rest = self.places[name][0], self.places[name][-1], self.rest[name]
        return low if rest - low > high - rest else high

    def followers(self, name: str) -> list[str]:
        """Whatever finds a part somewhere: the parts that touch it, and the paper."""
        found = [other for other in self.order if name in inputs_of(self.parts[other])]
        shown = [part for kind, table in self.outputs.items() for part in parts_shown(kind, table)]
        return [*found, PAPER] if name in shown else found

    def single_faults(self) -> list[Fault]:
        """Every fault that one part can have."""
        found: list[Fault] = []
        for name in self.order:
            if self.parts[name]["joint"] == "contact":
                modes = ["open contact", "shorted contact", "bouncing contact"]
            else:
                modes = ["stuck at rest", "stuck operated"]
                if self.rest[name] in (self.places[name][0], self.places[name][-1]):
                    modes += ["slow to return", "slow to operate"]
                if len(self.places[name]) == 2:
                    modes.append("half-way")
            found += [(name, mode, "") for mode in modes]
            for other in dict.fromkeys(inputs_of(self.parts[name])):
                found.append((name, "disconnected", other))
        return found

    def rarer_faults(self) -> list[Fault]:
        """Faults that come and go, are on no list, or lie before the printer."""
        found: list[Fault] = []
        for part, mode, input_ in self.single_faults():
            if mode not in BY_CHANCE:  # it comes and goes anyway
                found.append((part, mode + AT_TIMES, input_))
        found += [(name, "unknown", "") for name in self.order]
        for name in self.order:
            if self.parts[name]["joint"] == "bit":
                found.append((name, "bit lost before the bar", ""))
                found.append((name, "bit added before the bar", ""))
        return found

    # -- one character -----------------------------------------------------------------------------

    def follow(
        self,
        code: int,
        faults: Iterable[Fault] = (),
        by_hand: bool = False,
        remembered: Mapping[str, Fraction] | None = None,
        finds_operated: Mapping[Link, bool] | None = None,
        free: Mapping[str, Fraction] | None = None,
    ) -> tuple[dict[str, Fraction], dict[str, Fraction], str]:
        """One character, once everything that may be in doubt is settled.

        Args:
            code: The setting of the code bars.
            faults: What is wrong in this very character.
            by_hand: Whether the shaft is turned over by hand.
            remembered: Where each sluggish part and each latch was asked to go one character ago.
            finds_operated: For each (follower, half-way part), whether it finds it operated.
            free: Where each part of mode "unknown" happens to stand.

        Returns:
            Where every part stands, where its law asked it to stand, and what is printed.
        """
        stands: dict[str, Fraction] = {}
        asked: dict[str, Fraction] = {}
        wrong = list(faults)

        def found(follower: str, part: str) -> Fraction:
            if (follower, "disconnected", part) in wrong:
                return self.rest[part]
            if any((part, mode, "") in wrong for mode in BY_CHANCE):
                operated = (finds_operated or {})[follower, part]
                if (part, "bouncing contact", "") in wrong and operated:
                    return stands[part]  # it bounces only when it closes
                return self.places[part][-1] if operated else self.places[part][0]
            return stands[part]

        for name in self.order:
            part = self.parts[name]
            if part["joint"] == "key":
                pressed = self.alphabet.index(part["key"]) == code % len(self.alphabet)
                asked[name] = Fraction(part["stroke_mm"]) if pressed else Fraction(0)
            elif part["joint"] == "bit":
                is_set = code >> (part["bit"] - 1) & 1
                if (name, "bit lost before the bar", "") in wrong:
                    is_set = 0
                if (name, "bit added before the bar", "") in wrong:
                    is_set = 1
                asked[name] = Fraction(part["stroke_mm"]) if is_set else Fraction(0)
            else:
                before = (remembered or {}).get(name, self.rest[name])
                asked[name] = self.law(name, [found(name, i) for i in inputs_of(part)], before)
            stands[name] = asked[name]
            if (name, "stuck at rest", "") in wrong:
                stands[name] = self.rest[name]
            if (name, "stuck operated", "") in wrong:
                stands[name] = self.far_end(name)
            if (name, "open contact", "") in wrong:
                stands[name] = Fraction(0)
            if (name, "shorted contact", "") in wrong:
                stands[name] = Fraction(1)
            if (name, "unknown", "") in wrong:
                stands[name] = (free or {})[name]
            for mode, choose in (("slow to return", max), ("slow to operate", min)):
                if (name, mode, "") in wrong and not by_hand:
                    pair = (asked[name], (remembered or {})[name])
                    stands[name] = choose(pair, key=lambda x, name=name: abs(x - self.rest[name]))

        def paper_finds(part: str) -> Fraction:
            return found(PAPER, part)

        seen = [self._seen(kind, table, paper_finds) for kind, table in self.outputs.items()]
        return stands, asked, together(seen)

    def _seen(self, kind: str, output: Description, finds: Finds) -> str:
        """What one of the outputs shows."""
        match kind:
            case "wheel" | "type_bar":
                return self._struck(kind, output, finds)
            case "typebars":
                up = [bar for bar in output["bars"] if self._is_out(bar["pull"], finds)]
                if len(up) > 1:
                    return UNREADABLE
                return self._from_bar(up[0]["type"], output, finds) if up else NOTHING
            case "actions":
                done = [one for one in output["levers"] if self._is_out(one["lever"], finds)]
                return together(one["shows"] for one in done)
            case "line":
                return self._received(output, finds)
        raise ValueError(kind)

    def _is_out(self, part: str, finds: Finds) -> bool:
        """Whether a part is found all the way out."""
        return finds(part) == self.places[part][-1]

    def _struck(self, kind: str, output: Description, finds: Finds) -> str:
        hammer = output.get("hammer")  # a machine without one prints every time
        if hammer and not self._is_out(hammer, finds):
            return NOTHING
        if kind == "type_bar":
            rows, columns, lines = [0], output["places_mm"], [output["glyphs"]]
            lifted, turned = Fraction(0), finds(output["shift"])
        else:
            rows, columns = output["rows_mm"], output.get("columns_deg", [0])
            lines = output["glyphs"]
            lifted = finds(output["lift"])
            turned = finds(output["turn"]) if output.get("turn") else Fraction(0)
        near = {}
        for row, glyphs in zip(rows, lines, strict=True):
            for column, glyph in zip(columns, glyphs, strict=True):
                up, across = abs(lifted - row), abs(turned - column)
                if up <= allowed(rows, output, "") and across <= allowed(columns, output, kind):
                    near[up, across] = NOTHING if glyph == " " else glyph
        return near[min(near)] if near else UNREADABLE

    def _from_bar(self, characters: str, output: Description, finds: Finds) -> str:
        """What one typebar prints, by where its shift stands."""
        shift = output.get("shift")
        place = self.places[shift].index(finds(shift)) if shift else 0
        if place >= len(characters):
            return UNREADABLE
        return NOTHING if characters[place] == " " else characters[place]

    def _received(self, output: Description, finds: Finds) -> str:
        """What a receiver makes of the contacts that are closed."""
        closed = [self._is_out(part, finds) for part in output["contacts"]]
        parity = output.get("parity", "none")
        if parity != "none" and sum(closed) % 2 != (parity == "odd"):
            return UNREADABLE
        alphabet = alphabet_of(output)
        number = sum(1 << bit for bit, is_closed in enumerate(closed) if is_closed)
        name = alphabet[number % len(alphabet)]
        return NOTHING if name in ("SP", " ") else name

    # -- everything that can happen ----------------------------------------------------------------

    def outcomes(
        self, entry: Entry, faults: Sequence[Fault], states: Iterable[State]
    ) -> list[tuple[State, str]]:
        """Every (state after, print) that one character can lead to."""
        remembering = self.remembering(faults)
        found = []
        for state in states:
            for wrong, finds_operated, free in self.luck(faults):
                stands, asked, printed = self.follow(
                    entry.code,
                    wrong,
                    entry.driven == "hand",
                    dict(zip(remembering, state, strict=True)),
                    finds_operated,
                    free,
                )
                after = self.remembered_after(remembering, wrong, stands, asked)
                found.append((after, printed))
        return found

    def remembered_after(
        self,
        remembering: Iterable[str],
        wrong: Iterable[Fault],
        stands: Mapping[str, Fraction],
        asked: Mapping[str, Fraction],
    ) -> State:
        """What each part that remembers is left with: a latch that is held, where it stands."""
        held = {part for part, mode, _ in wrong if mode in HELD and part in self.latches}
        return tuple((stands if part in held else asked)[part] for part in remembering)

    def luck(
        self, faults: Sequence[Fault]
    ) -> Iterator[tuple[list[Fault], dict[Link, bool], dict[str, Fraction]]]:
        """Everything that chance may bring in one character, each as likely.

        That is the faults that show, whom a half-way part seems operated to, and where parts
        stand that do as they please.
        """
        steady = [(part, mode.removesuffix(AT_TIMES), other) for part, mode, other in faults]
        shows = [(False, True) if mode.endswith(AT_TIMES) else (True,) for _, mode, _ in faults]
        half_way = [part for part, mode, _ in faults if mode in BY_CHANCE]
        doubtful = [(other, part) for part in half_way for other in self.followers(part)]
        free = [part for part, mode, _ in faults if mode == "unknown"]
        for showing in product(*shows):
            wrong = [fault for fault, there in zip(steady, showing, strict=True) if there]
            for operated in product((False, True), repeat=len(doubtful)):
                for stands in product(*(self.places[part] for part in free)):
                    yield (
                        wrong,
                        dict(zip(doubtful, operated, strict=True)),
                        dict(zip(free, stands, strict=True)),
                    )

    def unknown(self, faults: Sequence[Fault]) -> list[State]:
        """Every state, for when nothing is known of the character before."""
        return list(product(*(self.places[part] for part in self.remembering(faults))))

    def rested(self, faults: Sequence[Fault], state: State) -> list[tuple[int, State]]:
        """Every state after a rest: each slow part is as before or at home; how many came home."""
        slow = [n not in self.latches for n in self.remembering(faults)]
        found = []
        for came in product((False, True), repeat=len(state)):
            if all(is_slow or not home for is_slow, home in zip(slow, came, strict=True)):
                then = zip(self.remembering(faults), state, came, strict=True)
                after = tuple(self.rest[part] if home else place for part, place, home in then)
                found.append((sum(came), after))
        return found

    def possible_prints(self, entries: Iterable[Entry], faults: Sequence[Fault]) -> list[set[str]]:
        """For each entry, everything that may be printed, whatever was printed before."""
        states: Iterable[State] = self.unknown(faults)
        prints = []
        for entry in entries:
            if entry.rest:
                states = {s for state in states for _, s in self.rested(faults, state)}
            found = self.outcomes(entry, faults, self.unknown(faults) if entry.gap else states)
            prints.append({printed for _, printed in found})
            states = {after for after, _ in found}
        return prints

    def explains(self, log: Iterable[Printed], faults: Sequence[Fault]) -> bool:
        """Whether a machine with these faults, and no others, can have printed this log."""
        states: Iterable[State] = self.unknown(faults)
        for entry, printed in log:
            found = self.outcomes(entry, faults, self.unknown(faults) if entry.gap else states)
            states = {after for after, seen in found if seen == printed}
            if not states:
                return False
        return True

    def make_log(
        self, faults: Sequence[Fault], entries: Iterable[Entry], rng: random.Random
    ) -> list[Printed]:
        """One run of the machine: of everything that can happen, something."""
        state = rng.choice(self.unknown(faults))
        log = []
        for entry in entries:
            if entry.gap:
                state = rng.choice(self.unknown(faults))
            state, printed = rng.choice(self.outcomes(entry, faults, [state]))
            log.append(Printed(entry, printed))
        return log


def possible_prints(
    description: Description, entries: Iterable[Entry], faults: Sequence[Fault] = ()
) -> list[set[str]]:
    """For each entry, everything that a machine with these faults may print."""
    return Printer(description).possible_prints(entries, faults)


def make_log(
    description: Description,
    faults: Sequence[Fault],
    codes: Iterable[int],
    rng: random.Random,
) -> list[Printed]:
    """What one run of a machine with these faults prints for codes sent at speed."""
    return Printer(description).make_log(faults, [Entry(code) for code in codes], rng)
