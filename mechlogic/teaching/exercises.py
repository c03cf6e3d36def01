"""Exercises drawn from a number: a second try differs, and the same number asks the same again.

Every question is made of the machine itself, so that it stays right when the machine is changed.
Each comes with graded hints and a worked solution.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from random import Random

from mechlogic.bench.story import deviations
from mechlogic.explaining.words import (
    capitalised,
    displacement,
    explain,
    fault_sentence,
    listed,
    the,
)
from mechlogic.model.behaviour import Behaviour, World
from mechlogic.model.faults import (
    DISCONNECTED,
    SLUGGISH,
    STUCK_AT_REST,
    STUCK_OPERATED,
    Fault,
    single_faults,
)
from mechlogic.model.logbook import UNREADABLE
from mechlogic.model.machine import Machine
from mechlogic.model.outputs import OUTPUT
from mechlogic.model.steps import Memory, at_rest, good_memory, good_step, good_text, steps
from mechlogic.model.table import place_in_row

MOST_ATTEMPTS = 500
"""How often a question is drawn anew before it is given up."""

MOST_OPTIONS = 5
"""How many answers are on offer."""

STEADY = frozenset({STUCK_AT_REST.name, STUCK_OPERATED.name, DISCONNECTED.name})
"""The modes of a part that is stuck or unhooked."""


@dataclass(frozen=True)
class Exercise:
    """A question with answers to choose from.

    Attributes:
        prompt: The question.
        options: The answers on offer.
        right: Those of them that are right.
        hints: The gentlest first.
        because: The worked solution.
    """

    prompt: str
    options: tuple[str, ...]
    right: frozenset[str]
    hints: tuple[str, ...]
    because: str

    @property
    def asked(self) -> dict[str, object]:
        """What :func:`mechlogic.widgets.choice` is to be given."""
        check: Callable[[str], bool] = self.right.__contains__
        return {
            "prompt": self.prompt,
            "options": self.options,
            "right": check,
            "hint": self.hints,
            "because": self.because,
        }


def what_is_shown(machine: Machine, seed: int) -> Exercise:
    """What a good machine shows for one setting of its bars, or for one key.

    Args:
        machine: The machine.
        seed: Any number.
    """
    rng = Random(f"shown {machine.name} {seed}")
    code = rng.choice(machine.printing_codes)
    right = machine.good_print(code)
    steps_ = [one for one in explain(machine, machine.as_set(code)) if one.part != OUTPUT]
    moved = [one.says for one in steps_ if _moves(machine, one.part, code)]
    setting = _setting(machine, code)
    idle = " (Every latch stands at rest.)" if machine.mechanism.latches else ""
    return Exercise(
        f"{setting} What does a good machine show?{idle}",
        offers(rng, right, _shows_near(machine, code)),
        frozenset({said(right)}),
        (
            "Begin at what is sent, and ask of each part in turn: who touches it?",
            *moved[:1],
            f"The last to move: {moved[-1]}" if moved else "No part moves at all.",
        ),
        " ".join([*moved, f"So it shows {quoted(right)}."]),
    )


def what_goes_wrong(machine: Machine, seed: int) -> Exercise:
    """What a machine with one steady fault shows for a character that it gets wrong.

    Args:
        machine: The machine.
        seed: Any number.
    """
    for rng in attempts("wrong", machine, seed):
        fault = rng.choice([f for f in single_faults(machine.mechanism) if f.mode in STEADY])
        table, start = steps(machine, (fault,)), started(machine, fault)
        wrong = [
            code
            for code in machine.printing_codes
            if outcome_of(table, start, code)[0] != machine.good_print(code)
        ]
        if wrong:
            break
    code = rng.choice(wrong)
    right, good = outcome_of(table, start, code)[0], machine.good_print(code)
    chain = chain_of(machine, fault, code, start)
    others = [good, *_shows_near(machine, code)]
    return Exercise(
        f"{fault_sentence(machine, fault)} {sent(machine, code)} is sent. What is seen?",
        offers(rng, right, others),
        frozenset({said(right)}),
        (
            "Which parts should move for this character, and which of them cannot now?",
            f"The first that stands wrong: {chain[0]}." if chain else "Look at the last part.",
        ),
        f"{capitalised(listed(chain))}. So {quoted(right)} is seen where {quoted(good)} belongs.",
    )


def what_comes_late(machine: Machine, seed: int) -> Exercise:
    """What a machine with one sluggish part shows for the second of two characters at speed.

    Args:
        machine: The machine.
        seed: Any number.
    """
    for rng in attempts("late", machine, seed):
        fault = rng.choice([f for f in single_faults(machine.mechanism) if f.mode in SLUGGISH])
        table = steps(machine, (fault,))
        before, code = rng.sample(machine.printing_codes, 2)
        start = started(machine, fault)
        _, then = outcome_of(table, start, before)
        _, well = good_step(machine, before, good_memory(machine, (fault,), start))
        good = good_step(machine, code, well)[0]
        right = outcome_of(table, then, code)[0]
        if right != good:
            break
    one, two = sent(machine, before), sent(machine, code)
    chain = chain_of(machine, fault, code, then, well)
    return Exercise(
        f"{fault_sentence(machine, fault)} At speed {one} is sent, and then {two}. "
        f"What is seen for {two}?",
        offers(rng, right, [good, machine.good_print(before), *_shows_near(machine, code)]),
        frozenset({said(right)}),
        (
            f"Where did {one} ask the part to stand, and where does {two} ask it to?",
            f"It comes too late, so it still stands as {one} had it. What does that change?",
        ),
        f"After {one}, {listed(chain)}. So {quoted(right)} is seen where {quoted(good)} belongs.",
    )


def who_did_it(machine: Machine, seed: int) -> Exercise:
    """Which of a few parts, stuck or unhooked, made the misprints of a short text.

    Args:
        machine: The machine.
        seed: Any number.
    """
    faults = [f for f in single_faults(machine.mechanism) if f.mode in STEADY]
    for rng in attempts("who", machine, seed):
        text = rng.sample(machine.printing_codes, min(4, len(machine.printing_codes)))
        true = rng.choice(faults)
        seen = text_with(machine, true, text)
        good = good_text(machine, text)
        if seen == good:
            continue
        guilty = {f.part for f in faults if text_with(machine, f, text) == seen}
        innocent = [name for name in machine.mechanism.parts if name not in guilty]
        if len(innocent) >= MOST_OPTIONS - 1:
            break
    labels = [machine.label(true.part)]
    labels += [machine.label(name) for name in rng.sample(innocent, MOST_OPTIONS - 1)]
    lines = zip(text, seen, strict=True)
    told = ", ".join(f"{sent(machine, code)}: {quoted(print_)}" for code, print_ in lines)
    first = next(
        code for code, print_, well in zip(text, seen, good, strict=True) if print_ != well
    )
    chain = chain_of(machine, true, first, started(machine, true))
    return Exercise(
        f"This was sent, and this was seen: {told}. Which of these parts, stuck or unhooked, "
        "can have done it alone?",
        tuple(sorted(labels)),
        frozenset(labels[:1]),
        (
            f"Begin with {sent(machine, first)}. Which parts does it need?",
            "Then hold your part against the characters that came out right.",
        ),
        f"{fault_sentence(machine, true)} For {sent(machine, first)}, {listed(chain)}.",
    )


KINDS: Mapping[str, Callable[[Machine, int], Exercise]] = {
    "shown": what_is_shown,
    "wrong": what_goes_wrong,
    "late": what_comes_late,
    "who": who_did_it,
}
"""The kinds of exercise by name."""


# -- drawing ---------------------------------------------------------------------------------------


def attempts(kind: str, machine: Machine, seed: int) -> Iterator[Random]:
    """Draws from a number, one after the other, until one of them makes a question.

    Raises:
        ValueError: If none does: the machine is too small for such a question.
    """
    for attempt in range(MOST_ATTEMPTS):
        yield Random(f"{kind} {machine.name} {seed} {attempt}")
    raise ValueError(f"{machine.title} gives no exercise of the kind {kind!r}. Take another kind.")


def started(machine: Machine, fault: Fault) -> Memory:
    """What is remembered by a machine that has stood idle."""
    rest = machine.mechanism.rest
    return tuple(rest[name] for name in Behaviour(machine, (fault,)).remembering)


def outcome_of(
    table: Mapping[Memory, Sequence[Mapping[tuple[str, Memory], int]]], memory: Memory, code: int
) -> tuple[str, Memory]:
    """What is seen and remembered; a steady or a late fault leaves nothing to chance."""
    (outcome,) = table[memory][code]
    return outcome


def text_with(machine: Machine, fault: Fault, text: Sequence[int]) -> list[str]:
    """What a machine with a steady or a late fault, idle before, shows for a text sent at speed."""
    table, memory, seen = steps(machine, (fault,)), started(machine, fault), []
    for code in text:
        print_, memory = outcome_of(table, memory, code)
        seen.append(print_)
    return seen


# -- wording ---------------------------------------------------------------------------------------


def said(seen: str) -> str:
    """What is seen, as an answer to choose."""
    return "something unreadable" if seen == UNREADABLE else seen


def quoted(seen: str) -> str:
    """What is seen, in a sentence: a sign in quotation marks, so that it is not read as a stop."""
    signs = len(seen) == 1 and not seen.isalnum()
    return f"“{seen}”" if signs else said(seen)


def sent(machine: Machine, code: int) -> str:
    """A character that is sent, in a sentence."""
    return quoted(machine.code.name(code))


def _setting(machine: Machine, code: int) -> str:
    """What is sent, without naming the character where bars are set."""
    if not machine.mechanism.bars:
        return f"The key {sent(machine, code)} is pressed."
    setting = machine.as_set(code)
    bars = [
        machine.label(name)
        for name, bar in machine.mechanism.bars.items()
        if setting >> (bar.bit - 1) & 1
    ]
    if not bars:
        return "No bar is set."
    return f"{capitalised(listed(map(the, bars)))} {'is' if len(bars) == 1 else 'are'} set."


def _moves(machine: Machine, part: str, code: int) -> bool:
    place = place_in_row(machine.healthy.places[part], machine.as_set(code))
    return place != machine.mechanism.rest[part]


def _neighbours(machine: Machine, code: int) -> list[int]:
    """Codes that print, those that differ in the fewest bits first."""
    return sorted(
        (other for other in machine.printing_codes if other != code),
        key=lambda other: ((code ^ other).bit_count(), other),
    )


def _shows_near(machine: Machine, code: int) -> list[str]:
    return [machine.good_print(other) for other in _neighbours(machine, code)]


def offers(rng: Random, right: str, others: Sequence[str]) -> tuple[str, ...]:
    """The right answer among the first few others, in an order that tells nothing."""
    found = list(dict.fromkeys(map(said, (right, *others))))[:MOST_OPTIONS]
    rng.shuffle(found)
    return tuple(found)


def chain_of(
    machine: Machine, fault: Fault, code: int, memory: Memory, good: Memory | None = None
) -> list[str]:
    """The parts that stand elsewhere than in a good machine, in words."""
    behaviour = Behaviour(machine, (fault,))
    world = World(memory, behaviour.chances[0])
    good = at_rest(machine) if good is None else good
    latched = dict(zip(machine.mechanism.latches, good, strict=True))
    return [
        f"{the(machine.label(one.part))} "
        f"{'is' if machine.mechanism.unit(one.part) == 'contact' else 'stands at'} "
        f"{displacement(machine, one.part, one.found)} "
        f"instead of {displacement(machine, one.part, one.healthy)}"
        for one in deviations(behaviour, code, world, latched=latched)
    ]
