"""Covers and classes held against a published benchmark circuit.

Source: F. Brglez and H. Fujiwara, A neutral netlist of 10 combinational benchmark circuits and a
target translator in Fortran, ISCAS 1985; its smallest circuit, c17, has six NANDs.  Netlist and
figures from memory: 17 lines, 34 single stuck-at faults, all detectable, in 22 classes; 4 vectors
are the smallest complete test.

The circuit is told twice.  Once as a printer: inputs are code bars, a NAND is a pull bar that
withdraws a lever, each branch of a line that divides is a link, and the two outputs lift and turn
a wheel with four characters.  And once as plain Python, with no word of the library's.
"""

from fractions import Fraction
from itertools import combinations, product

import pytest
from pysat.examples.rc2 import RC2
from pysat.formula import WCNF

from mechlogic.acceptance.coverage import coverage, showing
from mechlogic.acceptance.testcards import smallest_set
from mechlogic.bench.diagnosis import signature
from mechlogic.helpers.covers import smallest_cover
from mechlogic.model.codes import Code
from mechlogic.model.faults import STUCK_AT_REST, STUCK_OPERATED, Fault
from mechlogic.model.laws import Bit, Follow, Literal, PullBar, Withdraw
from mechlogic.model.machine import Declared, Machine
from mechlogic.model.mechanism import Mechanism, Part
from mechlogic.model.outputs import TypeWheel

INPUTS = ["1", "2", "3", "6", "7"]
BRANCHES = {"3a": "3", "3b": "3", "11a": "11", "11b": "11", "16a": "16", "16b": "16"}
NANDS = {
    "10": ("1", "3a"),
    "11": ("3b", "6"),
    "16": ("2", "11a"),
    "19": ("11b", "7"),
    "22": ("10", "16a"),
    "23": ("16b", "19"),
}
LINES = [*INPUTS, *BRANCHES, *NANDS]
ORDER = ["3a", "3b", "10", "11", "11a", "11b", "16", "16a", "16b", "19", "22", "23"]
VECTORS = list(product([0, 1], repeat=5))
STUCK = [(line, value) for line in LINES for value in (0, 1)]


def outputs(vector, stuck=None):
    """Both outputs for one vector, with at most one line stuck at a value."""
    value = {}

    def put(line, right):
        value[line] = stuck[1] if stuck and stuck[0] == line else right

    for line, bit in zip(INPUTS, vector, strict=True):
        put(line, bit)
    for line in ORDER:
        if line in BRANCHES:
            put(line, value[BRANCHES[line]])
        else:
            a, b = NANDS[line]
            put(line, 0 if value[a] and value[b] else 1)
    return value["22"], value["23"]


LOOKS = {stuck: tuple(outputs(vector, stuck) for vector in VECTORS) for stuck in STUCK}
TESTS = {
    stuck: [i for i, vector in enumerate(VECTORS) if LOOKS[stuck][i] != outputs(vector)]
    for stuck in STUCK
}


def as_a_printer():
    one = Fraction(1)
    parts = [Part(name, Bit(i, one)) for i, name in enumerate(INPUTS, start=1)]
    parts += [Part(name, Follow(stem)) for name, stem in BRANCHES.items()]
    for name, (a, b) in NANDS.items():
        parts.append(Part(f"both {a} and {b}", PullBar((Literal(a), Literal(b)))))
        parts.append(Part(name, Withdraw(f"both {a} and {b}")))
    wheel = TypeWheel(
        lift="22", turn="23", rows=(0 * one, one), columns=(0 * one, one), lines=("ab", "cd")
    )
    code = Code("c17", 5, "its five inputs", tuple("ABCDEFGHIJKLMNOPQRSTUVWXYZ234567"))
    return Machine(
        name="c17",
        title="c17",
        about="",
        mechanism=Mechanism(parts),
        code=code,
        parity="none",
        output=wheel,
        declared=Declared(),
    )


C17 = as_a_printer()


def library_fault(line, value):
    """A line stuck at a value: a part that stays at rest, or away from it."""
    at_rest = C17.mechanism.rest[line] == value
    return (Fault(line, (STUCK_AT_REST if at_rest else STUCK_OPERATED).name),)


FAULTS = {stuck: library_fault(*stuck) for stuck in STUCK}


def code_of(vector):
    return sum(bit << i for i, bit in enumerate(vector))


def test_the_printer_is_the_circuit():
    glyph = {(0, 0): "a", (0, 1): "b", (1, 0): "c", (1, 1): "d"}
    for vector in VECTORS:
        assert C17.good_print(code_of(vector)) == glyph[outputs(vector)]


def test_c17_has_17_lines_and_34_stuck_at_faults_all_detectable():
    assert (len(LINES), len(STUCK)) == (17, 34)
    assert all(TESTS.values())
    assert all(showing(C17, faults).alone for faults in FAULTS.values())


def test_every_vector_shows_on_the_printer_what_it_shows_in_the_circuit():
    for stuck, faults in FAULTS.items():
        shown = {code_of(VECTORS[i]) for i in TESTS[stuck]}
        assert set(showing(C17, faults).codes()) == shown, stuck


def alike(looks):
    """Things sorted into classes that look the same."""
    return {frozenset(t for t, look in looks.items() if look == one) for one in looks.values()}


def test_the_faults_of_c17_fall_into_22_classes():
    plain = alike(LOOKS)
    ours = alike({stuck: signature(C17, faults) for stuck, faults in FAULTS.items()})
    assert len(plain) == 22
    assert plain == ours


def test_four_vectors_are_the_smallest_complete_test_of_c17():
    card = smallest_set(C17, codes=range(32), hypotheses=FAULTS.values())
    assert len(card.text) == card.found.bound == 4
    assert card.found.proved
    assert card.found.gap == 0
    by_code = {frozenset(code_of(VECTORS[i]) for i in tests) for tests in TESTS.values()}
    assert all(tests & set(card.text) for tests in by_code)


def test_the_same_from_the_plain_table_by_trying_all_and_by_another_solver():
    assert len(smallest_cover(TESTS).chosen) == 4
    complete = [
        size
        for size in range(5)
        if any(
            all(set(some) & set(tests) for tests in TESTS.values())
            for some in combinations(range(32), size)
        )
    ]
    assert complete == [4]
    formula = WCNF()
    for tests in TESTS.values():
        formula.append([i + 1 for i in tests])
    for i in range(32):
        formula.append([-(i + 1)], weight=1)
    with RC2(formula) as solver:
        assert solver.compute() is not None
        assert solver.cost == 4


@pytest.mark.parametrize("size", [0, 1, 3])
def test_a_text_of_fewer_vectors_leaves_a_fault_that_the_coverage_names(size):
    """Single faults of the printer include the circuit's; each text of few vectors misses some."""
    card = smallest_set(C17, codes=range(32), hypotheses=FAULTS.values())
    found = coverage(C17, card.text[:size], at_speed=False)
    missed = {faults for finding in found.missed for faults in finding.members}
    plain = {
        FAULTS[stuck]
        for stuck, tests in TESTS.items()
        if not {code_of(VECTORS[i]) for i in tests} & set(card.text[:size])
    }
    assert missed & set(FAULTS.values()) == plain
    assert plain
