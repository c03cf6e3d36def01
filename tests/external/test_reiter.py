"""The full adder of the theory of diagnosis, built of levers, and diagnosed.

R. Reiter, A theory of diagnosis from first principles, Artificial Intelligence 32 (1987): a full
adder of two exclusive-or gates X1 and X2, two and gates A1 and A2 and an or gate O1 is given 1, 0
and a carry of 1.  It shows a sum of 1 and a carry of 0, both wrong.  Its minimal diagnoses are
{X1}, {X2, O1} and {X2, A2}.

A gate that is out of order may do anything, so it is a part on no list: "unknown".
"""

import random
from fractions import Fraction
from itertools import combinations, product

import pytest
from brute_force import read
from plain_runs import Runs
from pysat.examples.hitman import Hitman
from strategies import machine_of

import mechlogic
from mechlogic import Entry, Logbook
from mechlogic.bench.evidence import Evidence
from mechlogic.bench.search import minimal_sets
from mechlogic.machines import FOLDER
from mechlogic.model.faults import UNKNOWN, Fault

GATES = ("X1", "X2", "A1", "A2", "O1")
DIAGNOSES = {frozenset({"X1"}), frozenset({"X2", "O1"}), frozenset({"X2", "A2"})}
"""Reiter 1987."""


def bar(bit):
    return {"joint": "bit", "bit": bit, "stroke_mm": Fraction(4)}


def pushed_by(*inputs):
    return {"joint": "either_pushes", "inputs": list(inputs), "ratio": Fraction(1)}


def cleared_by(*inputs):
    return {"joint": "all_clear", "inputs": list(inputs), "ratio": Fraction(1)}


def drops_over(**notches):
    return {
        "joint": "pull_bar",
        "notches": [{"part": part, "when": when} for part, when in notches.items()],
    }


def exclusive_or(one, other):
    """Two pull bars, each over one bar set and one clear; either of them pushes."""
    return (
        drops_over(**{one: "operated", other: "at rest"}),
        drops_over(**{one: "at rest", other: "operated"}),
    )


FIRST, SECOND = exclusive_or("a", "b"), exclusive_or("X1", "carry_in")
ADDER = {
    "parts": {
        "a": bar(1),
        "b": bar(2),
        "carry_in": bar(3),
        "X1_left": FIRST[0],
        "X1_right": FIRST[1],
        "X1": pushed_by("X1_left", "X1_right"),
        "X2_left": SECOND[0],
        "X2_right": SECOND[1],
        "X2": pushed_by("X2_left", "X2_right"),
        "A1": cleared_by("a", "b"),
        "A2": cleared_by("X1", "carry_in"),
        "O1": pushed_by("A1", "A2"),
        # The height tells the sum, the angle the carry: one glyph for each pair of them.
        "lift": pushed_by("X2"),
        "turn": pushed_by("O1"),
    },
    "wheel": {
        "lift": "lift",
        "turn": "turn",
        "rows_mm": [Fraction(0), Fraction(4)],
        "columns_deg": [Fraction(0), Fraction(4)],
        "glyphs": ["0c", "sB"],  # nothing, carry alone; sum alone, both
    },
}
SHOWS = {(0, 0): "0", (0, 1): "c", (1, 0): "s", (1, 1): "B"}
MACHINE = machine_of(ADDER)


def set_bars(a, b, carry):
    return a | b << 1 | carry << 2


def diagnoses(entries, most=5):
    """Every minimal set of gates that may be out of order, as the library finds it."""
    log = Logbook(tuple(entries), MACHINE.code)
    gates = [Fault(gate, UNKNOWN.name) for gate in GATES]
    found = minimal_sets(Evidence(MACHINE, log), most, gates)
    return {frozenset(fault.part for fault in faults) for faults in found}


# -- the adder itself ------------------------------------------------------------------------------


@pytest.mark.parametrize(("a", "b", "carry"), list(product((0, 1), repeat=3)))
def test_the_levers_add(a, b, carry):
    total = a + b + carry
    assert MACHINE.good_print(set_bars(a, b, carry)) == SHOWS[total % 2, total // 2]


# -- Reiter's diagnoses ----------------------------------------------------------------------------


@pytest.mark.parametrize("most", [2, 3, 5])
def test_the_minimal_diagnoses_of_the_full_adder_are_those_of_the_paper(most):
    assert diagnoses([Entry(set_bars(1, 0, 1), SHOWS[1, 0])], most) == DIAGNOSES


def test_one_gate_alone_is_the_only_diagnosis_of_one_gate():
    assert diagnoses([Entry(set_bars(1, 0, 1), SHOWS[1, 0])], most=1) == {frozenset({"X1"})}


# -- by conflicts ----------------------------------------------------------------------------------


def gates_show(a, b, carry, free):
    """Sum and carry of gates as Python computes them; a free gate shows what it is given."""
    x1 = free.get("X1", a ^ b)
    x2 = free.get("X2", x1 ^ carry)
    a1 = free.get("A1", a & b)
    a2 = free.get("A2", x1 & carry)
    return x2, free.get("O1", a1 | a2)


def possible(good, observed):
    """Whether some gates can be good, the others doing anything, given what has been seen."""
    others = [gate for gate in GATES if gate not in good]
    return all(
        any(
            gates_show(*given, dict(zip(others, free, strict=True))) == shown
            for free in product((0, 1), repeat=len(others))
        )
        for given, shown in observed
    )


def minimal_conflicts(observed):
    """The smallest sets of gates that cannot all be good."""
    found = []
    for size in range(len(GATES) + 1):
        for gates in map(frozenset, combinations(GATES, size)):
            if not any(one <= gates for one in found) and not possible(gates, observed):
                found.append(gates)
    return found


def hitting_sets(conflicts):
    """python-sat's enumerator, smallest first."""
    with Hitman(bootstrap_with=[sorted(one) for one in conflicts], htype="sorted") as hitman:
        return {frozenset(one) for one in hitman.enumerate()}


def test_the_conflicts_of_the_full_adder_are_those_of_the_paper():
    """{X1, X2} for the sum; {X1, A2, O1} for the carry (from memory, rechecked here)."""
    conflicts = minimal_conflicts([((1, 0, 1), (1, 0))])
    assert set(conflicts) == {frozenset({"X1", "X2"}), frozenset({"X1", "A2", "O1"})}
    assert hitting_sets(conflicts) == DIAGNOSES


GIVEN, SHOWN = list(product((0, 1), repeat=3)), list(product((0, 1), repeat=2))


@pytest.mark.parametrize("given", GIVEN)
@pytest.mark.parametrize("shown", SHOWN)
def test_diagnoses_are_the_minimal_hitting_sets_of_the_conflicts(given, shown):
    """Reiter's theorem 4.4 (from memory), for whatever one may see of the adder."""
    conflicts = minimal_conflicts([(given, shown)])
    expected = hitting_sets(conflicts) if conflicts else {frozenset()}
    assert diagnoses([Entry(set_bars(*given), SHOWS[shown])]) == expected


@pytest.mark.parametrize("first", range(0, len(GIVEN), 3))
def test_several_observations_are_hit_together(first):
    """A gate that does anything may do another thing each time, so conflicts add up."""
    for second, (one, other) in product(GIVEN, product(SHOWN, repeat=2)):
        observed = [(GIVEN[first], one), (second, other)]
        conflicts = minimal_conflicts(observed)
        expected = hitting_sets(conflicts) if conflicts else {frozenset()}
        entries = [Entry(set_bars(*given), SHOWS[shown]) for given, shown in observed]
        assert diagnoses(entries) == expected


# -- the same on a machine that prints ------------------------------------------------------------

WIND, WIND_RUNS = mechlogic.load("wind"), Runs(read(FOLDER / "wind.toml"))


@pytest.mark.parametrize("seed", range(10))
def test_parts_on_no_list_of_the_wind_stamp_are_minimal_hitting_sets_too(seed):
    """The brute force says which parts cannot all be good; python-sat hits the conflicts."""
    rng, parts = random.Random(seed), tuple(WIND.mechanism.parts)
    entries = [Entry(rng.randrange(4), rng.choice("NESW")) for _ in range(rng.randint(1, 4))]
    conflicts = []
    for size in range(len(parts) + 1):
        for good in map(frozenset, combinations(parts, size)):
            free = tuple((part, "unknown", "") for part in sorted(parts) if part not in good)
            if not any(one <= good for one in conflicts):
                conflicts += [] if WIND_RUNS.explains(free, entries) else [good]
    evidence = Evidence(WIND, Logbook(tuple(entries), WIND.code))
    free = [Fault(part, UNKNOWN.name) for part in parts]
    found = minimal_sets(evidence, len(parts), free)
    expected = hitting_sets(conflicts) if conflicts else {frozenset()}
    assert {frozenset(fault.part for fault in faults) for faults in found} == expected
