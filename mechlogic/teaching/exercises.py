"""Exercises drawn from a number: a second try differs, and the same number asks the same again.

Every question is made of the machine itself, so that it stays right when the machine is changed.
Each comes with graded hints and a worked solution.
"""

from collections.abc import Callable, Container, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from random import Random
from typing import TypeVar

from mechlogic.bench.story import deviations
from mechlogic.explaining.words import (
    capitalised,
    displacement,
    explain,
    fault_sentence,
    listed,
    the,
    uncapitalised,
)
from mechlogic.model.behaviour import Behaviour, World
from mechlogic.model.faults import (
    DISCONNECTED,
    SLUGGISH,
    STUCK_AT_REST,
    STUCK_OPERATED,
    Fault,
    Hypothesis,
    single_faults,
)
from mechlogic.model.logbook import UNREADABLE
from mechlogic.model.machine import Machine
from mechlogic.model.outputs import OUTPUT
from mechlogic.model.steps import Memory, good_text, steps
from mechlogic.model.table import place_in_row

T = TypeVar("T")

MOST_ATTEMPTS = 500
"""How often a question is drawn anew before it is given up."""

MOST_OPTIONS = 5
"""How many answers are on offer."""

FAULTS_TRIED = 24
"""How many faults a question chooses from."""

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
        takes: For wrong answers, a sentence on what it would take for them to be right.
    """

    prompt: str
    options: tuple[str, ...]
    right: frozenset[str]
    hints: tuple[str, ...]
    because: str
    takes: Mapping[str, str] = field(default_factory=dict)

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
            "takes": self.takes,
        }


def one_of(rng: Random, cases: Mapping[str, T]) -> tuple[str, dict[str, T]]:
    """One of several cases to ask about, and the cases whose answers are on offer.

    Every answer on offer is right in a case of its own, and each case is asked about equally
    often. So nothing about an answer (its place, length, wording or kind) tells whether it is
    right, and of each wrong one it can be said when it would be right.

    Args:
        rng: Where the choice comes from.
        cases: What to ask about, by the answer; the nearest first.
    """
    offered = dict(list(cases.items())[:MOST_OPTIONS])
    answers = rng.sample(sorted(offered), len(offered))
    return rng.choice(answers), {answer: offered[answer] for answer in answers}


def what_is_shown(machine: Machine, seed: int) -> Exercise:
    """What a good machine shows for one setting of its bars, or for one key.

    The wrong answers belong to settings with one bit more or less, or with the bits read in the
    other order.
    """
    rng = Random(f"shown {machine.name} {seed}")
    right, cases = one_of(rng, _shows_near(machine, rng.choice(machine.printing_codes)))
    code = cases.pop(right)
    steps_ = [one for one in explain(machine, machine.as_set(code)) if one.part != OUTPUT]
    moved = [one.says for one in steps_ if _moves(machine, one.part, code)]
    idle = " (Every latch stands at rest.)" if machine.mechanism.latches else ""
    return Exercise(
        f"{_setting(machine, code)} What does a good machine show?{idle}",
        _shuffled(rng, (right, *cases)),
        frozenset({right}),
        (
            "Begin at what is sent, and ask of each part in turn: who touches it?",
            *moved[:1],
            f"The last to move: {moved[-1]}" if moved else "No part moves at all.",
        ),
        " ".join([*moved, f"So it shows {quoted(machine.good_print(code))}."]),
        {seen: f"That is shown otherwise: {_setting(machine, c)}" for seen, c in cases.items()},
    )


def what_goes_wrong(machine: Machine, seed: int) -> Exercise:
    """What a machine with one steady fault shows for a character, which may be the right one.

    The wrong answers are what other faults would show, those of nearby parts first.
    """
    for rng in attempts("wrong", machine, seed):
        code = rng.choice(machine.printing_codes)
        cases = dict[str, Fault]()
        for fault in _near_faults(machine, rng, STEADY):
            (seen,) = text_with(machine, fault, [code])
            cases.setdefault(said(seen), fault)
        if len(cases) > 2:
            break
    right, cases = one_of(rng, cases)
    fault, good = cases.pop(right), machine.good_print(code)
    chain = chain_of(machine, fault, [code])
    return Exercise(
        f"{fault_sentence(machine, fault)} {sent(machine, code)} is sent. What is seen?",
        _shuffled(rng, (right, *cases)),
        frozenset({right}),
        (
            "Which parts should move for this character, and which of them cannot now?",
            f"The first that stands wrong: {chain[0]}."
            if chain
            else "Does any part stand elsewhere than in a good machine?",
        ),
        _seen_because(chain, right, good),
        {seen: f"It would take another fault: {_small(machine, f)}" for seen, f in cases.items()},
    )


def what_comes_late(machine: Machine, seed: int) -> Exercise:
    """What a machine with one sluggish part shows for the second of two characters at speed.

    The wrong answers are what would be seen after another character, or if another part were late.
    """
    for rng in attempts("late", machine, seed):
        code = rng.choice(machine.printing_codes)
        some = rng.sample(machine.printing_codes, min(8, len(machine.printing_codes)))
        late = dict[str, tuple[Fault, int]]()
        for fault in _near_faults(machine, rng, SLUGGISH):
            for before in some:
                _, seen = text_with(machine, fault, [before, code])
                late.setdefault(said(seen), (fault, before))
        if len(late) > 2:
            break
    right, late = one_of(rng, late)
    fault, before = late.pop(right)
    one, two = sent(machine, before), sent(machine, code)
    chain = chain_of(machine, fault, [before, code])
    because = _seen_because(chain, right, good_text(machine, [before, code])[1])
    return Exercise(
        f"{fault_sentence(machine, fault)} At speed {one} is sent, and then {two}. "
        f"What is seen for {two}?",
        _shuffled(rng, (right, *late)),
        frozenset({right}),
        (
            f"Where did {one} ask the part to stand, and where does {two} ask it to?",
            f"If it comes too late, it still stands as {one} had it. Does that change anything?",
        ),
        f"After {one}: {because}",
        {
            seen: f"It would take {sent(machine, c)} before it, and another fault: "
            f"{_small(machine, f)}"
            for seen, (f, c) in late.items()
        },
    )


def who_did_it(machine: Machine, seed: int) -> Exercise:
    """Which of a few parts, stuck or unhooked, made the misprints of a short text."""
    for rng in attempts("who", machine, seed):
        text = rng.sample(machine.printing_codes, min(4, len(machine.printing_codes)))
        good, shows = good_text(machine, text), dict[str, list[Fault]]()
        for fault in _near_faults(machine, rng, STEADY):
            shows.setdefault(fault.part, []).append(fault)
        made = dict[str, tuple[Fault, list[str]]]()
        others = list[list[str]]()
        for part, faults in shows.items():
            prints = {fault: text_with(machine, fault, text) for fault in faults}
            taken = [seen for _, seen in made.values()]
            true = [f for f, seen in prints.items() if seen != good and seen not in others]
            if true and not any(seen in taken for seen in prints.values()):
                made[machine.label(part)] = true[0], prints[true[0]]
                others += prints.values()
        if len(made) > 2:
            break
    right, made = one_of(rng, made)
    fault, seen = made.pop(right)
    told = ", ".join(
        f"{sent(machine, code)}: {quoted(print_)}" for code, print_ in zip(text, seen, strict=True)
    )
    first = _first_other(text, seen, good)
    return Exercise(
        f"This was sent, and this was seen: {told}. Which of these parts, stuck or unhooked, "
        "can have done it alone?",
        _shuffled(rng, (right, *made)),
        frozenset({right}),
        (
            f"Begin with {sent(machine, text[first])}. Which parts does it need?",
            "Then hold your part against the characters that came out right.",
        ),
        f"{fault_sentence(machine, fault)} For {sent(machine, text[first])}, "
        f"{listed(chain_of(machine, fault, [text[first]]))}.",
        {
            label: f"It would take another print, for example {quoted(other[at])} for "
            f"{sent(machine, text[at])}."
            for label, (_, other) in made.items()
            for at in [_first_other(text, other, seen)]
        },
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


def text_with(machine: Machine, fault: Fault, text: Iterable[int]) -> list[str]:
    """What a machine with a steady or a late fault, idle before, shows for a text sent at speed."""
    return _sent_to(machine, (fault,), text)[0]


def _sent_to(machine: Machine, faults: Hypothesis, text: Iterable[int]) -> tuple[list[str], Memory]:
    """What a machine, idle before, shows for a text and then remembers; chance has no say."""
    table, seen = steps(machine, faults), []
    memory = tuple(machine.mechanism.rest[name] for name in Behaviour(machine, faults).remembering)
    for code in text:
        ((print_, memory),) = table[memory][code]
        seen.append(print_)
    return seen, memory


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


def _shows_near(machine: Machine, pivot: int) -> dict[str, int]:
    """A few codes that print differently, by their prints: near one code, and its bits reversed."""
    n = max((len(machine.code) - 1).bit_length(), 1)
    turned = int(f"{pivot:0{n}b}"[::-1], 2)
    near = sorted(
        machine.printing_codes,
        key=lambda code: (code != pivot, code != turned, (code ^ pivot).bit_count(), code),
    )
    found = dict[str, int]()
    for code in near:
        found.setdefault(said(machine.good_print(code)), code)
    return found


def _near_faults(machine: Machine, rng: Random, modes: Container[str]) -> list[Fault]:
    """Faults of these modes, those of one part first, then those of the parts nearest to it."""
    faults = [f for f in single_faults(machine.mechanism) if f.mode in modes]
    order = {name: at for at, name in enumerate(machine.mechanism.parts)}
    pivot = order[rng.choice(faults).part]
    rng.shuffle(faults)
    return sorted(faults, key=lambda f: abs(order[f.part] - pivot))[:FAULTS_TRIED]


def _seen_because(chain: Sequence[str], right: str, good: str) -> str:
    why = (
        f"{capitalised(listed(chain))}. " if chain else "No part stands elsewhere than it should. "
    )
    if right == said(good):
        return f"{why}That makes no difference here, so {quoted(good)} is seen."
    return f"{why}So {quoted(right)} is seen where {quoted(good)} belongs."


def _small(machine: Machine, fault: Fault) -> str:
    return uncapitalised(fault_sentence(machine, fault))


def _first_other(text: Sequence[int], one: Sequence[str], other: Sequence[str]) -> int:
    return next(at for at in range(len(text)) if one[at] != other[at])


def _shuffled(rng: Random, options: Sequence[str]) -> tuple[str, ...]:
    return tuple(rng.sample(options, len(options)))


def chain_of(machine: Machine, fault: Fault, text: Sequence[int]) -> list[str]:
    """The parts that stand elsewhere than in a good machine for the last of a text, in words.

    Both were idle before, and it was sent at speed.
    """
    *before, code = text
    behaviour = Behaviour(machine, (fault,))
    world = World(_sent_to(machine, (fault,), before)[1], behaviour.chances[0])
    good = _sent_to(machine, (), before)[1]
    latched = dict(zip(machine.mechanism.latches, good, strict=True))
    return [
        f"{the(machine.label(one.part))} "
        f"{'is' if machine.mechanism.unit(one.part) == 'contact' else 'stands at'} "
        f"{displacement(machine, one.part, one.found)} "
        f"instead of {displacement(machine, one.part, one.healthy)}"
        for one in deviations(behaviour, code, world, latched=latched)
    ]
