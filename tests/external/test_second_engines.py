"""Every proof once more, by engines that share nothing with the library.

The machine is written out here from its TOML file as clauses for a satisfiability solver
(python-sat) and as decision diagrams (``dd``).  Both go by the parts' *places*: one proposition
for "this part stands at this displacement", joined by the travel law of the brute force.  No cut,
no column and no formula of the library is used on the way.
"""

from fractions import Fraction
from itertools import count, product

import pytest
import sympy
from brute_force import Printer, inputs_of, read
from dd.autoref import BDD
from diagrams import diagram_of
from hypothesis import given
from hypothesis import strategies as st
from pysat.solvers import Solver
from sympy import And, Not, Or, Symbol, Xor, false, true
from sympy.logic.boolalg import simplify_logic
from sympy.logic.inference import satisfiable

import mechlogic
from mechlogic.explaining import formulas, proofs
from mechlogic.explaining.formulas import bit
from mechlogic.machines import FOLDER
from mechlogic.model import laws
from mechlogic.model.mechanism import Mechanism, Part

MACHINE = mechlogic.load("saltmere")
MECHANISM = MACHINE.mechanism
PLAIN = Printer(read(FOLDER / "saltmere.toml"))
WHEEL = PLAIN.wheel
CUTS = [(name, cut) for name in PLAIN.order for cut in range(len(PLAIN.places[name]) - 1)]
SELECTING = (1, 2, 3, 4, 5, 7)


def laws_written_out():
    """For every part, every combination of places of its inputs and the place it then has."""
    for name in PLAIN.order:
        inputs = inputs_of(PLAIN.parts[name])
        for x in product(*(PLAIN.places[other] for other in inputs)):
            if inputs:
                yield name, list(zip(inputs, x, strict=True)), PLAIN.law(name, x)


# -- satisfiability ------------------------------------------------------------------------------


class Clauses:
    """One copy of the machine, or several, in conjunctive normal form."""

    def __init__(self):
        self.solver, self._new = Solver(name="cadical153"), count(1)

    def new(self):
        return next(self._new)

    def copy(self):
        """One more machine: its bits by number, its places by (part, displacement)."""
        bits = {part["bit"]: self.new() for part in PLAIN.parts.values() if part["joint"] == "bit"}
        at = {}
        for name in PLAIN.order:
            for place in PLAIN.places[name]:
                at[name, place] = self.new()
            self.exactly_one([at[name, place] for place in PLAIN.places[name]])
            if PLAIN.parts[name]["joint"] == "bit":
                self.same(at[name, PLAIN.places[name][-1]], bits[PLAIN.parts[name]["bit"]])
        for name, inputs, place in laws_written_out():
            self.solver.add_clause([*(-at[pair] for pair in inputs), at[name, place]])
        return bits, at

    def exactly_one(self, literals):
        self.solver.add_clause(literals)
        for i, one in enumerate(literals):
            for other in literals[i + 1 :]:
                self.solver.add_clause([-one, -other])

    def same(self, one, other):
        self.solver.add_clause([-one, other])
        self.solver.add_clause([one, -other])

    def any_of(self, literals):
        """A literal for "one of these" (G. Tseitin's encoding, 1968)."""
        gate = self.new()
        self.solver.add_clause([-gate, *literals])
        for literal in literals:
            self.solver.add_clause([gate, -literal])
        return gate

    def differ(self, one, other):
        gate = self.new()
        for a, b in product((1, -1), repeat=2):
            self.solver.add_clause([a * one, b * other, a * b * -gate])
        return gate

    def passed(self, at, name, cut):
        """A literal for "the part stands beyond the cut"."""
        return self.any_of([at[name, place] for place in PLAIN.places[name][cut + 1 :]])

    def formula(self, expression, bits):
        """A literal for a SymPy expression of code bits (Tseitin's encoding)."""
        match expression:
            case Symbol():
                return bits[int(expression.name[1:])]
            case Not():
                return -self.formula(expression.args[0], bits)
            case Or():
                return self.any_of([self.formula(arg, bits) for arg in expression.args])
            case And():
                return -self.any_of([-self.formula(arg, bits) for arg in expression.args])
        return {true: 1, false: -1}[expression] * self.always()

    def always(self):
        gate = self.new()
        self.solver.add_clause([gate])
        return gate

    def cell(self, at, row, column):
        """A literal for "this cell of the wheel faces the hammer"."""
        return -self.any_of([-at[WHEEL["lift"], row], -at[WHEEL["turn"], column]])

    def model(self, bits, *assumed):
        """A setting of the bars under which all assumed literals hold, or None."""
        if not self.solver.solve(assumptions=list(assumed)):
            return None
        found = set(self.solver.get_model())
        return sum(1 << (number - 1) for number, literal in bits.items() if literal in found)


@pytest.fixture
def clauses():
    found = Clauses()
    yield found
    found.solver.delete()


def test_the_middle_stop_lever_answers_to_either_bit_and_to_nothing_else(clauses):
    claim = bit(1) | bit(3)
    bits, at = clauses.copy()
    wrong = clauses.differ(clauses.passed(at, "middle_stop", 0), clauses.formula(claim, bits))
    assert clauses.model(bits, wrong) is None
    assert proofs.operated_when(MECHANISM, "middle_stop", claim)


@pytest.mark.parametrize(
    "claim",
    [bit(1) & bit(3), bit(1), bit(1) ^ bit(3), ~bit(1) | bit(3), bit(1) | bit(3) | bit(7), false],
    ids=str,
)
def test_a_false_claim_has_a_model_and_the_librarys_refutation_is_one(clauses, claim):
    bits, at = clauses.copy()
    plain_claim = sympy.logic.boolalg.to_nnf(claim, simplify=False)
    lever = clauses.passed(at, "middle_stop", 0)
    wrong = clauses.differ(lever, clauses.formula(plain_claim, bits))
    code = clauses.model(bits, wrong)
    assert code is not None
    settings = {Symbol(f"b{number}"): bool(code >> (number - 1) & 1) for number in bits}
    assert bool(claim.subs(settings)) != bool(code & 0b101)
    proof = proofs.operated_when(MECHANISM, "middle_stop", claim)
    assert not proof
    refuting = [
        literal if proof.refuted_by >> (number - 1) & 1 else -literal
        for number, literal in bits.items()
    ]
    assert clauses.model(bits, wrong, *refuting) == proof.refuted_by


def test_the_selecting_bits_and_the_characters_correspond_one_to_one(clauses):
    bits, at = clauses.copy()
    other_bits, other_at = clauses.copy()
    aims = [
        (part, place) for part in (WHEEL["lift"], WHEEL["turn"]) for place in PLAIN.places[part]
    ]
    aim_differs = clauses.any_of([clauses.differ(at[aim], other_at[aim]) for aim in aims])
    bits_differ = clauses.any_of([clauses.differ(bits[n], other_bits[n]) for n in SELECTING])
    assert clauses.model(bits, aim_differs, -bits_differ) is None  # the bits settle the aim
    assert clauses.model(bits, -aim_differs, bits_differ) is None  # and the aim the bits
    assert clauses.model(bits, aim_differs, bits_differ) is not None
    assert proofs.selecting_bits(MACHINE) == SELECTING
    proof = proofs.one_for_each(MACHINE)
    assert proof
    assert "56 combinations choose 56 different places" in proof.because


def test_no_setting_finds_the_wheel_between_two_characters(clauses):
    bits, at = clauses.copy()
    struck = clauses.passed(at, WHEEL["hammer"], 0)
    cells = [clauses.cell(at, *cell) for cell in product(WHEEL["rows_mm"], WHEEL["columns_deg"])]
    assert clauses.model(bits, struck, *(-cell for cell in cells)) is None
    assert proofs.positions_distinct(MACHINE)


def test_every_code_has_one_model_and_prints_as_declared(clauses):
    """ECMA-6: from 2/8 to 5/15 they print, the small letters of 6 and 7 as 4 and 5; no others."""
    bits, at = clauses.copy()
    struck = clauses.passed(at, WHEEL["hammer"], 0)
    for code in range(128):
        setting = [lit if code >> (n - 1) & 1 else -lit for n, lit in bits.items()]
        clauses.solver.solve(assumptions=setting)
        model = set(clauses.solver.get_model())
        row = next(i for i, mm in enumerate(WHEEL["rows_mm"]) if at[WHEEL["lift"], mm] in model)
        columns = [
            i for i, deg in enumerate(WHEEL["columns_deg"]) if at[WHEEL["turn"], deg] in model
        ]
        printed = WHEEL["glyphs"][row][columns[0]] if struck in model else ""
        assert printed == ("" if code < 0x28 else chr(code if code < 96 else code - 32))
    assert proofs.does_as_declared(MACHINE)


@pytest.mark.parametrize("bar", [1, 2, 3, 4, 5, 6, 7])
def test_every_bar_changes_something_that_is_printed_and_one_only_whether(clauses, bar):
    bits, at = clauses.copy()
    other_bits, other_at = clauses.copy()
    for number in bits:
        clauses.same(bits[number], (1 if number != bar else -1) * other_bits[number])
    one, other = (
        (
            clauses.passed(places, WHEEL["hammer"], 0),
            {
                cell: clauses.cell(places, *cell)
                for cell in product(WHEEL["rows_mm"], WHEEL["columns_deg"])
            },
        )
        for places in (at, other_at)
    )
    struck_differs = clauses.differ(one[0], other[0])
    aim_differs = clauses.any_of([clauses.differ(one[1][c], other[1][c]) for c in one[1]])
    both_struck = -clauses.any_of([-one[0], -other[0]])
    seen = clauses.any_of([struck_differs, -clauses.any_of([-both_struck, -aim_differs])])
    assert clauses.model(bits, seen) is not None
    assert (clauses.model(bits, both_struck, aim_differs) is None) == (bar == 6)
    proof = proofs.never_matters(MACHINE, f"bar{bar}")
    assert not proof
    flipped = MACHINE.printed[proof.refuted_by ^ 1 << (bar - 1)]
    assert MACHINE.printed[proof.refuted_by] != flipped


# -- decision diagrams -----------------------------------------------------------------------------


@pytest.fixture(scope="module")
def diagrams():
    """The manager, and the diagram of every part at every place."""
    bdd = BDD()
    bdd.declare(*(f"b{part['bit']}" for part in PLAIN.parts.values() if part["joint"] == "bit"))
    at = {(name, place): bdd.false for name in PLAIN.order for place in PLAIN.places[name]}
    for name, part in PLAIN.parts.items():
        if part["joint"] == "bit":
            at[name, PLAIN.places[name][-1]] = bdd.var(f"b{part['bit']}")
            at[name, PLAIN.places[name][0]] = ~bdd.var(f"b{part['bit']}")
    for name, inputs, place in laws_written_out():
        together = bdd.true
        for pair in inputs:
            together &= at[pair]
        at[name, place] |= together
    return bdd, at


def beyond(bdd, at, name, cut):
    found = bdd.false
    for place in PLAIN.places[name][cut + 1 :]:
        found |= at[name, place]
    return found


def test_the_selection_is_blind_to_one_bar(diagrams):
    bdd, at = diagrams
    support = {
        part: set().union(*(bdd.support(at[part, place]) for place in PLAIN.places[part]))
        for part in (WHEEL["lift"], WHEEL["turn"], WHEEL["hammer"])
    }
    assert support[WHEEL["lift"]] == {"b1", "b2", "b3"}
    assert support[WHEEL["turn"]] == {"b4", "b5", "b7"}
    assert support[WHEEL["hammer"]] == {"b4", "b5", "b6", "b7"}
    assert proofs.never_matters(MACHINE, "bar6", (WHEEL["lift"], WHEEL["turn"]))
    for bar in ("bar1", "bar7"):
        assert not proofs.never_matters(MACHINE, bar, (WHEEL["lift"], WHEEL["turn"]))


def test_each_of_the_56_characters_has_one_combination_in_128_settings(diagrams):
    bdd, at = diagrams
    for row, column in product(WHEEL["rows_mm"], WHEEL["columns_deg"]):
        cell = at[WHEEL["lift"], row] & at[WHEEL["turn"], column]
        assert bdd.count(cell, nvars=7) == 2, "b6 is free, six bits are not"


@pytest.mark.parametrize(("name", "cut"), CUTS, ids=lambda value: str(value))
def test_formula_table_solver_and_diagram_agree_on_every_part(name, cut, diagrams, clauses):
    bdd, at = diagrams
    diagram = beyond(bdd, at, name, cut)
    for simplest in (True, False):
        formula = formulas.logic(MECHANISM, name, cut, simplest=simplest)
        assert diagram_of(bdd, formula) == diagram
    column = MACHINE.healthy.places[name][cut]
    assert column.bit_count() == bdd.count(diagram, nvars=7)
    for code in range(0, 128, 3):
        setting = {f"b{n + 1}": bool(code >> n & 1) for n in range(7)}
        assert (bdd.let(setting, diagram) == bdd.true) == bool(column >> code & 1)
    bits, places = clauses.copy()
    passed = clauses.passed(places, name, cut)
    wrong = clauses.differ(passed, clauses.formula(formula, bits))
    assert clauses.model(bits, wrong) is None
    assert clauses.model(bits, passed) is not None, "and the part does move"


@pytest.mark.parametrize("name", ["middle_stop", "command_slide", "hammer", "suppression_bar"])
def test_sympy_finds_the_formula_and_its_simplest_form_equivalent(name):
    short, long = (formulas.logic(MECHANISM, name, simplest=simplest) for simplest in (True, False))
    assert satisfiable(Xor(short, long)) is False
    assert simplify_logic(Xor(short, long), force=True) == false
    assert satisfiable(Xor(short, Not(long)))


def test_sympy_agrees_that_the_middle_stop_lever_is_the_or_of_two_bits():
    assert satisfiable(Xor(formulas.logic(MECHANISM, "middle_stop"), bit(1) | bit(3))) is False
    assert satisfiable(Xor(formulas.logic(MECHANISM, "middle_stop"), bit(1) & bit(3)))


# -- the forced OR -------------------------------------------------------------------------------


def test_of_sixteen_functions_two_give_four_heights_and_of_these_only_the_or_is_monotone():
    """Straight from the arrangement: three stops, the lowest served by the function tried."""
    heights_of = {}
    for values in product((False, True), repeat=4):
        tried = dict(zip(product((False, True), repeat=2), values, strict=True))
        heights = {}
        for (first, second), clear in tried.items():
            stops = [(0, clear), (5, first), (10, second)]
            heights[first, second] = next((at for at, gone in stops if not gone), 15)
        heights_of[values] = heights
    four = {values for values, heights in heights_of.items() if len({*heights.values()}) == 4}
    either = tuple(a or b for a, b in product((False, True), repeat=2))
    assert len(four) == 2
    assert either in four

    def monotone(values):
        pairs = list(product((False, True), repeat=2))
        return all(
            values[i] <= values[j]
            for i, one in enumerate(pairs)
            for j, other in enumerate(pairs)
            if one[0] <= other[0] and one[1] <= other[1]
        )

    assert [values for values in four if monotone(values)] == [either]
    candidates = proofs.sixteen_levers(MECHANISM, "middle_stop", "lift_rack", (3, 1))
    assert len(candidates) == len({candidate.values for candidate in candidates}) == 16
    for candidate in candidates:
        off, first, second, both = candidate.values
        mine = (off, second, first, both)  # the library lets the first bit change faster
        heights = heights_of[mine]
        assert candidate.places == tuple(
            heights[pair] for pair in ((False, False), (True, False), (False, True), (True, True))
        )
        assert candidate.distinct == (mine in four)
        assert candidate.monotone == monotone(mine)
        assert candidate.lowest_when_clear == (heights[False, False] == min(heights.values()))
        assert candidate.forced == (mine == either)


# -- the threshold theorem -----------------------------------------------------------------------
# P. Wendt, E. Coyle, N. Gallagher, Stack filters, IEEE Trans. ASSP 34 (1986): max and min commute
# with every threshold.

part_way = st.floats(0, 4, allow_nan=False)
fractions = st.fractions(0, 4, max_denominator=50)


@given(st.lists(part_way, min_size=1, max_size=4), st.floats(0.01, 4))
def test_max_and_min_commute_with_every_threshold(x, cut):
    names = tuple(f"x{i}" for i in range(len(x)))
    full = [Fraction(4)] * len(x)
    above = [place >= cut for place in x]
    pushed = laws.EitherPushes(names).travel(x, full, laws.PLAIN)
    cleared = laws.AllClear(names).travel(x, full, laws.PLAIN)
    assert (pushed >= cut) == any(above)
    assert (cleared >= cut) == all(above)


@given(fractions, st.fractions(Fraction(1, 4), 4, max_denominator=20), fractions)
def test_a_ratio_divides_the_cut_and_a_withdrawal_takes_it_from_the_full_travel(x, ratio, cut):
    full = [Fraction(4)]
    followed = laws.Follow("x", ratio).travel([x], full, laws.PLAIN)
    assert (followed >= cut) == (x >= cut / ratio)
    withdrawn = laws.Withdraw("x", ratio).travel([x], full, laws.PLAIN)
    assert (withdrawn >= cut) == (x <= 4 - cut / ratio)


trees = st.recursive(
    st.integers(0, 3),
    lambda inner: st.tuples(st.booleans(), st.lists(inner, min_size=1)),
    max_leaves=8,
)


@given(trees, st.lists(part_way, min_size=4, max_size=4), st.floats(0.01, 4))
def test_a_whole_tree_of_pushes_and_blocks_commutes_with_every_threshold(tree, x, cut):
    def travel(node):
        if isinstance(node, int):
            return x[node]
        pushes, inner = node
        names = tuple(map(str, range(len(inner))))
        joint = laws.EitherPushes(names) if pushes else laws.AllClear(names)
        return joint.travel([travel(one) for one in inner], [Fraction(4)] * len(inner), laws.PLAIN)

    def logic(node):
        if isinstance(node, int):
            return x[node] >= cut
        return (any if node[0] else all)(logic(one) for one in node[1])

    assert (travel(tree) >= cut) == logic(tree)


def test_pushes_and_blocks_read_as_logic_if_inputs_and_output_are_cut_alike():
    full, cut = [Fraction(4)] * 3, Fraction(3, 2)
    for joint in (laws.EitherPushes(("x", "y", "z")), laws.AllClear(("x", "y", "z"))):
        reading = proofs.reads_as_logic(joint, full, cut, [cut] * 3)
        assert reading
        assert reading.positions >= 9**3
    # Cut at other depths than the output, the inputs' bits no longer settle it.
    assert not proofs.reads_as_logic(laws.EitherPushes(("x", "y")), full[:2], cut, [cut, cut * 2])


def test_half_way_a_part_and_its_withdrawal_both_read_as_operated():
    """T = 1, x = 1/2 and a cut at 1/4: logic needs one cut for one bit."""
    whole, half, quarter = [Fraction(1)], Fraction(1, 2), Fraction(1, 4)
    part = laws.Follow("x").travel([half], whole, laws.PLAIN)
    withdrawal = laws.Withdraw("x").travel([half], whole, laws.PLAIN)
    assert part >= quarter
    assert withdrawal >= quarter
    assert proofs.reads_as_logic(laws.Withdraw("x"), whole, quarter, [1 - quarter])
    assert not proofs.reads_as_logic(laws.Withdraw("x"), whole, quarter, [quarter])


@pytest.mark.parametrize("arms", [(1, 1), (1, 3), (2, 1)])
def test_a_summing_lever_is_arithmetic_and_no_logic(arms):
    """Its travel (b·x + a·y)/(a + b): Shigley; Bureau of Ordnance OP 1140 (1944), adding."""
    a, b = map(Fraction, arms)
    full, cut = [Fraction(4)] * 2, Fraction(2)
    reading = proofs.reads_as_logic(laws.SummingLever("x", "y", a, b), full, cut, [cut, cut])
    assert not reading
    sums = []
    for x, y in (reading.one, reading.other):
        assert (x >= cut, y >= cut) == reading.bits
        sums.append((b * x + a * y) / (a + b))
    assert (sums[0] >= cut) != (sums[1] >= cut), "the same bits, and not the same outcome"


def test_a_machine_of_one_whiffletree_has_three_places_or_four():
    """Equal arms give (x + y)/2 (OP 1140: the output of a differential), unequal ones all four."""
    bars = [Part("x", laws.Bit(1, Fraction(4))), Part("y", laws.Bit(2, Fraction(4)))]
    equal, unequal = (
        Mechanism([*bars, Part("sum", laws.SummingLever("x", "y", Fraction(1), arm))])
        for arm in (Fraction(1), Fraction(2))
    )
    assert equal.laws["sum"].places == (0, 2, 4)
    assert unequal.laws["sum"].places == (0, Fraction(4, 3), Fraction(8, 3), 4)
