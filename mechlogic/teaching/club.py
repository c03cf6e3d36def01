"""A club evening made from a number: what everybody is handed, and what the instructor keeps.

A timetable, a hand-out for everybody, a sealed fault for each team with a sheet to hunt it on, and
the answers.  All of it follows from the machine and the number, so that a lost sheet can be made
again.  How it is laid on paper is told in :mod:`mechlogic.drawing.club_pages`.
"""

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import count
from math import ceil
from random import Random

from mechlogic.acceptance.coverage import readability
from mechlogic.acceptance.testcards import PANGRAM, laid_out, typeable
from mechlogic.bench.checks import HAND, SOURCE, TYPE, costs_of, found_by_look, in_reach, reaches
from mechlogic.explaining.words import (
    capitalised,
    explain,
    fault_sentence,
    listed,
    percent,
    stand,
    the,
)
from mechlogic.model.behaviour import Behaviour
from mechlogic.model.codes import CodeError
from mechlogic.model.faults import (
    MODES,
    SAFE_TO_LOOK,
    SAFE_TO_OIL,
    SAFE_TO_WIRE,
    Mode,
    line_faults,
    single_faults,
)
from mechlogic.model.logbook import NOTHING
from mechlogic.model.machine import Machine
from mechlogic.model.steps import Memory, good_step, good_text, steps
from mechlogic.model.table import place_in_row
from mechlogic.teaching.sealed import (
    LEVELS,
    MENDING,
    MOST_MOVES,
    SURE,
    Finding,
    Hunt,
    Plan,
    Sealed,
    count_suspects,
)

MOST_TEAMS = 12
"""As many teams as one instructor can answer (our own choice)."""

MOST_NUMBER = 99_999
"""The largest number of an evening."""

SHORTEST, LONGEST = 60, 480
"""Minutes that an evening may take."""

MOST_DRAWS = 40
"""So often a fault is drawn again until the opening text shows it and no other team has it."""

LONGEST_OPENING = 30
"""Characters of the opening text at most: enough to show a fault, too few to say which it is."""

MOST_NAMED = 12
"""An assembly with more parts than this is counted and not listed."""

MOST_STEPS = 14
"""The example in the hand-out moves at most so many parts, if there is such a character."""

CAUTIONS = (SAFE_TO_LOOK, SAFE_TO_OIL, SAFE_TO_WIRE)
"""What can hurt."""

_PROGRAMME = (
    (5, "Welcome, and what can hurt", "Read the cautions aloud. Hand out the first sheets."),
    (20, "How it decodes", "With the hand-out, and the machine or its picture."),
    (10, "How parts fail", "The modes on the hand-out; what a check costs. Form the teams."),
    (45, "The hunt", "A hunt sheet for each team. Answer their checks from the answer sheet."),
    (15, "The faults are shown", "Each team tells what it did and why; then the answer."),
    (5, "Questions, and tidying up", "Collect the sheets."),
)
"""Share of the evening in hundredths, what is done, and what the instructor does meanwhile."""

RULES = (
    "Your machine has something wrong with it. The opening text was sent to it at speed, and below "
    "stands what it printed. Ask the instructor for checks, one at a time. Write each down before "
    "you ask for the next: what it cost, and what was found. You are done when what was wrong has "
    "been mended and the opening text, sent once more, prints right."
)
"""What a team has to know; the library keeps to the same."""


@dataclass(frozen=True)
class Slot:
    """One line of the timetable.

    Attributes:
        begins, ends: Minutes after the beginning of the evening.
        what: What is done.
        note: What the instructor does meanwhile.
    """

    begins: int
    ends: int
    what: str
    note: str

    @property
    def when(self) -> str:
        """From when to when, in hours and minutes: ``0:05 to 0:30``."""
        return f"{_clock(self.begins)} to {_clock(self.ends)}"


@dataclass(frozen=True)
class Price:
    """What one kind of check costs, in minutes."""

    what: str
    minutes: float


@dataclass(frozen=True)
class Printed:
    """What a faulty machine shows for one character.

    Attributes:
        case: How the latches stood before, in words; empty for a machine without latches.
        code: The character's code, without parity.
        good: What a good machine shows.
        neutral: What may be seen at speed after the neutral character, likeliest first.
        telling: The same after the telling character; empty if there is none.
        hand: The same after the neutral character, the shaft turned by hand.
    """

    case: str
    code: int
    good: str
    neutral: tuple[str, ...]
    telling: tuple[str, ...]
    hand: tuple[str, ...]


@dataclass(frozen=True)
class Move:
    """One thing that the library did to find a fault.

    Attributes:
        finding: What was done and found, and its minutes.
        why: Why it was done.
        proof: Whether it was the opening text once more, after a mending.
        right: Whether that printed right throughout.
    """

    finding: Finding
    why: str
    proof: bool = False
    right: bool = False

    @property
    def did(self) -> str:
        """What was done, in a few words."""
        return "Sent the opening text once more" if self.proof else self.finding.did

    @property
    def found(self) -> str:
        """What was found, in a few words."""
        return "it prints right" if self.right else self.finding.found


@dataclass(frozen=True)
class Team:
    """One team and its sealed fault.

    Attributes:
        number: Number of the team, from 1.
        start: The hunt at its start: the opening text has been sent, and nothing else.
    """

    number: int
    start: Hunt

    @property
    def sealed(self) -> Sealed:
        """Its fault."""
        return self.start.sealed

    @property
    def opening(self) -> Finding:
        """The opening text, as sent and as printed."""
        return self.start.findings[0]

    @property
    def paper(self) -> tuple[str, ...]:
        """What the opening text left on the paper, line by line."""
        entries = self.opening.entries
        printed = [entry.printed for entry in entries]
        return laid_out(self.sealed.machine, [entry.sent for entry in entries], printed)

    @property
    def budget(self) -> int:
        """Whole minutes to spend: those of the sealed fault, and the opening text twice."""
        return ceil(self.sealed.minutes + 2 * self.opening.minutes)

    # -- the answer -------------------------------------------------------------------------------

    @property
    def truth(self) -> tuple[str, ...]:
        """What is wrong, a sentence for each fault."""
        return tuple(fault_sentence(self.sealed.machine, one) for one in self.sealed.faults)

    @property
    def remedies(self) -> tuple[Mode, ...]:
        """The modes of what is wrong: causes, remedies and cautions."""
        return tuple(dict.fromkeys(MODES[fault.mode] for fault in self.sealed.faults))

    @property
    def cautions(self) -> tuple[str, ...]:
        """What can hurt whoever mends it."""
        said = " ".join(mode.cautions for mode in self.remedies)
        return tuple(one for one in CAUTIONS if one in said)

    @property
    def neutral(self) -> int:
        """The neutral character."""
        return neutral(self.sealed.machine)

    @cached_property
    def telling(self) -> int | None:
        """The character after which most prints otherwise than after the neutral one, if any does.

        Of those that tell equally much, one that is easily typed is taken.
        """
        machine = self.sealed.machine
        plain = self._seen_after(self.neutral)
        tells = {}
        for code in still(machine):
            seen = self._seen_after(code)
            tells[code] = sum(seen[row] != plain[row] for row in plain)
        best = max(tells, key=lambda code: (tells[code], -readability(machine, code), -code))
        return best if tells[best] else None

    @cached_property
    def table(self) -> tuple[Printed, ...]:
        """What it shows for every character, in each way in which its latches can stand."""
        machine, telling = self.sealed.machine, self.telling
        plain = self._seen_after(self.neutral)
        after = {} if telling is None else self._seen_after(telling)
        hand = self._seen_after(self.neutral, at_speed=False)
        return tuple(
            Printed(
                _case(machine, latched),
                code,
                good_step(machine, code, latched)[0],
                plain[latched, code],
                after.get((latched, code), ()),
                hand[latched, code],
            )
            for latched in cases(machine)
            for code in range(len(machine.code))
        )

    def _seen_after(
        self, before: int, at_speed: bool = True
    ) -> dict[tuple[Memory, int], tuple[str, ...]]:
        """For each stand of the latches and each code, what may be seen after a character.

        Args:
            before: The character before, which is sent at speed.
            at_speed: Whether the code itself is sent at speed.
        """
        machine, faults = self.sealed.machine, self.sealed.faults
        first, then = steps(machine, faults), steps(machine, faults, at_speed)
        names = Behaviour(machine, faults).remembering
        at = [names.index(name) for name in machine.mechanism.latches]
        found = {}
        for latched in cases(machine):
            starts = [memory for memory in first if tuple(memory[i] for i in at) == latched]
            after = {then_ for memory in starts for _, then_ in first[memory][before]}
            for code in range(len(machine.code)):
                seen: Counter[str] = Counter()
                for memory in sorted(after):
                    for (shown, _), times in then[memory][code].items():
                        seen[shown] += times
                found[latched, code] = tuple(sorted(seen, key=lambda one: (-seen[one], one)))
        return found

    @property
    def looks(self) -> tuple[tuple[str, tuple[str, ...]], ...]:
        """What has to come off, the easiest first, and the parts that a look then finds."""
        machine, costs = self.sealed.machine, costs_of(self.sealed.machine)
        return tuple(
            (
                reach,
                found_by_look(machine, self.sealed.faults, in_reach(machine, reach, costs)),
            )
            for reach in reaches(machine)
        )

    @property
    def source(self) -> Finding:
        """What another source prints."""
        return self.start.other_source().findings[-1]

    @cached_property
    def library(self) -> tuple[Move, ...]:
        """How the library hunted, from the opening text on, by the rules of the evening."""
        hunt, moves = self.start, list[Move]()
        while len(moves) < MOST_MOVES:
            if hunt.findings[-1].mended:
                hunt = hunt.typed(entry.sent for entry in self.opening.entries)
                right = not hunt.diagnosis.evidence.misprints
                why = "to see whether everything prints right now"
                moves.append(Move(hunt.findings[-1], why, True, right))
                if right:
                    break
                continue
            plan = hunt.plan()
            if plan.declares:
                break
            why = _reason(hunt, plan)
            hunt = hunt.follow(plan.option) if plan.option else hunt.mend(plan.part)
            moves.append(Move(hunt.findings[-1], why))
        return tuple(moves)

    @property
    def library_hunt(self) -> Hunt:
        """The hunt that the library made."""
        return Hunt(
            self.sealed, (*self.start.findings, *(move.finding for move in self.library)), None
        )

    @property
    def library_ends(self) -> str:
        """How the library's hunt ended, in a sentence."""
        hunt = self.library_hunt
        spent = f"{hunt.minutes:g} of {self.budget} minutes, the opening text included"
        if not hunt.faults:
            return f"The library put everything right in {spent}."
        left = _count(len(hunt.faults), "fault", "faults")
        return f"The library did not put everything right: {left} left after {spent}."


@dataclass(frozen=True)
class Evening:
    """A club evening.

    Attributes:
        machine: The machine it is about.
        number: From 0 to :data:`MOST_NUMBER`; the same number makes the same evening.
        teams: How many teams hunt.
        minutes: How long the evening takes.
        levels: The level of each team's fault, see :data:`~mechlogic.teaching.sealed.LEVELS`;
        begun anew
            where there are more teams than levels.

    Raises:
        ValueError: For a number, teams, minutes or levels that no evening can have.
    """

    machine: Machine
    number: int
    teams: int = 4
    minutes: int = 120
    levels: tuple[int, ...] = (1, 2)

    def __post_init__(self) -> None:
        _held("the number", self.number, 0, MOST_NUMBER)
        _held("the number of teams", self.teams, 1, MOST_TEAMS)
        _held("the length in minutes", self.minutes, SHORTEST, LONGEST)
        if not self.levels:
            raise ValueError("there is no level. Give one or more, each from 1 to 5.")
        for level in self.levels:
            _held("a level", level, min(LEVELS), max(LEVELS))

    @cached_property
    def timetable(self) -> tuple[Slot, ...]:
        """What is done from when to when; all but the end are whole fives of minutes."""
        slots, share, begins = [], 0, 0
        for part, what, note in _PROGRAMME:
            share += part
            ends = self.minutes if share == 100 else 5 * round(share * self.minutes / 500)
            slots.append(Slot(begins, ends, what, note))
            begins = ends
        return tuple(slots)

    # -- for everybody ----------------------------------------------------------------------------

    @property
    def prose(self) -> tuple[str, ...]:
        """How the machine decodes, in paragraphs."""
        about = " ".join(self.machine.about.split())
        return (about, _assemblies(self.machine), self._example())

    def _example(self) -> str:
        """One character, followed from the code bars to what is seen."""
        machine, codes = self.machine, list(typeable(self.machine))
        Random(f"example {self.number}").shuffle(codes)
        moved = {code: _moved_steps(machine, code) for code in codes}
        short = [code for code in codes if 1 < len(moved[code]) <= MOST_STEPS]
        code = short[0] if short else min(codes, key=lambda one: len(moved[one]))
        return f"Take {machine.code.name(code)}. {' '.join(moved[code])}"

    @property
    def modes(self) -> tuple[Mode, ...]:
        """The modes of fault that this machine can have, the commonest first."""
        mechanism = self.machine.mechanism
        own = dict.fromkeys(fault.mode for fault in single_faults(mechanism))
        own |= dict.fromkeys(fault.mode for fault in line_faults(mechanism))
        return tuple(sorted((MODES[mode] for mode in own), key=lambda mode: -mode.weight))

    @property
    def cautions(self) -> tuple[str, ...]:
        """What can hurt."""
        return CAUTIONS

    @property
    def prices(self) -> tuple[Price, ...]:
        """What each kind of check costs."""
        machine, costs = self.machine, costs_of(self.machine)
        looks = (
            Price(
                f"a look, {reach} off: {_count(len(in_reach(machine, reach, costs)))} in reach",
                costs[reach],
            )
            for reach in reaches(machine)
        )
        return (
            Price("one character sent at speed", costs[TYPE]),
            Price("one character, the shaft turned by hand", costs[HAND]),
            Price("the same text from another source", costs[SOURCE]),
            *looks,
            Price("mending one part, besides what must come off for it", MENDING),
        )

    # -- for each team ----------------------------------------------------------------------------

    @cached_property
    def opening(self) -> tuple[int, ...]:
        """The opening text: the beginning of a sentence, or else characters in a chance order."""
        machine, begins = self.machine, PANGRAM[: PANGRAM.rindex(" ", 0, LONGEST_OPENING + 1)]
        for sentence in (begins, "".join(c for c in begins if c.isalpha() or c == " ")):
            try:
                codes = [machine.code.code(c) for c in sentence]
            except CodeError:
                continue
            wanted = [NOTHING if c == " " else c for c in sentence]
            if good_text(machine, codes) == wanted:
                return tuple(codes)
        rng, text = Random(f"opening {self.number}"), list[int]()
        for _ in range(3):
            once = list(typeable(machine))
            rng.shuffle(once)
            text += once
        return tuple(text[:LONGEST_OPENING])

    @cached_property
    def hunts(self) -> tuple[Team, ...]:
        """The teams, each with a fault that no other has and that the opening text shows."""
        teams = list[Team]()
        for number in range(1, self.teams + 1):
            taken = [team.sealed.faults for team in teams]
            teams.append(self._drawn(number, taken))
        return tuple(teams)

    def _drawn(self, number: int, taken: Sequence[object]) -> Team:
        """A team's fault; the last one drawn if none is as it should be."""
        level = self.levels[(number - 1) % len(self.levels)]
        for draw in count():
            seed = 10_000 * self.number + 100 * number + draw
            team = Team(number, Hunt(Sealed(self.machine, level, seed)).typed(self.opening))
            shows = team.start.diagnosis.evidence.misprints
            if draw == MOST_DRAWS or (shows and team.sealed.faults not in taken):
                return team
        raise AssertionError("never reached: the draws end")

    # -- in a few words ---------------------------------------------------------------------------

    def preview(self) -> str:
        """The evening in a few lines of text that give nothing away."""
        lines = [f"{self.machine.title}: club evening", ""]
        lines += [f"{slot.when:14}  {slot.what}" for slot in self.timetable]
        lines += ["", f"Opening text: {' '.join(map(self.machine.code.name, self.opening))}", ""]
        lines += [
            f"Team {team.number}: level {team.sealed.level} ({LEVELS[team.sealed.level]}), "
            f"{team.budget} minutes"
            for team in self.hunts
        ]
        return "\n".join(lines)


def neutral(machine: Machine) -> int:
    """The neutral character: of those that throw no latch, the one that moves fewest parts."""
    return min(still(machine), key=lambda code: (len(_moved(machine, code)), code))


def still(machine: Machine) -> tuple[int, ...]:
    """The codes that throw no latch of a good machine; all of them if each throws one."""
    codes = range(len(machine.code))
    found = [
        code
        for code in codes
        if all(good_step(machine, code, latched)[1] == latched for latched in cases(machine))
    ]
    return tuple(found or codes)


def cases(machine: Machine) -> tuple[Memory, ...]:
    """Every way in which the latches of a good machine can stand."""
    return tuple(steps(machine, ()))


def _case(machine: Machine, latched: Memory) -> str:
    places = zip(machine.mechanism.latches, latched, strict=True)
    return listed(
        f"{machine.label(name)} in {stand(machine, name, place)}" for name, place in places
    )


def _moved(machine: Machine, code: int) -> dict[str, str]:
    """The parts of a good machine that stand away from rest for a code, each with its sentence."""
    setting = machine.as_set(code)
    at = {step.part: step.says for step in explain(machine, setting)}
    places = machine.healthy.places
    rest = machine.mechanism.rest
    return {n: at[n] for n in places if place_in_row(places[n], setting) != rest[n]}


def _moved_steps(machine: Machine, code: int) -> tuple[str, ...]:
    """What is said of the parts that move for a code, and of what is seen."""
    last = explain(machine, machine.as_set(code))[-1].says
    return (*_moved(machine, code).values(), last)


def _assemblies(machine: Machine) -> str:
    """What parts there are, assembly by assembly."""
    groups: dict[str, list[str]] = {}
    for part in machine.mechanism:
        groups.setdefault(part.group, []).append(machine.label(part.name))
    said = [
        f"{group} ({listed(labels) if len(labels) <= MOST_NAMED else f'{len(labels)} of them'})"
        for group, labels in groups.items()
    ]
    parity = "" if machine.parity == "none" else f", a bit for {machine.parity} parity among them"
    units = f"A character is {machine.units} bits ({machine.code.title}{parity})."
    if machine.mechanism.keys:
        units = f"It has {len(machine.mechanism.keys)} keys, one for each character."
    idle = [the(machine.label(name)) for name in machine.declared.no_part_at_all]
    unused = f" {capitalised(listed(idle))} play{'s' * (len(idle) == 1)} no part." if idle else ""
    return f"{units} Its {len(machine.mechanism.parts)} parts: {'; '.join(said)}.{unused}"


def _reason(hunt: Hunt, plan: Plan) -> str:
    """Why the library does what it plans."""
    if plan.option is None:
        return f"at least {percent(SURE)} sure that it is at fault, or nothing tells more"
    number, _ = count_suspects(hunt.diagnosis)
    doubt = percent(plan.option.share)
    return f"{_count(number, 'suspect', 'suspects')}; expected to remove {doubt} of the doubt"


def _held(what: str, value: object, least: int, most: int) -> None:
    """Refuse what is no whole number between two."""
    if not isinstance(value, int) or isinstance(value, bool) or not least <= value <= most:
        raise ValueError(f"{what} is {value!r}. Give a whole number from {least} to {most}.")


def _count(n: int, one: str = "part", many: str = "parts") -> str:
    return f"{n} {one if n == 1 else many}"


def _clock(minutes: int) -> str:
    return f"{minutes // 60}:{minutes % 60:02}"
