"""What a print of all characters says about the bits, held against trying everything."""

import random
from collections.abc import Mapping
from itertools import combinations, product

import pytest
import sympy
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from pysat.solvers import Cadical153
from strategies import GLYPHS, few

from mechlogic.describing.roles import Choice, Ladder, RolesError, Stop, Weights, infer
from mechlogic.explaining import formulas
from mechlogic.machines import load
from mechlogic.model.logbook import NOTHING
from mechlogic.model.machine import Machine

SALTMERE, WIND = load("saltmere"), load("wind")


def print_of_all(machine: Machine) -> dict[int, str]:
    return {machine.as_set(code): machine.good_print(code) for code in range(len(machine.code))}


PRINTS = print_of_all(SALTMERE)
GRID = SALTMERE.output.lines


# -- the machines of the library -------------------------------------------------------------------


def test_saltmere():
    (reading,) = infer(PRINTS, GRID, 7).readings
    assert reading.rows.bits == (1, 2, 3)
    assert reading.columns.bits == (4, 5, 7)
    assert reading.printing.bits == (4, 5, 6, 7)
    assert reading.only_suppress == (6,)
    assert reading.idle(7) == ()
    assert reading.aside == reading.wrongly_silent == ()
    assert infer(PRINTS, GRID, 7).simpler == ()
    assert len(reading.foretold) == sum(print_ != NOTHING for print_ in PRINTS.values())


def test_saltmere_in_words():
    said = infer(PRINTS, GRID, 7).says()
    assert said[:5] == (
        "These 88 prints are explained by b1, b2 and b3 as height bits and b4, b5 and b7 as "
        "turning bits.",
        "Each of them is foretold by others, and so tests this.",
        "The row is chosen by b1, b2 and b3: no bit 0, b1 2, b2 1, b1+b2 3, b3 4, b1+b3 6, "
        "b2+b3 5, b1+b2+b3 7.",
        "Row number = 1·b2 + 2·b1 + 4·b3: binary weights, as a whiffletree adds them.",
        "Stops can make it: the stop at 0 is drawn out by b1 or b3; the stop at 2 is drawn out by "
        "b3; the stop at 4 is drawn out by b1; with all of them out it goes on to 6; and b2 shifts "
        "everything by 1, as a shoulder does.",
    )
    assert said[-2:] == (
        "Whether it prints is chosen by b4, b5, b6 and b7.",
        "b6 only suppresses the print.",
    )


def test_the_stops_proposed_for_saltmere_are_those_that_it_has():
    (reading,) = infer(PRINTS, GRID, 7).readings
    ladder = reading.rows.ladder
    assert (ladder.shoulder, ladder.step, ladder.end) == (2, 1, 6)
    for stop, lever in zip(ladder.stops, ("middle_stop", "left_stop", "right_stop"), strict=True):
        real = formulas.logic(SALTMERE.mechanism, lever)
        assert never_differ(sympy.Or(*(formulas.bit(b) for b, is_set in stop.drawn_by)), real)
        assert all(is_set for _, is_set in stop.drawn_by)


def test_two_racks_that_turn_a_wheel_either_way_are_read_as_one_with_its_mirror_image():
    """Bits 1 and 2 say how far, bit 3 which way; rest lies between two columns."""
    columns = [4 + (code & 3) if not code & 4 else 3 - (code & 3) for code in range(8)]
    roles = infer(
        {code: "ABCDEFGH"[column] for code, column in enumerate(columns)}, ["ABCDEFGH"], 4
    )
    mirror = roles.readings[0].columns.mirror
    assert (mirror.bit, mirror.is_set) == (3, False)
    plates = [stop.drawn_by for stop in mirror.choice.ladder.stops]
    assert plates == [((1, True), (2, True)), ((2, True),), ((1, True),)]
    assert "b3 reverses the order of the columns; while it is not set:" in roles.says()
    assert roles.says()[-1] == "b4 plays no part."


def test_the_wind_stamp():
    roles = infer(print_of_all(WIND), WIND.output.lines, 2)
    (reading,) = roles.readings
    assert (reading.rows.bits, reading.columns.bits, reading.printing.bits) == ((1, 2), (), ())
    stops = [stop.drawn_by for stop in reading.rows.ladder.stops]
    assert stops == [((1, True), (2, True)), ((2, True),), ((1, True),)]
    assert reading.rows.weights == Weights(0, {1: 1, 2: 2}) and reading.rows.weights.binary
    assert reading.foretold == ()
    assert "None of them tests this: each is the only one with its setting of the bits." in (
        roles.says()
    )


def test_a_parity_bit_is_seen_to_play_no_part():
    prints = {code | code.bit_count() % 2 << 7: print_ for code, print_ in PRINTS.items()}
    (reading,) = infer(prints, GRID, 8).readings
    assert (reading.rows.bits, reading.columns.bits) == ((1, 2, 3), (4, 5, 7))
    assert reading.idle(8) == (8,)


# -- against trying everything ---------------------------------------------------------------------


@st.composite
def decoders(draw: st.DrawFn) -> tuple[dict[int, str], list[str], int, tuple[int, ...]]:
    """A grid, a random division of the bits, and what a machine with it prints."""
    units = draw(st.integers(1, 6))
    bits = draw(st.permutations(range(1, units + 1)))
    n_lift = draw(st.integers(0, min(3, units)))
    n_turn = draw(st.integers(0, min(3, units - n_lift)))
    lift, turn, rest = bits[:n_lift], bits[n_lift:][:n_turn], bits[n_lift + n_turn :]
    rows, columns = (
        dict(zip(product((0, 1), repeat=n), draw(st.permutations(range(1 << n))), strict=True))
        for n in (n_lift, n_turn)
    )
    hush = draw(st.sampled_from(rest)) if rest and draw(st.booleans()) else 0
    glyphs = draw(st.permutations(GLYPHS[: len(rows) * len(columns)]))
    grid = ["".join(glyphs[i :: len(rows)]) for i in range(len(rows))]
    prints = {}
    for code in range(1 << units):
        row, column = (
            table[tuple(code >> b - 1 & 1 for b in some)]
            for table, some in ((rows, lift), (columns, turn))
        )
        silent = hush and code >> hush - 1 & 1
        prints[code] = NOTHING if silent else grid[row][column]
    return prints, grid, units, (tuple(sorted(lift)), tuple(sorted(turn)), hush)


@given(decoders())
def test_the_division_by_which_a_random_decoder_was_made_is_found(decoder):
    prints, grid, units, (lift, turn, hush) = decoder
    (reading,) = infer(prints, grid, units).readings
    assert (reading.rows.bits, reading.columns.bits) == (lift, turn)
    assert reading.printing.bits == ((hush,) if hush else ())
    assert reading.only_suppress == ((hush,) if hush else ())
    assert set(reading.idle(units)) == set(range(1, units + 1)) - {*lift, *turn, hush}
    for code, print_ in prints.items():
        foretold = grid[reading.rows.of(code)][reading.columns.of(code)]
        assert print_ == (foretold if reading.printing.of(code) else NOTHING)


def test_a_few_wrong_prints_are_found_and_named():
    rng = random.Random(3)
    type_ = "".join(GRID).replace(" ", "")
    for n_wrong in (1, 2, 5, 8):
        printed = [code for code, print_ in PRINTS.items() if print_ != NOTHING]
        wrong = sorted(rng.sample(printed, n_wrong))
        prints = {**PRINTS, **{c: rng.choice(type_.replace(PRINTS[c], "")) for c in wrong}}
        roles = infer(prints, GRID, 7)
        (reading,) = roles.readings
        assert reading.aside == reading.surely_aside == tuple(wrong)
        assert (reading.rows.bits, reading.columns.bits) == ((1, 2, 3), (4, 5, 7))
        assert reading.only_suppress == (6,)
        start = "One print" if n_wrong == 1 else f"{n_wrong} prints"
        assert any(
            said.startswith(f"{start} must be set aside, and no fewer: ") for said in roles.says()
        )


def test_a_bit_that_only_explains_wrong_prints_is_told_of():
    rng = random.Random(4)  # a bar 1 that often comes back too late
    late = {}
    for code in range(128):
        stays = not code & 1 and rng.random() < 0.4
        late[SALTMERE.as_set(code)] = SALTMERE.good_print(code | 1 if stays else code)
    roles = infer(late, GRID, 7)
    (reading,) = roles.readings
    assert reading.rows.bits == (1, 2, 3, 6)  # with a bit too many, fewest are wrong
    assert (roles.simpler[-1].rows, roles.simpler[-1].columns) == ((1, 2, 3), (4, 5, 7))
    n_wrong = sum(late[code] != PRINTS[code] for code in late)
    assert len(reading.aside) < roles.simpler[-1].n_aside <= n_wrong
    said = roles.says()
    assert said[-2].startswith(
        "With 6 bits, b1, b2 and b3 as height bits and b4, b5 and b7 as turn"
    )
    assert said[-1] == "A bit that only helps to explain wrong prints is no bit of the decoder."


def test_a_print_that_is_missing_is_not_taken_for_a_suppressing_bit():
    code = SALTMERE.as_set(SALTMERE.code.parse("K"))
    roles = infer({**PRINTS, code: NOTHING}, GRID, 7)
    (reading,) = roles.readings
    assert reading.printing.bits == (4, 5, 6, 7)
    assert reading.wrongly_silent == (code,)
    assert any(said.startswith("Against that print, or do not: 75") for said in roles.says())


@few
@given(st.lists(st.sampled_from([*"ABCDEF", None, NOTHING]), min_size=8, max_size=8))
def test_small_tables_of_any_kind_against_trying_every_division_and_every_set_aside(prints):
    grid = ["AB", "CD", "EF"]
    places = {glyph: (r, c) for r, line in enumerate(grid) for c, glyph in enumerate(line)}
    seen = {code: places[p] for code, p in enumerate(prints) if p in places}
    roles = infer(prints, grid, 3)
    n_aside, divisions, always = everything(seen, 3)
    assert roles.n_prints == len(seen)
    if n_aside > len(seen) // 4:
        assert roles.readings == () and roles.at_least <= n_aside and roles.clashes
        return
    assert {(r.rows.bits, r.columns.bits) for r in roles.readings} == set(divisions)
    for reading in roles.readings:
        assert len(reading.aside) == n_aside
        assert set(reading.surely_aside) == always[reading.rows.bits, reading.columns.bits]
        kept = {code: at for code, at in seen.items() if code not in reading.aside}
        assert follows(kept, reading.rows.bits, reading.columns.bits)
        assert all((reading.rows.of(c), reading.columns.of(c)) == at for c, at in kept.items())
    for n_bits in range(len(divisions[0][0]) + len(divisions[0][1])):
        n_more, best = with_bits(seen, 3, n_bits)
        told = [s for s in roles.simpler if len(s.rows) + len(s.columns) == n_bits]
        assert {(s.rows, s.columns) for s in told} == (best if n_more <= len(seen) // 4 else set())
        assert all(s.n_aside == n_more for s in told)


Places = Mapping[int, tuple[int, int]]
Division = tuple[tuple[int, ...], tuple[int, ...]]


def follows(seen: Places, lift: tuple[int, ...], turn: tuple[int, ...]) -> bool:
    """Whether the row follows from some bits and the column from others."""
    for one, other in combinations(seen, 2):
        for bits, what in ((lift, 0), (turn, 1)):
            alike = all((one >> b - 1 & 1) == (other >> b - 1 & 1) for b in bits)
            if alike and seen[one][what] != seen[other][what]:
                return False
    return True


def divisions_of(units: int) -> list[Division]:
    """Every way in which each bit lifts, turns or does neither."""
    return [
        (
            tuple(i + 1 for i, job in enumerate(jobs) if job == "lift"),
            tuple(i + 1 for i, job in enumerate(jobs) if job == "turn"),
        )
        for jobs in product(("lift", "turn", "idle"), repeat=units)
    ]


def ways_of(seen: Places, divisions: list[Division]) -> dict[Division, list[set[int]]]:
    """How the fewest prints can be set aside for any of some divisions."""
    for n_aside in range(len(seen) + 1):
        ways: dict[Division, list[set[int]]] = {}
        for aside in combinations(seen, n_aside):
            kept = {code: at for code, at in seen.items() if code not in aside}
            for division in divisions:
                if follows(kept, *division):
                    ways.setdefault(division, []).append(set(aside))
        if ways:
            return ways
    return {}


def everything(seen: Places, units: int) -> tuple[int, list[Division], dict[Division, set[int]]]:
    """How few must be set aside, the smallest divisions, and what each always sets aside."""
    ways = ways_of(seen, divisions_of(units))
    size = min(len(lift) + len(turn) for lift, turn in ways)
    smallest = [d for d in ways if len(d[0]) + len(d[1]) == size]
    n_aside = len(ways[smallest[0]][0])
    return n_aside, smallest, {d: set.intersection(*ways[d]) for d in smallest}


def with_bits(seen: Places, units: int, n_bits: int) -> tuple[int, set[Division]]:
    """The same for all divisions with so many bits."""
    ways = ways_of(seen, [d for d in divisions_of(units) if len(d[0]) + len(d[1]) == n_bits])
    return (len(next(iter(ways.values()))[0]), set(ways)) if ways else (0, set())


# -- doubt and failure -----------------------------------------------------------------------------


def test_bits_that_always_go_together_leave_two_explanations():
    roles = infer({0b00: "A", 0b11: "B"}, ["A", "B"], 2)
    assert [reading.rows.bits for reading in roles.readings] == [(1,), (2,)]
    assert roles.says()[0].startswith("There are 2 equally small explanations.")


def test_of_two_prints_that_contradict_each_other_it_is_not_known_which_is_wrong():
    grid = ["ABCD", "EFGH"]  # b1 lifts, b2 and b3 turn; E ought to be printed by code 1
    prints = {code: grid[code & 1][code >> 1] for code in range(8)} | {1: "F"}
    roles = infer(prints, grid, 3)
    (reading,) = roles.readings
    assert (reading.rows.bits, reading.columns.bits) == ((1,), (2, 3))
    assert reading.aside in ((0,), (1,)) and reading.surely_aside == ()
    assert any("it may as well be another that is wrong" in said for said in roles.says())


def test_prints_that_fit_nothing_are_said_to_and_two_of_them_shown():
    rng = random.Random(5)
    type_ = "".join(GRID).replace(" ", "")
    roles = infer([rng.choice(type_) for _ in range(256)], GRID, 8)
    assert roles.readings == ()
    assert roles.at_least > 256 // 4
    said = roles.says()
    assert said[0].startswith("No division into bits that choose the row")
    assert " would share it, but they print in " in said[1]
    for clash in roles.clashes[:50]:
        one, other = clash.codes
        assert all((one >> b - 1 & 1) == (other >> b - 1 & 1) for b in clash.bits)
        assert clash.at[0] != clash.at[1]


def test_type_that_is_there_twice_says_only_what_is_sure():
    # A stands twice in the row 0: its row is sure, its column is not.
    roles = infer({0: "A", 1: "B", 2: "C", 3: "D"}, ["AAB", "CCD"], 2)
    assert roles.doubtful == (0, 2)
    (reading,) = roles.readings
    assert reading.rows.bits == (2,)
    assert reading.columns.bits == ()  # only B and D say in which column they stand


def test_what_is_not_on_the_type_is_left_out_and_named():
    roles = infer({0: "N", 1: "?", 2: "S", 3: "W"}, ["N", "E", "S", "W"], 2)
    assert roles.strange == (1,)
    assert roles.says()[0] == "Not on the type, and left out: what 1 print."


@pytest.mark.parametrize(
    ("prints", "grid", "units", "message"),
    [
        ({}, ["A"], 9, "9 bits cannot be tried"),
        ({4: "A"}, ["A"], 2, "the code 4 has more than 2 bits"),
        ({}, [], 2, "no grid"),
        ({}, ["AB", "C"], 2, "no grid"),
    ],
)
def test_what_cannot_be_read_is_refused(prints, grid, units, message):
    with pytest.raises(RolesError, match=message):
        infer(prints, grid, units)


def test_no_prints_at_all_say_nothing():
    (reading,) = infer({}, ["AB"], 2).readings
    assert reading.rows.bits == reading.columns.bits == ()


# -- the order and the works -----------------------------------------------------------------------

tables = st.integers(1, 3).flatmap(
    lambda n: st.dictionaries(
        st.integers(0, (1 << n) - 1), st.integers(0, 5), min_size=1, max_size=1 << n
    ).map(lambda table: Choice(tuple(range(1, n + 1)), table, 6))
)


@given(tables)
def test_whatever_is_proposed_chooses_what_was_seen(choice):
    for works in (choice.weights, choice.ladder):
        if works is not None:
            assert {setting: works.at(setting) for setting in choice.table} == choice.table
    if choice.mirror:
        for setting, at in choice.table.items():
            is_set = bool(setting >> choice.mirror.bit - 1 & 1)
            chosen = choice.mirror.choice.of(setting)
            assert at == (chosen if is_set == choice.mirror.is_set else 5 - chosen)


@given(tables)
def test_a_sum_of_weights_is_found_if_there_is_just_one(choice):
    n = len(choice.bits)
    fitting = [
        (base, weights)
        for base in range(-10, 16)
        for weights in product(range(-10, 11), repeat=n)
        if all(
            base + sum(w for b, w in zip(choice.bits, weights, strict=True) if s >> b - 1 & 1) == at
            for s, at in choice.table.items()
        )
    ] if n < 3 else None  # fmt: skip
    assume(fitting is not None)
    if len(fitting) == 1:
        ((base, weights),) = fitting
        assert choice.weights == Weights(base, dict(zip(choice.bits, weights, strict=True)))
    else:
        assert choice.weights is None


@settings(max_examples=settings().max_examples // 2)
@given(tables)
def test_stops_are_proposed_whenever_any_bits_can_draw_them_out(choice):
    places = sorted(set(choice.table.values()))
    literals = [(bit, is_set) for bit in choice.bits for is_set in (True, False)]
    clauses = [some for n in range(len(literals) + 1) for some in combinations(literals, n)]

    def some_stop(place: int) -> bool:
        def out(some, setting):
            return any(bool(setting >> b - 1 & 1) == is_set for b, is_set in some)

        return any(
            all(out(some, s) == (at > place) for s, at in choice.table.items() if at >= place)
            for some in clauses
        )

    possible = all(map(some_stop, places[:-1]))
    assert choice.ladder is not None or not possible
    assert choice.ladder is None or choice.ladder.shoulder or possible


@settings(max_examples=settings().max_examples // 2)
@given(tables)
def test_the_logic_of_every_stop_is_right_for_every_setting_that_matters(choice):
    for place, drawn_out in choice.logic().items():
        for setting, at in choice.table.items():
            if at >= place:
                values = {formulas.bit(b): bool(setting >> b - 1 & 1) for b in choice.bits}
                assert bool(drawn_out.subs(values)) == (at > place)
        for stop in choice.ladder.stops if choice.ladder and not choice.ladder.shoulder else ():
            if stop.at == place:
                assert len(list(sympy.preorder_traversal(drawn_out))) <= 2 * len(stop.drawn_by) + 1


def test_an_order_that_is_neither_is_said_to_be():
    prints = {0: "A", 1: "A", 2: "A", 3: "B"}
    said = infer(prints, ["A", "B"], 2).says()
    assert any(
        line.startswith("The order of the rows is neither a sum of weights") for line in said
    )
    assert "Stops would have to be drawn out otherwise: the one at 0 for b1 & b2." in said


def test_weights_that_are_not_binary():
    grid = ["A", "B", "C", "D"]
    prints = {s: grid[sum(s >> i & 1 for i in range(3))] for s in range(8)}
    (reading,) = infer(prints, grid, 3).readings
    assert reading.rows.weights == Weights(0, {1: 1, 2: 1, 3: 1})
    assert not reading.rows.weights.binary


def test_a_priority_that_is_no_sum():
    # b1 draws the first stop, b2 the second, b3 the third; the first one in the way arrests.
    grid = ["A", "B", "C", "D"]
    prints = {s: grid[next((i for i in range(3) if not s >> i & 1), 3)] for s in range(8)}
    (reading,) = infer(prints, grid, 3).readings
    assert reading.rows.weights is None
    assert reading.rows.ladder == Ladder(
        (Stop(0, ((1, True),)), Stop(1, ((2, True),)), Stop(2, ((3, True),))), 3
    )


def never_differ(one: sympy.Basic, other: sympy.Basic) -> bool:
    """Whether a SAT solver finds no bits for which two expressions differ."""
    differ = sympy.to_cnf(sympy.Xor(one, other), simplify=True)
    if differ in (sympy.true, sympy.false):
        return differ == sympy.false
    numbers = {symbol: i + 1 for i, symbol in enumerate(sorted(differ.free_symbols, key=str))}
    with Cadical153() as solver:
        for clause in sympy.And.make_args(differ):
            literals = sympy.Or.make_args(clause)
            solver.add_clause([
                -numbers[lit.args[0]] if isinstance(lit, sympy.Not) else numbers[lit]
                for lit in literals
            ])  # fmt: skip
        return not solver.solve()
