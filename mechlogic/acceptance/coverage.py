"""What a text shows: which faults misprint in it for certain, which perhaps, which never, and why.

A text shows a fault if at least one of its characters prints otherwise than on a good machine.
Before the first character the machine may have been doing anything, and what a half-way part does
is chance; so each fault has an exact *chance* of being shown, a fraction.  It is 1 just when every
run of the faulty machine misprints, and 0 just when none does.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import cached_property
from typing import Literal

from mechlogic.bench.diagnosis import classes
from mechlogic.bench.story import hypothesis_label
from mechlogic.explaining.words import listed, percent
from mechlogic.helpers.kept import kept
from mechlogic.model.behaviour import Behaviour
from mechlogic.model.faults import HALF_WAY, SLUGGISH, Hypothesis
from mechlogic.model.logbook import NOTHING
from mechlogic.model.machine import Machine
from mechlogic.model.steps import Memory, good_memory, good_step, steps
from mechlogic.model.table import Column

Verdict = Literal["certain", "possible", "no"]

LONGEST = 4
"""How many characters are tried, one after the other, to show a fault for certain."""

MOST_NAMED = 4
"""How many characters a sentence names before it only counts them."""


@dataclass(frozen=True)
class Finding:
    """What a text does for one class of faults.

    Attributes:
        members: Hypotheses that no print can tell apart.
        chance: Chance that the text shows it; of several members, the least.
        why: Why the text does not show it for certain; empty if it does.
    """

    members: tuple[Hypothesis, ...]
    chance: Fraction
    why: str

    @property
    def verdict(self) -> Verdict:
        """Whether the text shows it: for certain, perhaps, or not at all."""
        if self.chance == 1:
            return "certain"
        return "possible" if self.chance else "no"


@dataclass(frozen=True)
class Coverage:
    """What a text shows of every class of single faults.

    Attributes:
        machine: The machine.
        codes: The text, without parity.
        at_speed: Whether it is sent at speed, one character after the other; else the shaft is
            turned by hand for each.
        findings: One for each class that some print can show.
        hidden: The faults that no print of this machine can show.
    """

    machine: Machine
    codes: tuple[int, ...]
    at_speed: bool
    findings: tuple[Finding, ...]
    hidden: tuple[Hypothesis, ...]

    @cached_property
    def certain(self) -> tuple[Finding, ...]:
        """The classes that every run shows."""
        return self._with("certain")

    @cached_property
    def possible(self) -> tuple[Finding, ...]:
        """The classes that some runs show and some do not."""
        return self._with("possible")

    @cached_property
    def missed(self) -> tuple[Finding, ...]:
        """The classes that no run shows."""
        return self._with("no")

    def _with(self, verdict: Verdict) -> tuple[Finding, ...]:
        return tuple(finding for finding in self.findings if finding.verdict == verdict)

    def find(self, faults: Hypothesis) -> Finding | None:
        """The finding for a hypothesis; None if no print can show it, or it is not on the list."""
        return next((f for f in self.findings if faults in f.members), None)

    def summary(self) -> str:
        """One sentence: how many classes are shown."""
        n = len(self.findings)
        return (
            f"Of {n} kinds of misprint that one fault can cause, this text shows "
            f"{len(self.certain)} for certain and {len(self.possible)} by chance; it cannot show "
            f"{len(self.missed)}."
        )

    def report(self) -> tuple[str, ...]:
        """What is not shown for certain, and why: a line for each class, those missed first.

        Half-way parts, which nothing shows for certain, share one line.
        """
        hanging = [finding for finding in self.possible if _half_way(finding.members[0])]
        others = [finding for finding in self.possible if finding not in hanging]
        lines = [
            f"{class_label(self.machine, finding.members)}. {finding.why}"
            for finding in (*self.missed, *others)
        ]
        if hanging:
            odds = (
                f"{listed(self.machine.label(fault.part) for fault in finding.members[0])} "
                f"{percent(finding.chance)}"
                for finding in hanging
            )
            lines.append(
                "Half-way: by chance only, for what hangs half-way may happen to act right. "
                f"Chance to show it: {', '.join(odds)}."
            )
        if hidden := [faults for faults in self.hidden if faults]:
            lines.append(f"{class_label(self.machine, hidden)}. No print can show it.")
        return tuple(lines)


def coverage(machine: Machine, text_codes: Iterable[int], at_speed: bool = True) -> Coverage:
    """What a text, sent once from an unknown start, shows of every class of single faults.

    Args:
        machine: The machine.
        text_codes: What is sent, without parity.
        at_speed: Whether the machine is driven at speed; False if the shaft is turned by hand.

    Raises:
        CodeError: If a number is not a code of this machine.
    """
    codes = tuple(text_codes)
    for code in set(codes):
        machine.code.name(code)
    findings = []
    hidden: tuple[Hypothesis, ...] = ()
    for members in classes(machine):
        if () in members:
            hidden = members
            continue
        chance, faults = min((chance_shown(machine, f, codes, at_speed), f) for f in members)
        why = "" if chance == 1 else _why(machine, faults, chance, at_speed)
        findings.append(Finding(members, chance, why))
    return Coverage(machine, codes, at_speed, tuple(findings), hidden)


def chance_shown(
    machine: Machine, faults: Hypothesis, codes: Sequence[int], at_speed: bool = True
) -> Fraction:
    """The chance that a faulty machine misprints at least one character of a text.

    Before the first character every memory is equally likely, as is every outcome of chance in
    every cycle.  The answer is exact: 1 just when every run misprints, and 0 just when none does.
    """
    right, starts = _right_runs(machine, faults, at_speed)
    n_chances = len(Behaviour(machine, faults).chances)
    unseen = dict.fromkeys(starts, 1)
    runs = len(starts)
    for code in codes:
        now: Counter[State] = Counter()
        for state, ways in unseen.items():
            for after, outcomes in right[state][code].items():
                now[after] += ways * outcomes
        unseen, runs = dict(now), runs * n_chances
        if not unseen:
            break
    return 1 - Fraction(sum(unseen.values()), runs)


@dataclass(frozen=True)
class Showing:
    """Which characters show a hypothesis for certain, at speed.

    Attributes:
        alone: The codes that show it whatever came before.
        after: For each code before, the codes that show it after that one.
        perhaps: The codes that show it in some run.
    """

    alone: Column
    after: tuple[Column, ...]
    perhaps: Column

    @property
    def certain(self) -> bool:
        """Whether one character, or one after another, shows it for certain."""
        return bool(self.alone or any(self.after))

    def codes(self) -> tuple[int, ...]:
        """The codes that show it whatever came before, rising."""
        return _numbers(self.alone)

    def pairs(self) -> tuple[tuple[int, int], ...]:
        """(before, now): each code that shows it only after some other."""
        return tuple(
            (before, now)
            for before, column in enumerate(self.after)
            for now in _numbers(column & ~self.alone)
        )


@kept(10_000)
def showing(machine: Machine, faults: Hypothesis) -> Showing:
    """Which characters, alone or after another, show a hypothesis for certain."""
    right, _ = _right_runs(machine, faults, True)
    n_chances = len(Behaviour(machine, faults).chances)
    n = len(machine.code)
    wrong = {
        state: sum(1 << code for code in range(n) if not after[code])
        for state, after in right.items()
    }
    every = (1 << n) - 1

    def both(states: Iterable[State]) -> Column:
        column = every
        for state in states:
            column &= wrong[state]
        return column

    alone = both(right)
    after = tuple(
        alone if alone >> before & 1 else both({s for one in right.values() for s in one[before]})
        for before in range(n)
    )
    perhaps = sum(
        1 << code
        for code in range(n)
        if any(sum(one[code].values()) < n_chances for one in right.values())
    )
    return Showing(alone, after, perhaps)


@kept(10_000)
def certain_text(
    machine: Machine, faults: Hypothesis, codes: tuple[int, ...]
) -> tuple[int, ...] | None:
    """The shortest text that shows a hypothesis for certain, whatever was sent before it.

    Args:
        machine: The machine.
        faults: The hypothesis.
        codes: What may be sent, in order of liking.

    Returns:
        The text, or None if none of :data:`LONGEST` characters does it.
    """
    right, _ = _right_runs(machine, faults, True)
    return text_from(right, frozenset(right), codes)


def text_from(
    right: "Runs", states: frozenset["State"], codes: tuple[int, ...]
) -> tuple[int, ...] | None:
    """The shortest text after which no run from any of these states has printed all right."""
    texts: dict[frozenset[State], tuple[int, ...]] = {states: ()}
    edge = [states]
    for _ in range(LONGEST):
        further = []
        for here in edge:
            for code in codes:
                left = frozenset(after for state in here for after in right[state][code])
                if not left:
                    return (*texts[here], code)
                if left not in texts:
                    texts[left] = (*texts[here], code)
                    further.append(left)
        edge = further
    return None


def missing_text(
    machine: Machine, faults: Hypothesis, text: Iterable[int], codes: tuple[int, ...]
) -> tuple[int, ...]:
    """The shortest text to add to one, so that the two together show a hypothesis for certain.

    Empty if the text shows it already, or if no addition of :data:`LONGEST` characters does.
    """
    right, starts = _right_runs(machine, faults, True)
    unseen = frozenset(starts)
    for code in text:
        unseen = frozenset(after for state in unseen for after in right[state][code])
    return text_from(right, unseen, codes) or () if unseen else ()


def shows_as_much(machine: Machine, text: Sequence[int]) -> Callable[[tuple[int, ...]], bool]:
    """A test of other texts: whether they show for certain all single faults that this one shows.

    Whatever was sent before, and sent at speed.
    """
    singles = [faults for members in classes(machine) if () not in members for faults in members]
    shown = [f for f in singles if chance_shown(machine, f, text) == 1]
    runs = [_right_runs(machine, faults, True) for faults in shown]
    after: list[dict[tuple[frozenset[State], int], frozenset[State]]] = [{} for _ in runs]
    order = list(range(len(runs)))

    def shows(number: int, codes: tuple[int, ...]) -> bool:
        right, starts = runs[number]
        known, unseen = after[number], frozenset(starts)
        for code in codes:
            if (unseen, code) not in known:
                left = frozenset(then for state in unseen for then in right[state][code])
                known[unseen, code] = left
            unseen = known[unseen, code]
            if not unseen:
                return True
        return False

    def as_much(codes: tuple[int, ...]) -> bool:
        for place, number in enumerate(order):
            if not shows(number, codes):
                order.insert(0, order.pop(place))  # what one text lacks, the next may lack too
                return False
        return True

    return as_much


State = tuple[Memory, Memory]
"""What a faulty machine remembers, and what a good one that was sent the same would."""

Runs = Mapping[State, Sequence[Mapping[State, int]]]
"""For each state and code, the states after a right print, with the outcomes of chance."""


@kept(10_000)
def _right_runs(
    machine: Machine, faults: Hypothesis, at_speed: bool
) -> tuple[Runs, tuple[State, ...]]:
    """The runs that print right, for every state that can be reached, and the states to begin with.

    The good machine is taken to begin with its latches as the faulty one has them.
    """
    table = steps(machine, faults, at_speed)
    starts = tuple((memory, good_memory(machine, faults, memory)) for memory in table)
    found: dict[State, list[Counter[State]]] = {}
    waiting = list(starts)
    while waiting:
        state = waiting.pop()
        if state in found:
            continue
        memory, good = state
        found[state] = []
        for code, outcomes in enumerate(table[memory]):
            seen, then = good_step(machine, code, good)
            after = Counter({(m, then): n for (print_, m), n in outcomes.items() if print_ == seen})
            found[state].append(after)
            waiting += after
    return found, starts


# -- why not ---------------------------------------------------------------------------------------


def class_label(machine: Machine, members: Sequence[Hypothesis]) -> str:
    """The first fault of a class, and how many others no print tells from it."""
    faults = [one for one in members if one]
    more = f" (or {len(faults) - 1} more that print alike)" if len(faults) > 1 else ""
    return f"{hypothesis_label(machine, faults[0])}{more}"


def readability(machine: Machine, code: int) -> int:
    """How easily a character is typed and read: 0 for a capital letter, more for others.

    Of the control characters CR and LF come first: every teleprinter text holds them, and they do
    no more than move paper and carriage.
    """
    character = machine.code.character(code)
    if _silent(machine, code):
        return 4 if character in "\r\n" else 6
    if machine.good_print(code) == NOTHING:
        return 5
    if character.isupper():
        return 0
    return 1 if character.isdigit() else 2 if not character.isalpha() else 3


def _half_way(faults: Hypothesis) -> bool:
    return any(fault.mode == HALF_WAY.name for fault in faults)


def _why(machine: Machine, faults: Hypothesis, chance: Fraction, at_speed: bool) -> str:
    if not at_speed and any(fault.mode in SLUGGISH for fault in faults):
        return "It needs speed: turned by hand, a sluggish part is in time."
    shows = showing(machine, faults)
    if len(Behaviour(machine, faults).chances) > 1 and not shows.certain:
        hangs = "hangs half-way and " if _half_way(faults) else ""
        luck = f"it {hangs}may happen to act right"
        if chance:
            return f"Only by chance, {percent(chance)} of the time: {luck}."
        return f"It needs {_one_of(machine, _numbers(shows.perhaps))}, and then by chance: {luck}."
    lucky = f" (unless it stood wrong at first, {percent(chance)})" if chance else ""
    if codes := shows.codes():
        return f"It needs {_one_of(machine, codes)}{lucky}."
    if pairs := shows.pairs():
        return f"It needs {_one_change(machine, pairs)}{lucky}."
    if text := certain_text(machine, faults, tuple(range(len(machine.code)))):
        names = " ".join(map(machine.code.name, text))
        return f"It needs a longer text, such as {names}{lucky}."
    return f"It shows only if it stood wrong before the first character, {percent(chance)}."


def _one_of(machine: Machine, codes: Sequence[int]) -> str:
    nicest = sorted(codes, key=lambda code: (readability(machine, code), code))
    names = [machine.code.name(code) for code in nicest]
    if all(_silent(machine, code) for code in codes):
        return f"a control character, such as {names[0]}"
    if len(names) <= MOST_NAMED:
        return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} or {names[-1]}"
    return f"one of {len(names)} characters, such as {names[0]}"


def _one_change(machine: Machine, pairs: Sequence[tuple[int, int]]) -> str:
    before, now = min(
        pairs, key=lambda pair: (sum(readability(machine, code) for code in pair), pair)
    )
    change = f"{machine.code.name(now)} after {machine.code.name(before)}"
    if _silent(machine, before) or _silent(machine, now):
        return f"a control character: {change}, for example"
    return change if len(pairs) == 1 else f"{change}, or another of {len(pairs)} such changes"


def _silent(machine: Machine, code: int) -> bool:
    return not machine.code.character(code).isprintable()


def _numbers(column: Column) -> tuple[int, ...]:
    return tuple(i for i in range(column.bit_length()) if column >> i & 1)
