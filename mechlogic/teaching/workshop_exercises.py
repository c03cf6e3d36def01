"""Exercises for after a repair and before a description, each drawn from a number.

After a repair: what does a text prove, and what must be sent to be sure?  Before a description:
which joint is this, and what does that bit do?  As in :mod:`mechlogic.teaching.exercises` every
answer is worked out by the library, and each question has graded hints and a worked solution.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from fractions import Fraction
from itertools import product
from random import Random

from mechlogic.acceptance.coverage import certain_text, chance_shown, showing
from mechlogic.bench.story import hypothesis_label
from mechlogic.explaining.words import (
    capitalised,
    fault_sentence,
    listed,
    measure,
    the,
    uncapitalised,
)
from mechlogic.fit.hammer import HammerError, type_of
from mechlogic.model import laws
from mechlogic.model.faults import SLUGGISH, Fault, single_faults
from mechlogic.model.laws import PLAIN, Joint
from mechlogic.model.machine import Machine
from mechlogic.model.steps import good_text
from mechlogic.model.table import place_in_row
from mechlogic.teaching.exercises import (
    MOST_OPTIONS,
    STEADY,
    Exercise,
    attempts,
    chain_of,
    quoted,
    sent,
    text_with,
)

SENT_AFTER_A_REPAIR = 3
"""Characters of the text after which something may still be wrong."""

JOINTS: Mapping[str, str] = {
    "follow": "it goes with its one input",
    "withdraw": "it rests in the way and is drawn back",
    "either_pushes": "any pusher moves it along",
    "all_clear": "the input that has moved least holds it back",
    "pull_bar": "one input must move and the other must rest",
    "summing_lever": "its inputs pull the two ends of a lever, and their ways add",
}
"""The joints that an exercise asks for, by the name that a description has for them."""

ROW, COLUMN, BOTH, NEITHER = (
    "it helps to choose the row",
    "it helps to choose the column",
    "it helps to choose both row and column",
    "it chooses no place of the type",
)
ROLES: Mapping[tuple[bool, bool], str] = {
    (True, False): ROW,
    (False, True): COLUMN,
    (True, True): BOTH,
    (False, False): NEITHER,
}
"""What a bit may do, by whether it can change the row, and the column."""


# -- after a repair --------------------------------------------------------------------------------


def which_may_be_left(machine: Machine, seed: int) -> Exercise:
    """Which of a few faults a machine may still have that has printed a short text right.

    Args:
        machine: The machine.
        seed: Any number.
    """
    for rng in attempts("left", machine, seed):
        text = rng.sample(machine.printing_codes, SENT_AFTER_A_REPAIR)
        left, shown = _parted(machine, rng, text)
        if left and len(shown) >= MOST_OPTIONS - 2:
            break
    label = {fault: hypothesis_label(machine, (fault,)) for fault in (left[0], *shown)}
    options = list(label.values())
    rng.shuffle(options)
    would = [_would_show(machine, fault, text) for fault in shown]
    proof = certain_text(machine, (left[0],), machine.printing_codes) or ()
    names = " and then ".join(sent(machine, code) for code in proof)
    return Exercise(
        f"{_sequence(machine, text)} are sent at speed, and every one of them comes out right. "
        "Which of these faults may the machine still have?",
        tuple(options),
        frozenset({label[left[0]]}),
        (
            "Take the faults one by one: for which of these characters must that part move, or "
            "keep still?",
            f"Strike one out: {would[0]}.",
        ),
        f"{capitalised(label[left[0]])}. It makes no difference to these characters; to show "
        f"it, send {names}. The others would have shown: {'; '.join(would)}.",
    )


def _parted(machine: Machine, rng: Random, text: Sequence[int]) -> tuple[list[Fault], list[Fault]]:
    """One fault that a text can never show, and a few of other parts that it shows for certain."""
    faults = [f for f in single_faults(machine.mechanism) if f.mode in STEADY | SLUGGISH]
    rng.shuffle(faults)
    left: list[Fault] = []
    shown: list[Fault] = []
    for fault in faults:
        if fault.part in {other.part for other in (*left, *shown)}:
            continue
        chance = chance_shown(machine, (fault,), text)
        if not chance and not left and certain_text(machine, (fault,), machine.printing_codes):
            left.append(fault)
        elif chance == 1 and len(shown) < MOST_OPTIONS - 2:
            shown.append(fault)
        if left and len(shown) == MOST_OPTIONS - 2:
            break
    return left, shown


def _would_show(machine: Machine, fault: Fault, text: Sequence[int]) -> str:
    """The first misprint of a text, had the machine stood idle before it."""
    both = zip(text, text_with(machine, fault, text), good_text(machine, text), strict=True)
    code, seen = next((code, seen) for code, seen, good in both if seen != good)
    label = hypothesis_label(machine, (fault,))
    return f"with {label}, {sent(machine, code)} comes out as {quoted(seen)}"


def what_would_show_it(machine: Machine, seed: int) -> Exercise:
    """Which one character shows a steady fault for certain.

    Args:
        machine: The machine.
        seed: Any number.
    """
    for rng in attempts("shows", machine, seed):
        fault = rng.choice([f for f in single_faults(machine.mechanism) if f.mode in STEADY])
        found = showing(machine, (fault,))
        printing = machine.printing_codes
        sure = [code for code in printing if found.alone >> code & 1]
        never = [code for code in printing if not found.perhaps >> code & 1]
        if sure and len(never) >= min(MOST_OPTIONS, len(printing)) - 1:
            break
        if sure and 2 <= len(never) < MOST_OPTIONS and len(printing) < MOST_OPTIONS:
            break
    code = rng.choice(sure)
    others = rng.sample(never, min(len(never), MOST_OPTIONS - 1))
    options = [machine.code.name(one) for one in (code, *others)]
    (seen,) = text_with(machine, fault, [code])
    chain = capitalised(listed(chain_of(machine, fault, [code])))
    return Exercise(
        f"You fear one thing only: that {uncapitalised(fault_sentence(machine, fault))} Which of "
        "these characters, sent once, tells you?",
        tuple(sorted(options)),
        frozenset(options[:1]),
        (
            "Which character needs the part to stand where the fault does not let it?",
            f"{capitalised(sent(machine, others[0]))} tells nothing: it comes out right with the "
            "fault and without.",
        ),
        f"{capitalised(sent(machine, code))}. {chain}. So {quoted(seen)} is seen. The others come "
        "out right all the same.",
    )


def which_order_shows_it(machine: Machine, seed: int) -> Exercise:
    """Which two characters, one after the other, show a sluggish part.

    Args:
        machine: The machine.
        seed: Any number.
    """
    for rng in attempts("order", machine, seed):
        fault = rng.choice([f for f in single_faults(machine.mechanism) if f.mode in SLUGGISH])
        drawn = [rng.sample(machine.printing_codes, 2) for _ in range(4 * MOST_OPTIONS)]
        pairs = dict.fromkeys(pair for one, two in drawn for pair in ((one, two), (two, one)))
        wrong = {pair: _wrong(machine, fault, pair) for pair in pairs}
        shows = [pair for pair in pairs if wrong[pair] == [False, True]]
        hides = [pair for pair in pairs if not any(wrong[pair])]
        if shows and len(hides) >= 2:
            break
    right = shows[0]
    others = sorted(hides, key=lambda pair: pair != right[::-1])[: MOST_OPTIONS - 2]
    options = [_sequence(machine, pair, " and then ") for pair in (right, *others)]
    before, code = right
    chain = listed(chain_of(machine, fault, right))
    _, seen = text_with(machine, fault, right)
    return Exercise(
        f"{fault_sentence(machine, fault)} The machine has stood idle. Which two characters, sent "
        "at speed in this order, show it?",
        tuple(sorted(options)),
        frozenset(options[:1]),
        (
            "A late part keeps the place of the character before. So the first must ask for one "
            "place and the second for the other.",
            "The second must also need the part: it has to print otherwise where it stands wrong.",
        ),
        f"{capitalised(options[0])}. After {sent(machine, before)}, {chain}. "
        f"So {quoted(seen)} is seen where {sent(machine, code)} was sent.",
    )


def _wrong(machine: Machine, fault: Fault, text: Sequence[int]) -> list[bool]:
    """Which characters of a text, sent to a machine that was idle, come out wrong."""
    both = zip(text_with(machine, fault, text), good_text(machine, text), strict=True)
    return [seen != good for seen, good in both]


def _sequence(machine: Machine, text: Sequence[int], between: str = "") -> str:
    names = [sent(machine, code) for code in text]
    return between.join(names) if between else listed(names)


# -- before a description --------------------------------------------------------------------------


def which_joint(machine: Machine, seed: int) -> Exercise:
    """Which joint a part has, from where it stands when its inputs are moved by hand.

    Args:
        machine: A machine whose code bars or keys are the inputs.
        seed: Any number.
    """
    rng = Random(f"joint {machine.name} {seed}")
    given = [part.name for part in machine.mechanism if part.joint.given]
    one, two = rng.sample(given, 2)
    full = [machine.mechanism.laws[name].full for name in (one, two)]
    candidates = dict(_candidates(one, two))
    name = rng.choice(sorted(candidates))
    joint = candidates[name]
    few = len(joint.inputs)
    seen = _moved_by_hand(joint, full[:few])
    alike = {
        other
        for other, its in candidates.items()
        if its.inputs == joint.inputs and _moved_by_hand(its, full[:few]) == seen
    }
    option = {other: f"{other}: {gloss}" for other, gloss in JOINTS.items()}
    offered = [name, *rng.sample(sorted(set(JOINTS) - alike), MOST_OPTIONS - 1)]
    labels = [the(machine.label(input_)) for input_ in joint.inputs]
    told = "; ".join(
        f"{_which_moved(labels, moved)}: {measure(place, 'mm')}"
        for moved, place in zip(product((False, True), repeat=few), seen, strict=True)
    )
    return Exercise(
        f"Under the cover you find a part that touches {listed(labels)}"
        f"{'' if few > 1 else ' and nothing else'}. You move what it touches by hand, all the way, "
        f"and measure how far the part then stands from its zero. {capitalised(told)}. Which joint "
        "is it?",
        tuple(sorted(option[other] for other in offered)),
        frozenset(option[other] for other in alike),
        (
            "Count what it touches: that strikes some out at once.",
            "Is it moved by any one of them, only by both, by one while the other rests, or half "
            "as far by one alone?"
            if few > 1
            else "Does it stand at its zero, or out, when nothing has been moved?",
        ),
        f"{capitalised(told)}. So {JOINTS[name]}: {name}.",
    )


def _candidates(one: str, two: str) -> Iterator[tuple[str, Joint]]:
    """A part with each of the joints on two inputs, by the joint's name."""
    yield "follow", laws.Follow(one)
    yield "withdraw", laws.Withdraw(one)
    yield "either_pushes", laws.EitherPushes((one, two))
    yield "all_clear", laws.AllClear((one, two))
    yield "pull_bar", laws.PullBar((laws.Literal(one), laws.Literal(two, operated=False)))
    yield "summing_lever", laws.SummingLever(one, two)


def _moved_by_hand(joint: Joint, full: Sequence[Fraction]) -> list[Fraction]:
    """Where a part stands, in mm, for every way of moving its inputs all the way or not at all."""
    ways = product((False, True), repeat=len(full))
    return [
        joint.travel([f if m else Fraction(0) for m, f in zip(way, full, strict=True)], full, PLAIN)
        for way in ways
    ]


def _which_moved(labels: Sequence[str], moved: Sequence[bool]) -> str:
    these = [label for label, is_moved in zip(labels, moved, strict=True) if is_moved]
    if not these:
        return "nothing moved"
    return (
        f"both {listed(these)}"
        if len(these) == 2
        else f"{these[0]} moved" + (" alone" if len(labels) > 1 else "")
    )


def what_a_bit_does(machine: Machine, seed: int) -> Exercise:
    """What one bit does, from where a few pairs of characters that differ in it are printed.

    Args:
        machine: A machine that prints with a wheel, a block or a bar of type.
        seed: Any number.

    Raises:
        ValueError: If it prints otherwise.
    """
    try:
        type_ = type_of(machine)
    except HammerError as error:
        raise ValueError(str(error)) from None
    aims = [name for name in (type_.lift, type_.turn) if name]
    for rng in attempts("bit", machine, seed):
        bit = rng.randint(1, (len(machine.code) - 1).bit_length())
        mask, printing = 1 << (bit - 1), set(machine.printing_codes)
        pairs = sorted((c, c | mask) for c in printing if not c & mask and c | mask in printing)
        shown = rng.sample(pairs, min(2, len(pairs)))
        every = {name for name in aims for one, two in pairs if _differs(machine, name, one, two)}
        seen = {name for name in aims for one, two in shown if _differs(machine, name, one, two)}
        if shown and every == seen:
            break
    told = "; ".join(
        f"{_where(machine, aims, one)}, and {_where(machine, aims, two)}" for one, two in shown
    )
    right = ROLES[type_.lift in every, type_.turn in every]
    return Exercise(
        f"These characters differ in bit {bit} only. {told}. What does bit {bit} do?",
        (ROW, COLUMN, BOTH, NEITHER),
        frozenset({right}),
        (
            "Of each pair, look at what is the same and at what is not.",
            "The lift says which row it is, and the turn or the shift says which column.",
        ),
        f"{capitalised(right)}: between the two of each pair "
        + (
            f"only {listed('the ' + _aim(machine, name) for name in aims if name in every)} "
            "changes."
            if every
            else "nothing changes: the same character is struck."
        ),
    )


def _differs(machine: Machine, name: str, one: int, two: int) -> bool:
    return _place(machine, name, one) != _place(machine, name, two)


def _place(machine: Machine, name: str, code: int) -> Fraction:
    columns = machine.healthy.places[name]
    return machine.mechanism.laws[name].places[place_in_row(columns, machine.as_set(code))]


def _aim(machine: Machine, name: str) -> str:
    type_ = type_of(machine)
    if name == type_.lift:
        return "lift"
    return type_.across_is[0]


def _where(machine: Machine, aims: Sequence[str], code: int) -> str:
    places = [(name, _place(machine, name, code)) for name in aims]
    at = [
        f"{_aim(machine, name)} {measure(place, machine.mechanism.unit(name))}"
        for name, place in places
    ]
    return f"{sent(machine, code)} prints {quoted(machine.good_print(code))} at {listed(at)}"


KINDS: Mapping[str, Callable[[Machine, int], Exercise]] = {
    "left": which_may_be_left,
    "shows": what_would_show_it,
    "order": which_order_shows_it,
    "joint": which_joint,
    "bit": what_a_bit_does,
}
"""The kinds of exercise by name."""
