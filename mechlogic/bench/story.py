"""How a hypothesis makes exactly these misprints, in sentences."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from mechlogic.bench.evidence import Account, Evidence
from mechlogic.bench.open_world import Cause
from mechlogic.explaining.words import displacement, fault_sentence, listed, the
from mechlogic.model.behaviour import Behaviour, World
from mechlogic.model.faults import DISCONNECTED, EXCHANGED, Fault, Hypothesis
from mechlogic.model.logbook import NOTHING, UNREADABLE
from mechlogic.model.machine import Machine, spread
from mechlogic.model.outputs import OUTPUT
from mechlogic.model.table import Changes, place_in_row, standing, tabulate

NOT_LISTED = "something that is not on the list"
"""The label of a cause that is not on the list."""


def unlisted(machine: Machine, causes: Sequence[Cause]) -> str:
    """What is known of a cause that is not on the list, and what to do about it, in sentences.

    Args:
        machine: The machine.
        causes: All that it could be, likeliest first.
    """
    first = causes[0]
    if first.part:
        name = the(machine.label(first.part))
        fits = f"that {name} stands at a wrong place, {first.decided_by}"
        watch = f"watch {name}"
    else:
        fits, watch = f"a wrong print, {first.decided_by}", "watch the parts"
    return (
        f"Of all that it could be, this fits best: {fits}. Look at the entries once more and type "
        f"the strangest of them again; then {watch} while the shaft is turned by hand."
    )


@dataclass(frozen=True)
class Deviation:
    """One part that stands elsewhere than in a healthy machine.

    Attributes:
        part: Its name.
        healthy: The number of the place where it should stand.
        found: The number of the place where it stands.
    """

    part: str
    healthy: int
    found: int


def hypothesis_label(machine: Machine, faults: Hypothesis) -> str:
    """A short label: "middle stop lever: slow to return"."""
    if not faults:
        return "no fault in the machine"
    return " + ".join(f"{machine.label(f.part)}: {fault_label(machine, f)}" for f in faults)


def fault_label(machine: Machine, fault: Fault) -> str:
    """What is wrong with a part, without the part: "disconnected from slide 5 at times"."""
    joined = {DISCONNECTED.name: " from ", EXCHANGED.name: " with "}.get(fault.mode, ": ")
    which = fault.input if fault.part == OUTPUT else machine.label(fault.input)
    felt = f"{joined}{which}" if fault.input else ""
    return f"{fault.mode}{felt}{' at times' if fault.sometimes else ''}"


def suspect_label(machine: Machine, members: Sequence[Hypothesis]) -> str:
    """A short label for hypotheses that print alike: the first, and how many more there are."""
    label = hypothesis_label(machine, members[0])
    match len(members) - 1:
        case 0:
            return label
        case 1:
            return f"{label} (or one more that prints alike)"
        case more:
            return f"{label} (or {more} more that print alike)"


def deviations(
    behaviour: Behaviour,
    code: int,
    world: World,
    *,
    by_hand: bool = False,
    latched: Mapping[str, int] | None = None,
) -> tuple[Deviation, ...]:
    """The parts that stand elsewhere than in a healthy machine, in working order.

    Args:
        behaviour: The faulty machine.
        code: The code sent, without parity.
        world: What sluggish parts remember, and what followers happen to find.
        by_hand: Whether the shaft is turned by hand, which gives sluggish parts time.
        latched: The number of the place at which each latch of a healthy machine stood before; as
            in the world if left out.
    """
    rows, laws = behaviour.machine.rows([code]), behaviour.mechanism.laws
    remembered = dict(zip(behaviour.remembering, world.memory, strict=True))
    before = {
        name: standing((latched or remembered)[name], len(laws[name].cuts), rows.every)
        for name in behaviour.mechanism.latches
    }
    healthy = tabulate(behaviour.mechanism, rows, Changes(before=before))
    found = behaviour.table(rows, 0 if by_hand else rows.every, world, healthy)
    places = (
        (name, place_in_row(healthy.places[name], 0), place_in_row(found.places[name], 0))
        for name in behaviour.mechanism.parts
    )
    return tuple(Deviation(name, good, bad) for name, good, bad in places if good != bad)


def how(evidence: Evidence, behaviour: Behaviour, told: Account) -> str:
    """Say how a hypothesis makes the misprints of a log.

    The chain of parts is followed for one misprint that it explains, and then the entries are
    counted that it explains, leaves unexplained, or must call misread.
    """
    machine = evidence.machine
    if not behaviour.faults:
        said = "Nothing is wrong with the machine."
    else:
        said = " ".join(fault_sentence(machine, fault) for fault in behaviour.faults)
    explained = [t for t in evidence.wrong if t not in told.misfits]
    examples = (_chain(evidence, behaviour, told, t) for t in explained)
    example = next((f"So {chain}" for chain in examples if chain), "")
    return " ".join(filter(None, (said, example, _score(told, evidence.wrong, explained))))


def _chain(evidence: Evidence, behaviour: Behaviour, told: Account, t: int) -> str:
    """How a hypothesis makes one entry, part by part.

    Empty if it does not print what was noted, or if the parts stand as they should: then it is
    the type.
    """
    machine = evidence.machine
    if _print(behaviour, evidence, t, told.path[t]) not in evidence.readings[t]:
        return ""
    entry = evidence.log.entries[t]
    code, by_hand = entry.sent, entry.driven == "hand"
    chain = deviations(behaviour, code, told.path[t], by_hand=by_hand, latched=evidence.latched[t])
    if not chain:
        return ""
    after = ""
    if behaviour.remembering and not by_hand and not evidence.starts >> t & 1:
        after = f" after {machine.code.name(evidence.log.entries[t - 1].sent)}"
    links = listed(
        f"{the(machine.label(d.part))} stands at {displacement(machine, d.part, d.found)} "
        f"instead of {displacement(machine, d.part, d.healthy)}"
        for d in chain
    )
    belongs = listed(map(seen_as, sorted(evidence.good[t])), "or")
    return (
        f"when {machine.code.name(code)} comes{after}, {links}, and "
        f"{seen(evidence.printed[t])} where {belongs} belongs."
    )


def entry_said(evidence: Evidence, behaviour: Behaviour, told: Account, t: int) -> str:
    """How a hypothesis makes one entry of a log, or that it does not, in sentences.

    Args:
        evidence: The log.
        behaviour: The machine under the hypothesis.
        told: How the hypothesis accounts for the log.
        t: The number of the entry, from 0.
    """
    if chain := _chain(evidence, behaviour, told, t):
        return f"Entry {t + 1}: {chain}"
    name = evidence.machine.code.name(evidence.log.entries[t].sent)
    says = f"Entry {t + 1}: for {name}, {seen(evidence.printed[t])}."
    made = _print(behaviour, evidence, t, told.path[t])
    if t in told.misfits:
        return f"{says} This fault does not explain it: with it {seen(made)}."
    if made not in evidence.readings[t]:
        return f"{says} With this fault {seen(made)}, and less than that was seen."
    return f"{says} Every part stands right: it is the type."


def _print(behaviour: Behaviour, evidence: Evidence, t: int, world: World) -> str:
    """What the machine prints for one entry in one world."""
    entry, machine = evidence.log.entries[t], evidence.machine
    rows = machine.rows([entry.sent])
    table = behaviour.table(rows, 0 if entry.driven == "hand" else rows.every, world)
    return spread(behaviour.prints(table, rows, world), 1)[0]


def seen(printed: str) -> str:
    """``A is printed``, ``nothing is printed`` or ``something unreadable is printed``."""
    word = {NOTHING: "nothing", UNREADABLE: "something unreadable"}.get(printed, printed)
    return f"{word} is printed"


def seen_as(printed: str) -> str:
    """The print as a noun: the character itself, or a blank."""
    return "a blank" if printed == NOTHING else printed


def _score(told: Account, misprints: Sequence[int], explained: list[int]) -> str:
    n = len(misprints)
    if not n:
        says = "The log shows no misprint"
    elif len(explained) == n:
        which = {1: "the only misprint", 2: "both misprints"}.get(n, f"all {n} misprints")
        says = f"It explains {which}"
    else:
        says = f"It explains {len(explained)} of {n} misprints"
    if not told.misfits:
        return f"{says}, and no entry speaks against it."
    numbers = [str(t + 1) for t in told.misfits]
    if len(numbers) > 6:
        numbers = [*numbers[:5], f"{len(numbers) - 5} more"]
    which = "entry" if len(numbers) == 1 else "entries"
    return f"{says}; {which} {listed(numbers)} must have been misread."
