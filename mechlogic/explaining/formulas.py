"""The formula readings: logic and travel of any part as SymPy expressions.

Both are read off the one description.  The logic of a part is a boolean expression in the code
bits ``b1``, ``b2``, …; its travel is built from ``Max``, ``Min``, ``Piecewise`` and sums of the
displacements of the parts it touches, or of the code bars, in mm or degrees.

A key is a symbol of its own name, as a code bar is one of its bit; and where a latch stood before
is a symbol too, ``shift_before``.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import prod

import sympy
from sympy import And, Max, Min, Not, Or, Piecewise, Rational, Symbol, latex
from sympy.logic.boolalg import Boolean, simplify_logic, to_dnf, to_nnf

from mechlogic.helpers.kept import kept
from mechlogic.model.laws import Arithmetic
from mechlogic.model.mechanism import Mechanism, Sense

SYMBOLIC = Arithmetic(Max, Min, lambda condition, a, b: Piecewise((a, condition), (b, True)))
"""Arithmetic of SymPy expressions."""

MOST_WAYS = 60
"""A formula that distribution would divide into more ways goes to its simplest form at once."""

BEFORE = "_before"
"""What is put behind the name of a latch, for where it stood before."""


def bit(number: int) -> Symbol:
    """The symbol of a code bit: ``bit(3)`` is b3."""
    return Symbol(f"b{number}")


def bits(mechanism: Mechanism) -> Mapping[str, Symbol]:
    """The symbols of the code bits that set bars, by name, lowest first."""
    numbers = sorted(bar.bit for bar in mechanism.bars.values())
    return {f"b{number}": bit(number) for number in numbers}


def logic(mechanism: Mechanism, name: str, cut: int = 0, *, simplest: bool = True) -> Boolean:
    """When a part has passed a cut, as an expression in the code bits.

    Args:
        mechanism: The mechanism.
        name: The part.
        cut: Which cut; a part with two places has only cut 0, "is it operated?".
        simplest: Whether to bring the expression to its simplest two-level form.

    Raises:
        KeyError: If there is no such part.
        IndexError: If the part has no such cut.
    """
    expression = _logic(mechanism, name, cut)
    return simplify_logic(expression, force=True) if simplest else expression


@kept(10_000)
def _logic(mechanism: Mechanism, name: str, cut: int) -> Boolean:
    if name in mechanism.bars:
        return bit(mechanism.bars[name].bit)
    if name in mechanism.keys:
        return Symbol(name)
    return _either_way(mechanism, name, cut, _logic)


def _either_way(
    mechanism: Mechanism, name: str, cut: int, passed: Callable[[Mechanism, str, int], Boolean]
) -> Boolean:
    """The ways to pass a cut, given how to say that a touched part has passed one of its own."""
    inputs = mechanism[name].joint.inputs

    def felt(sense: Sense) -> Boolean:
        if sense.input == len(inputs):
            return Symbol(f"{name}{BEFORE}")
        return passed(mechanism, inputs[sense.input], sense.cut)

    ways = []
    for way in mechanism.laws[name].cuts[cut]:
        said = [(felt(sense), sense.passed) for sense in way]
        ways.append(And(*(one if holds else Not(one) for one, holds in said)))
    return Or(*ways)


@dataclass(frozen=True)
class Steps:
    """How the formula that was derived from the contacts of a part becomes its simplest form.

    A notebook sets it as LaTeX.

    Attributes:
        each: The rule that was used, and the formula after it, as a SymPy expression.
    """

    each: tuple[tuple[str, Boolean], ...]

    def __repr__(self) -> str:
        return "\n".join(f"{rule}: {formula}" for rule, formula in self.each)

    def _repr_latex_(self) -> str:
        lines = [rf"& \text{{{rule}:}}\\ & {latex(formula)}" for rule, formula in self.each]
        whole = r" \\ ".join(lines)
        return rf"$$\begin{{aligned}} {whole} \end{{aligned}}$$"


def steps(mechanism: Mechanism, name: str, cut: int = 0) -> Steps:
    """The way from the derived formula of a part to the simplest, without rules that do nothing.

    Args:
        mechanism: The mechanism.
        name: The part.
        cut: Which cut.
    """
    derived = logic(mechanism, name, cut, simplest=False)
    inward = to_nnf(derived, simplify=False)
    spread = to_dnf(inward, simplify=False) if _n_ways(inward) <= MOST_WAYS else inward
    ways = [frozenset(And.make_args(way)) for way in Or.make_args(spread)]
    least = Or(*(And(*way) for way in ways if not any(other < way for other in ways)))
    found = [
        ("derived from the contacts", derived),
        ("De Morgan", inward),
        ("distribution", spread),
        ("absorption", least),
        ("simplest form", logic(mechanism, name, cut)),
    ]
    changed = [one for before, one in pairwise(found) if one[1] != before[1]]
    return Steps((found[0], *changed))


def _n_ways(formula: Boolean) -> int:
    """How many ways distribution makes of a formula without brackets behind a Not."""
    each = [_n_ways(arg) for arg in formula.args if isinstance(formula, And | Or)]
    return (sum if isinstance(formula, Or) else prod)(each)


def contact_logic(mechanism: Mechanism, name: str, cut: int = 0) -> Boolean:
    """When a part has passed a cut, in terms of the parts it touches.

    A touched part with two places is a symbol of its own name; one with more places has a symbol
    for each cut, ``lift_rack_2`` for "has passed its second cut".
    """
    return _either_way(mechanism, name, cut, _contact)


def _contact(mechanism: Mechanism, name: str, cut: int) -> Symbol:
    several = len(mechanism.laws[name].cuts) > 1
    return Symbol(f"{name}_{cut + 1}" if several else name)


def travel(mechanism: Mechanism, name: str) -> sympy.Expr:
    """Displacement of a part in terms of the displacements of the parts it touches.

    The symbols carry the parts' names; they are real and not negative, except for turning parts.
    """
    joint = mechanism[name].joint
    if joint.given:
        return displacement(mechanism, name)
    x = [displacement(mechanism, other) for other in joint.inputs]
    return _law(mechanism, name, x)


def travel_from_bars(mechanism: Mechanism, name: str) -> sympy.Expr:
    """Displacement of a part in terms of the displacements of the code bars alone."""
    joint = mechanism[name].joint
    if joint.given:
        return displacement(mechanism, name)
    return _law(mechanism, name, [travel_from_bars(mechanism, other) for other in joint.inputs])


def displacement(mechanism: Mechanism, name: str) -> Symbol:
    """The symbol of a part's displacement, in mm or degrees."""
    signed = mechanism.laws[name].places[0] < 0
    return Symbol(name, real=True) if signed else Symbol(name, nonnegative=True)


def _law(mechanism: Mechanism, name: str, x: Sequence[sympy.Expr]) -> sympy.Expr:
    part = mechanism[name]
    full = [mechanism.laws[other].full for other in part.joint.inputs]
    if part.joint.remembers:
        x = [*x, Symbol(f"{name}{BEFORE}", nonnegative=True)]
    return part.travel(x, [exact(length) for length in full], SYMBOLIC)


def exact(number: Fraction) -> Rational:
    """A fraction as a SymPy rational."""
    return Rational(number.numerator, number.denominator)
