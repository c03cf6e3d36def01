"""Runs of a faulty machine, as the brute force follows it, held against a log.

The library's diagnosis is held against this.  Only the form of a log, the library's ``Entry``, is
shared; what happens in the machine comes from ``brute_force``, and what may be noted of a print is
said once more here, in its own words.
"""

import random
import re
from collections.abc import Callable, Iterable, Sequence
from functools import cache
from itertools import pairwise

from brute_force import (
    AT_TIMES,
    NOTHING,
    UNREADABLE,
    Description,
    Fault,
    Printer,
    State,
    alphabet_of,
    read,
)
from brute_force import Entry as Sent
from hypothesis import strategies as st
from strategies import GLYPHS

from mechlogic.machines import FOLDER
from mechlogic.model.faults import Hypothesis
from mechlogic.model.logbook import Entry

Faults = tuple[Fault, ...]

# What the library documents, recalled here so that a change of either is noticed.
AS_PRINTED, LESS_WELL, MISREAD = 0.96, 0.03, 0.01 / 65


def plain(faults: Hypothesis) -> Faults:
    """The library's faults as plain tuples."""
    return tuple((f.part, f.mode + AT_TIMES * f.sometimes, f.input) for f in faults)


# How often a slow part has come home, by what is noted of the time before an entry.
CAME_HOME = [{"pause": often, "": 0, "at once": 0} for often in (0, 1 / 2, 1)]

PERHAPS = {"pause": 1 / 2, "": 0, "at once": 0}
"""Everything that can have come about has."""

# Strokes that lie within those of another character, for a few.
UNDER = {"B": "PRFE3IL", "D": "IL", "E": "FLI", "F": "I"}


def readings(noted: str) -> list[str]:
    """All that may have been printed, of what was noted."""
    return re.split(" or | over ", NOTHING if noted == " " else noted)


def chance_of(entry: Entry, printed: str, shows: set[str] | None = None) -> float:
    """The chance that somebody notes this entry when the machine prints this.

    Clear print is mostly noted as it is.  Of a character, now and then only "unreadable" can be
    noted; of the halves of two characters, now and then one that is clipped.  "B or 8" is noted
    of either.  Of two on top of each other, one was printed; they may hide a third.  What
    nobody saw, or what is not among the things that the machine *shows*, says nothing.
    """
    said = readings(entry.printed)
    strange = shows is not None and any(
        one not in (NOTHING, UNREADABLE) and not {one[0] if len(one) == 1 else one} <= shows
        for one in said
        if "+" not in one
    )
    if entry.printed == "unseen" or strange or printed in said:
        return AS_PRINTED
    if said == [UNREADABLE] and printed != NOTHING:
        return LESS_WELL
    if entry.clipped and printed == UNREADABLE:
        return LESS_WELL
    if " over " in entry.printed and any(printed in UNDER.get(one, "") for one in said):
        return LESS_WELL
    return MISREAD


def shown_by(outputs: Description) -> set[str]:
    """Everything that a machine's outputs have a type or a lever for."""
    shows = set()
    for kind, output in outputs.items():
        match kind:
            case "wheel" | "type_bar":
                shows.update("".join(output["glyphs"]))
            case "typebars":
                shows.update("".join(bar["type"] for bar in output["bars"]))
            case "actions":
                shows.update(one["shows"] for one in output["levers"])
            case "line":
                shows.update(alphabet_of(output))
    return shows


class Runs:
    """A machine whose steps are remembered, so that no character is worked out twice.

    Args:
        description: As the TOML file gives it.
        parity: Whether the bit above seven is set to make the number of set bits even.
    """

    def __init__(self, description: Description, parity: bool = False) -> None:
        self.printer = _Remembering(description)
        self.shows = shown_by(self.printer.outputs)
        self._numbers: dict[object, int] = {}
        self.parity = parity
        self.step: Callable[[Faults, int, bool, State], list[tuple[State, str]]] = cache(self._step)

    def _step(
        self, faults: Faults, sent: int, by_hand: bool, state: State
    ) -> list[tuple[State, str]]:
        code = sent | (sent.bit_count() % 2) << 7 if self.parity else sent
        return self.printer.outcomes(Sent(code, "hand" if by_hand else "speed"), faults, [state])

    def chance_of(self, entry: Entry, printed: str) -> float:
        """The chance that this is noted of a print, on this machine."""
        return chance_of(entry, printed, self.shows)

    def states(self, faults: Faults) -> list[State]:
        """Every state, for when nothing is known of the character before."""
        return self.printer.unknown(faults)

    def found_by(
        self, faults: Faults, entry: Entry, state: State | None, home: dict[str, float]
    ) -> list[tuple[State, float]]:
        """The states in which an entry may find the machine, each with its chance.

        Args:
            faults: What is wrong.
            entry: The entry.
            state: The state that the entry before left; None if there was none.
            home: How often a slow part has come home, by what is noted of the time before.
        """
        if state is None or entry.gap == "yes":
            states = self.states(faults)
            return [(one, 1 / len(states)) for one in states]
        often, ways = home[entry.gap], self.printer.rested(faults, state)
        n_slow = max(came for came, _ in ways)
        every = [(one, often**came * (1 - often) ** (n_slow - came)) for came, one in ways]
        return [(one, chance) for one, chance in every if chance]

    def likelihood(self, faults: Faults, log: Sequence[Entry]) -> float:
        """The chance of a log, over all runs that the machine can make."""
        return sum(self.likelihood_if(faults, log, home) for home in CAME_HOME) / len(CAME_HOME)

    def likelihood_if(self, faults: Faults, log: Sequence[Entry], home: dict[str, float]) -> float:
        """The same if slow parts have come home so often."""

        @cache
        def rest(t: int, state: State | None) -> float:
            if t == len(log):
                return 1.0
            entry, chance = log[t], 0.0
            for one, share in self.found_by(faults, entry, state, home):
                ways = self.step(faults, entry.sent, entry.driven == "hand", one)
                for after, seen in ways:
                    share_of_it = share / len(ways)
                    chance += share_of_it * self.chance_of(entry, seen) * rest(t + 1, after)
            return chance

        return rest(0, None)

    def fewest_misreadings(self, faults: Faults, log: Sequence[Entry]) -> int:
        """How many entries must be misread, at the least, if these are the faults."""
        return self.least_doubt(faults, log)[0]

    def least_doubt(self, faults: Faults, log: Sequence[Entry]) -> tuple[int, int]:
        """The fewest entries that must be misread, and then the fewest that show too little."""

        @cache
        def rest(t: int, state: State | None) -> tuple[int, int]:
            if t == len(log):
                return 0, 0
            entry = log[t]
            ways = []
            for one, _ in self.found_by(faults, entry, state, PERHAPS):
                for after, seen in self.step(faults, entry.sent, entry.driven == "hand", one):
                    chance, (misread, smudged) = self.chance_of(entry, seen), rest(t + 1, after)
                    ways.append((misread + (chance == MISREAD), smudged + (chance == LESS_WELL)))
            return min(ways)

        return rest(0, None)

    def explains(self, faults: Faults, log: Sequence[Entry]) -> bool:
        """Whether no entry has to be misread."""
        return self.fewest_misreadings(faults, log) == 0

    def type(
        self, faults: Faults, codes: Iterable[int], rng: random.Random, log: Sequence[Entry] = ()
    ) -> list[Entry]:
        """A log made by one run of the machine, all at speed."""
        state, entries = rng.choice(self.states(faults)), list(log)
        for code in codes:
            state, printed = rng.choice(self.step(faults, code, False, state))
            entries.append(Entry(code, printed))
        return entries

    def look(self, faults: Faults, codes: Sequence[int]) -> tuple[object, ...]:
        """Everything that can be seen of these codes: at first, by hand, and after one another."""
        states = self.states(faults)

        def can_print(code: int, by_hand: bool, before: Iterable[State]) -> frozenset[str]:
            return frozenset(
                seen for one in before for _, seen in self.step(faults, code, by_hand, one)
            )

        left = {
            code: {after for one in states for after, _ in self.step(faults, code, False, one)}
            for code in codes
        }
        return (
            tuple(can_print(code, False, states) for code in codes),
            tuple(can_print(code, True, states) for code in codes),
            tuple(can_print(code, False, left[before]) for before in codes for code in codes),
        )

    def can_show(self, faults: Faults, codes: Sequence[int], length: int) -> object:
        """Everything that any text of so many characters can show, at speed, by hand, or mixed.

        Two sets of faults have equal answers just when no such text, sent to a machine of which
        nothing is known, can have a print under one of them that it cannot have under the other.
        """

        @cache
        def after(states: frozenset[State], left: int) -> object:
            if left == 0:
                return ()
            answers = []
            for code in codes:
                for by_hand in (False, True):
                    leads: dict[str, set[State]] = {}
                    for one in states:
                        for then, seen in self.step(faults, code, by_hand, one):
                            leads.setdefault(seen, set()).add(then)
                    answers.append(
                        self._numbered(
                            tuple(
                                (seen, after(frozenset(some), left - 1))
                                for seen, some in sorted(leads.items())
                            )
                        )
                    )
            return self._numbered((left, *answers))

        return after(frozenset(self.states(faults)), length)

    def _numbered(self, answer: object) -> int:
        """A number for an answer, the same for equal ones, so that answers stay short."""
        return self._numbers.setdefault(answer, len(self._numbers))


class _Remembering(Printer):
    """The printer of the brute force, which works out no law twice for the same inputs."""

    def __init__(self, description: Description) -> None:
        self._known: dict[object, object] = {}
        super().__init__(description)
        self._known.clear()

    def law(self, name, x, before=0):  # type: ignore[no-untyped-def]
        key = (name, tuple(x), before)
        if key not in self._known:
            self._known[key] = super().law(name, x, before)
        return self._known[key]


SALTMERE = Runs(read(FOLDER / "saltmere.toml"))
"""The Saltmere printer; its steps are shared by every test that asks for them."""

ALL_CODES = range(128)
PRINTING = range(0x28, 0x60)


def walk(rng: random.Random, codes: Iterable[int] = ALL_CODES) -> list[int]:
    """Every code, each of them after itself, half of them turned over bit by bit.

    So every bar stays set, stays clear and changes either way: by itself, and with all others.
    """
    pairs = [(code, code ^ 0x7F) for code in codes if code < code ^ 0x7F]
    rng.shuffle(pairs)
    found = []
    for number, (one, other) in enumerate(pairs):
        alone = one ^ 1 << number % 7
        found += [one, one, alone, one, other, other]
    return found


def transitions(codes: Sequence[int]) -> set[tuple[int, int]]:
    """The pairs of codes that follow each other."""
    return set(pairwise(codes))


def random_entry(rng: random.Random, glyphs: str, units: int) -> Entry:
    return Entry(
        sent=rng.randrange(1 << units),
        printed=rng.choice([*glyphs, NOTHING, UNREADABLE]),
        driven=rng.choice(["speed", "speed", "speed", "hand"]),
        clipped=rng.choice(["", "", "", "left"]),
        gap=rng.choice(["", "at once", "pause", "pause", "yes"]),
    )


@st.composite
def logs_of(
    draw: st.DrawFn, runs: Runs, faults: Faults, units: int, most: int = 6, lies: bool = True
) -> list[Entry]:
    """A log of one run of a machine: entries by hand, gaps, smudges, here and there a lie."""
    rng = draw(st.randoms(use_true_random=False))
    state, entries = rng.choice(runs.states(faults)), []
    for _ in range(draw(st.integers(0, most))):
        entry = random_entry(rng, GLYPHS[:4], units)
        state, _ = rng.choice(runs.found_by(faults, entry, state, PERHAPS))
        state, printed = rng.choice(runs.step(faults, entry.sent, entry.driven == "hand", state))
        truth = not lies or rng.random() < 0.85
        note = printed if truth else entry.printed
        if len(note) == 1 and rng.random() < 0.2:  # as people write when they are not sure
            other = rng.choice([c for c in GLYPHS[:4] if c != note])
            note = rng.choice([f"{note} or {other}", f"{other} over {note}", "unseen"])
        entries.append(Entry(entry.sent, note, entry.driven, "unknown", entry.clipped, entry.gap))
    return entries
