"""Exercises on hunting for a fault, each drawn from a number, with hints and a worked solution."""

from collections.abc import Callable, Iterator, Mapping
from random import Random

from mechlogic.bench.checks import HAND, OIL, TYPE, Option, options
from mechlogic.bench.diagnosis import Diagnosis
from mechlogic.bench.story import hypothesis_label
from mechlogic.explaining.words import listed, parts_in_order, percent, the, uncapitalised
from mechlogic.model.faults import BEFORE_THE_PRINTER, Fault
from mechlogic.model.machine import Machine
from mechlogic.teaching.exercises import MOST_ATTEMPTS, STEADY, Exercise
from mechlogic.teaching.sealed import ANYTHING_BEFORE, Hunt, Sealed, library_hunt

CLEARLY = 1.2
"""How many times as much as the next the best check is worth in an exercise."""

SLUGGISH_LEVEL = 2
"""The level of hidden faults on which one part is late."""

NOT_TO_BE_DONE = (
    ((TYPE, OIL), "No key may be pressed any more"),
    ((TYPE, HAND, OIL), "No key may be pressed any more, and the hand wheel is lost"),
)
"""Kinds of check that an exercise leaves out, and why."""


def who_could_it_be(machine: Machine, seed: int) -> Exercise:
    """Every character was typed once, and now: which part could have made these prints.

    Args:
        machine: A small machine.
        seed: Any number.

    Raises:
        ValueError: If no draw makes a question.
    """
    for number in _draws(machine, seed):
        hunt = Hunt(Sealed(machine, 1, number)).typed(machine.printing_codes)
        evidence = hunt.diagnosis.evidence
        wrong = [evidence.log.entries[t] for t in evidence.wrong]
        steady = steady_suspects(hunt.diagnosis) if wrong else {}
        if 0 < len(steady) < len(machine.mechanism.parts):
            break
    sent, printed = _lines(hunt)
    labels = {name: machine.label(name) for name in parts_in_order(machine)}
    told = [hypothesis_label(machine, (fault,)) for fault in steady.values()]
    first = f"{machine.code.name(wrong[0].sent)} came out as {wrong[0].printed}"
    return Exercise(
        f"{sent} was sent and {printed} was printed. Which part, stuck or unhooked, could have "
        "done it alone?",
        tuple(labels.values()),
        frozenset(labels[part] for part in steady),
        (
            f"Begin with one wrong print: {first}. Which part stood in the wrong place?",
            "Then test your part on the characters that came out right: would they still do so?",
        ),
        f"{'Any' if len(told) > 1 else 'Only'} one explains every print: {listed(told, 'or')}.",
    )


def steady_suspects(diagnosis: Diagnosis) -> dict[str, Fault]:
    """For each part that alone could explain every entry, the likeliest fault that is always there.

    Sluggish parts are left out, and parts that come and go.
    """
    found: dict[str, Fault] = {}
    for suspect in diagnosis.suspects:
        for faults in suspect.members:
            if len(faults) == 1 and not faults[0].sometimes and faults[0].mode in STEADY:
                found.setdefault(faults[0].part, faults[0])
    return found


def most_worth(machine: Machine, seed: int) -> Exercise:
    """Typing apart, which check is the most worth its minutes.

    Args:
        machine: A small machine.
        seed: Any number.

    Raises:
        ValueError: If no draw makes a question.
    """
    for number in _draws(machine, seed):
        rng = Random(number)
        hunt = Hunt(Sealed(machine, 1, number)).typed(rng.sample(machine.printing_codes, 2))
        barred, said = rng.choice(NOT_TO_BE_DONE)
        checks = [one for one in options(hunt.diagnosis) if one.kind not in barred]
        if len(checks) >= 3 and checks[0].worth > CLEARLY * checks[1].worth:
            break
    sent, printed = _lines(hunt)
    shown = [_offer(check) for check in checks]
    per_minute = "; ".join(
        f"{percent(check.share)} in {check.minutes:g} min is "
        f"{100 * check.share / check.minutes:.1f} % a minute"
        for check in checks
    )
    return Exercise(
        f"{sent} was sent and {printed} was printed. {said}. Which of these is "
        "the most worth its minutes?",
        tuple(sorted(shown)),
        frozenset(shown[:1]),
        (
            "The check that tells the most is not always the best one. What does it cost?",
            "Divide the doubt that each removes by its minutes.",
        ),
        f"{shown[0]}. {per_minute}.",
    )


def _offer(check: Option) -> str:
    return (
        f"{check.what.removesuffix('.')}: {check.minutes:g} min, expected to remove "
        f"{percent(check.share)} of the doubt"
    )


def who_was_it(machine: Machine, level: int, seed: int) -> Exercise:
    """Which part is at fault, in a hidden fault that was searched for.

    Args:
        machine: The machine.
        level: From 1 to 3: one part.
        seed: Any number.
    """
    sealed = Sealed(machine, level, seed)
    names = parts_in_order(machine)
    labels = {name: machine.label(name) for name in names}
    fault = sealed.faults[0]
    right = ANYTHING_BEFORE if fault.mode in BEFORE_THE_PRINTER else fault.part
    labels[ANYTHING_BEFORE] = "what comes before the printer"
    steps = "; ".join(
        f"{uncapitalised(one.did)}: {one.found}" for one in library_hunt(sealed).hunt.findings[:8]
    )
    return Exercise(
        f"Level {level}, number {seed} on the {machine.title}: what had to be repaired?",
        tuple(labels.values()),
        frozenset({labels[right]}),
        (
            "Type every character, and some of them after several others.",
            "Does it also go wrong when the shaft is turned by hand? A sluggish part does not.",
            f"Reach: {machine.mechanism[fault.part].reach or 'nothing'} off.",
        ),
        f"It was {the(labels[right])}: {hypothesis_label(machine, (fault,))}. The library's "
        f"first steps: {steps}.",
    )


def who_was_late(machine: Machine, seed: int) -> Exercise:
    """Which part is at fault, in a sealed fault of level 2 that was hunted for."""
    return who_was_it(machine, SLUGGISH_LEVEL, seed)


KINDS: Mapping[str, Callable[[Machine, int], Exercise]] = {
    "could": who_could_it_be,
    "worth": most_worth,
    "hunted": who_was_late,
}
"""The kinds of exercise by name, for small machines."""


def _draws(machine: Machine, seed: int) -> Iterator[int]:
    """Numbers of sealed faults to try, one after the other, until one of them makes a question.

    Raises:
        ValueError: If none does.
    """
    yield from range(seed * 100, seed * 100 + MOST_ATTEMPTS)
    raise ValueError(f"{machine.title} gives no exercise of this kind. Take a smaller machine.")


def _lines(hunt: Hunt) -> tuple[str, str]:
    names = [hunt.machine.code.name(entry.sent) for entry in hunt.log]
    return " ".join(names), " ".join(entry.printed for entry in hunt.log)
