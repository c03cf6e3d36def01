"""Proofs about a mechanism, each by looking at every case, and each able to fail.

A proof here is never a matter of trust: it holds a claim against the table of every setting of
the code bars, or against every order in which numbers can stand, and returns the first case that
refutes it.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from functools import partial, reduce
from itertools import pairwise, product
from typing import TYPE_CHECKING

from mechlogic.model.laws import PLAIN, Joint
from mechlogic.model.logbook import UNREADABLE
from mechlogic.model.machine import Machine
from mechlogic.model.mechanism import Mechanism
from mechlogic.model.table import Changes, Column, Columns, Rows, place_in_row, tabulate

if TYPE_CHECKING:
    from sympy.logic.boolalg import Boolean


@dataclass(frozen=True)
class Proof:
    """The outcome of holding a claim against every case.

    Attributes:
        claim: What was claimed.
        holds: Whether it is true.
        because: Why, or what the refuting case shows.
        refuted_by: The setting of the code bars that refutes the claim, if one does.
        cases: How many cases were looked at.
    """

    claim: str
    holds: bool
    because: str
    refuted_by: int | None
    cases: int

    def __bool__(self) -> bool:
        return self.holds

    def __str__(self) -> str:
        verdict = "Proved" if self.holds else "Refuted"
        return f"{verdict}: {self.claim}. {self.because}"


def operated_when(mechanism: Mechanism, name: str, claim: "Boolean", cut: int = 0) -> Proof:
    """Prove or refute that a part has passed a cut exactly when an expression holds.

    Args:
        mechanism: The mechanism.
        name: The part.
        claim: A SymPy expression in the code bits, made with
            :func:`mechlogic.explaining.formulas.bit` and the operators ``|``, ``&`` and ``~``; a
            key, of which one is pressed at a time, is the symbol of its name.
        cut: Which cut of the part.

    Raises:
        ValueError: If the claim speaks of anything else.
    """
    rows = _all_settings(mechanism)
    bits = sorted(bar.bit for bar in mechanism.bars.values())
    known = {f"b{number}": rows.bit(number) for number in bits}
    known |= {name: rows.only(key.code) for name, key in mechanism.keys.items()}
    claimed = _column_of(claim, rows.every, known)
    derived = tabulate(mechanism, rows).places[name][cut]
    text = f"{name} is operated exactly when {claim}"
    return _compared(text, derived, claimed, rows)


def never_matters(machine: Machine, bar: str, parts: Iterable[str] | None = None) -> Proof:
    """Prove or refute that a code bar has no influence on some parts.

    Args:
        machine: The machine.
        bar: The code bar.
        parts: The parts; if left out, what is printed is meant.
    """
    rows = machine.all_codes
    flip = 1 << (machine.mechanism.bars[bar].bit - 1)
    flipped = Rows(tuple(code ^ flip for code in rows.codes))
    one, other = tabulate(machine.mechanism, rows), tabulate(machine.mechanism, flipped)
    differs = 0
    if parts is None:
        text = f"{bar} changes nothing that is printed"
        prints = machine.prints(one, rows), machine.prints(other, flipped)
        for print_ in {*prints[0], *prints[1]}:
            differs |= prints[0].get(print_, 0) ^ prints[1].get(print_, 0)
    else:
        names = tuple(parts)
        text = f"{bar} never moves {', '.join(names)}"
        for name in names:
            for a, b in zip(one.places[name], other.places[name], strict=True):
                differs |= a ^ b
    return _verdict(text, differs, rows, f"Setting or clearing {bar} makes a difference")


def one_for_each(machine: Machine) -> Proof:
    """Prove or refute that what is sent and what is chosen correspond one to one.

    Whatever is declared to play no part in the selection must play none, and no two codes that
    print their own character may choose the same.
    """
    idle = machine.declared.no_part_in_selection
    sent = _named(selecting_bits(machine)) if machine.mechanism.bars else "the keys"
    text = f"each combination of {sent} chooses one character, and each its own"
    table, rows, code = machine.healthy, machine.all_codes, machine.code
    ignored = sum(1 << (machine.mechanism.bars[name].bit - 1) for name in idle)
    printing = {machine.as_set(number) & ~ignored for number in machine.printing_codes}
    chosen: dict[int, tuple[int, ...]] = {}
    owner: dict[tuple[int, ...], int] = {}
    for setting in rows.codes:
        combination = setting & ~ignored
        aim = tuple(place_in_row(table.places[name], setting) for name in machine.output.selects)
        if chosen.setdefault(combination, aim) != aim:
            because = f"{' or '.join(idle)} changes the choice"
            return Proof(text, False, because, setting, len(rows.codes))
        if combination in printing and owner.setdefault(aim, combination) != combination:
            two = f"{code.name(owner[aim] % len(code))} and {code.name(setting % len(code))}"
            because = f"Two combinations choose one place: {two}"
            return Proof(text, False, because, setting, len(rows.codes))
    because = f"{len(printing)} combinations choose {len(owner)} different places of the type"
    because += f"; {' and '.join(idle)} never matter{'s' * (len(idle) == 1)}." if idle else "."
    return Proof(text, True, because, None, len(rows.codes))


def does_as_declared(machine: Machine) -> Proof:
    """Prove or refute that every code prints, folds or stays silent as the description says."""
    text = "every code prints what the description declares"
    for code in range(len(machine.code)):
        want, got = machine.claimed(code), machine.good_print(code)
        if got != want:
            name = machine.code.name(code)
            return Proof(text, False, f"{name} prints {got}, not {want}", code, len(machine.code))
    parity = ", each with its parity" * (machine.parity != "none")
    because = f"All {len(machine.code)} codes were sent{parity}."
    return Proof(text, True, because, None, len(machine.code))


def positions_distinct(machine: Machine) -> Proof:
    """Prove or refute that every code that strikes finds the wheel at a place of its type."""
    muddle = machine.output.muddle or "something unreadable is seen"
    text = f"there is no code with which {muddle}"
    prints = machine.prints(machine.healthy, machine.all_codes)
    return _verdict(text, prints.get(UNREADABLE, 0), machine.all_codes, "Between two columns")


def selecting_bits(machine: Machine) -> tuple[int, ...]:
    """Numbers of the code bits that choose the character, lowest first."""
    idle = set(machine.declared.no_part_in_selection)
    return tuple(sorted(b.bit for n, b in machine.mechanism.bars.items() if n not in idle))


# -- the forced OR ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class Candidate:
    """One of the sixteen functions of two bits, tried in the place of a lever.

    Attributes:
        values: Whether the lever is operated for the bits (0,0), (1,0), (0,1), (1,1).
        places: Where the driven member then comes to rest, for the same four, in mm.
        distinct: Whether the four places differ.
        monotone: Whether setting a bit never puts the lever back; only then can pushes alone
            build it, with no rocker.
        lowest_when_clear: Whether the member stays lowest with no bit set.
    """

    values: tuple[bool, bool, bool, bool]
    places: tuple[Fraction, ...]
    distinct: bool
    monotone: bool
    lowest_when_clear: bool

    @property
    def forced(self) -> bool:
        """Whether it meets all three demands."""
        return self.distinct and self.monotone and self.lowest_when_clear


def sixteen_levers(
    mechanism: Mechanism, lever: str, member: str, bits: tuple[int, int]
) -> tuple[Candidate, ...]:
    """Try each of the sixteen functions of two bits in the place of one lever.

    Args:
        mechanism: The mechanism; every other part keeps its law.
        lever: The lever to replace; it must have two places.
        member: The driven member whose places must differ.
        bits: Numbers of the two code bits.
    """
    first, second = (1 << (bit - 1) for bit in bits)
    rows = Rows((0, first, second, first | second))
    found = []
    for number in range(16):
        table = tabulate(mechanism, rows, Changes({lever: partial(_as_numbered, number)}))
        law = mechanism.laws[member]
        places = tuple(law.places[place_in_row(table.places[member], row)] for row in range(4))
        off, one, other, both = (bool(number >> row & 1) for row in range(4))
        found.append(
            Candidate(
                (off, one, other, both),
                places,
                distinct=len(set(places)) == 4,
                monotone=off <= one <= both and off <= other <= both,
                lowest_when_clear=places[0] == min(places),
            )
        )
    return tuple(found)


def _as_numbered(number: int, asked: Columns) -> Columns:
    """A lever that obeys the function whose truth table is the number."""
    return (number,)


# -- the threshold theorem -------------------------------------------------------------------------


@dataclass(frozen=True)
class Reading:
    """Whether a joint can be read as logic, once each input is cut at its own depth.

    Attributes:
        holds: Whether equal bits always give an equal output bit.
        positions: How many combinations of part-way positions were looked at.
        bits: If it does not hold: the inputs' bits that two positions share.
        one, other: If it does not hold: two positions with the same bits, in mm, of which one
            operates the output and the other does not.
    """

    holds: bool
    positions: int
    bits: tuple[bool, ...] = ()
    one: tuple[Fraction, ...] = ()
    other: tuple[Fraction, ...] = ()

    def __bool__(self) -> bool:
        return self.holds


def reads_as_logic(
    joint: Joint,
    full: Sequence[Fraction],
    cut: Fraction,
    input_cuts: Sequence[Fraction],
    steps: int = 8,
) -> Reading:
    """Whether "moved at least *cut*" depends only on which inputs have moved at least their cuts.

    Inputs are tried at one position in every interval between the depths that matter to them.  For
    pushes, blocks, links and withdrawals the outcome depends only on which side of these depths
    each input stands, so that trying them all is a proof.  For other joints a refutation is a
    proof, and agreement is evidence.

    Args:
        joint: The joint.
        full: Full travel of each input, in mm.
        cut: Depth at which the output is cut.
        input_cuts: Depth at which each input is cut.
        steps: Grid steps for each input.
    """
    grids = [
        _grid(length, (at, *_depths(joint, length, cut)), steps)
        for length, at in zip(full, input_cuts, strict=True)
    ]
    seen: dict[tuple[bool, ...], tuple[bool, tuple[Fraction, ...]]] = {}
    positions = 0
    for x in product(*grids):
        positions += 1
        bits = tuple(place >= at for place, at in zip(x, input_cuts, strict=True))
        operated = bool(joint.travel(x, full, PLAIN) >= cut)
        first_operated, first = seen.setdefault(bits, (operated, x))
        if operated != first_operated:
            return Reading(False, positions, bits, first, x)
    return Reading(True, positions)


def _depths(joint: Joint, length: Fraction, cut: Fraction) -> tuple[Fraction, ...]:
    """The depths of one input at which the output may pass its cut."""
    reached = cut / getattr(joint, "ratio", Fraction(1))
    return reached, length - reached


def _grid(length: Fraction, depths: Iterable[Fraction], steps: int) -> list[Fraction]:
    """One point in every interval between the depths and the steps of an even grid."""
    marks = sorted({length * k / steps for k in range(steps + 1)} | set(depths))
    inside = [mark for mark in marks if 0 <= mark <= length]
    between = [(low + high) / 2 for low, high in pairwise(inside)]
    ends = [end for end in (Fraction(0), length) if end not in set(depths)]
    return sorted({*between, *ends})


# -- what proofs share -----------------------------------------------------------------------------


def _all_settings(mechanism: Mechanism) -> Rows:
    if mechanism.keys:
        return Rows(tuple(sorted(key.code for key in mechanism.keys.values())))
    return Rows(tuple(range(1 << max(bar.bit for bar in mechanism.bars.values()))))


def _column_of(claim: "Boolean", every: Column, known: Mapping[str, Column]) -> Column:
    """The rows in which a SymPy expression holds, given those in which each of its symbols does."""
    from sympy import And, Not, Or, Symbol, false, true
    from sympy.logic.boolalg import to_nnf

    def column(expression: "Boolean") -> Column:
        match expression:
            case Symbol():
                if expression.name not in known:
                    names = f"the code bits are {', '.join(known)}"
                    raise ValueError(f"the claim speaks of {expression.name}; {names}")
                return known[expression.name]
            case Not():
                return every & ~column(expression.args[0])
            case And():
                return reduce(Column.__and__, map(column, expression.args), every)
            case Or():
                return reduce(Column.__or__, map(column, expression.args), 0)
        if expression in (true, false):
            return every if expression == true else 0
        raise ValueError(f"the claim holds {expression}, which is not an expression of bits")

    return column(to_nnf(claim, simplify=False))


def _compared(claim: str, derived: Column, claimed: Column, rows: Rows) -> Proof:
    return _verdict(claim, derived ^ claimed, rows, "The contacts say otherwise")


def _verdict(claim: str, differs: Column, rows: Rows, wrong: str) -> Proof:
    n = len(rows.codes)
    if not differs:
        return Proof(claim, True, f"All {n} settings of the code bars agree.", None, n)
    code = rows.codes[(differs & -differs).bit_length() - 1]
    shown = f"{wrong}: see the setting {code:0{max(1, n.bit_length() - 1)}b} (highest bit first)."
    return Proof(claim, False, shown, code, n)


def _named(bits: Sequence[int]) -> str:
    return ", ".join(f"b{number}" for number in bits)


Claim = Callable[[Machine], Proof]

MACHINE_CLAIMS: tuple[Claim, ...] = (one_for_each, does_as_declared, positions_distinct)
"""Claims that every described machine should meet."""
