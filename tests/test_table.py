"""The table reading: many codes at once, and the same as one after another."""

import pytest
from brute_force import Printer, read
from hypothesis import given
from hypothesis import strategies as st
from strategies import descriptions, few, machine_of, mechanism_of, parts

from mechlogic.machines import FOLDER, load
from mechlogic.model.machine import spread
from mechlogic.model.mechanism import Mechanism
from mechlogic.model.table import Changes, Rows, at_place, place_in_row, standing, tabulate

SALTMERE = load("saltmere")
PLAIN_SALTMERE = Printer(read(FOLDER / "saltmere.toml"))

codes = st.lists(st.integers(0, 31), max_size=40).map(tuple)


def displacement(mechanism, table, name, row):
    return mechanism.laws[name].places[place_in_row(table.places[name], row)]


# -- against the plain simulator -------------------------------------------------------------------


@few
@given(parts())
def test_every_part_of_a_random_mechanism_stands_where_the_travel_puts_it_for_every_code(drawn):
    mechanism, plain = mechanism_of({"parts": drawn}), Printer({"parts": drawn})
    rows = Rows(tuple(range(1 << len(mechanism.bars))))
    table = tabulate(mechanism, rows)
    for t, code in enumerate(rows.codes):
        stands, _, _ = plain.follow(code)
        assert {name: displacement(mechanism, table, name, t) for name in drawn} == stands


@few
@given(descriptions())
def test_a_random_machine_prints_what_its_travel_brings_to_the_hammer(description):
    machine, plain = machine_of(description), Printer(description)
    assert list(machine.printed) == [plain.follow(code)[2] for code in machine.all_codes.codes]


def test_every_part_of_saltmere_stands_where_the_travel_puts_it_for_every_code():
    for t, code in enumerate(SALTMERE.all_codes.codes):
        stands, _, printed = PLAIN_SALTMERE.follow(code)
        for name in stands:
            found = displacement(SALTMERE.mechanism, SALTMERE.healthy, name, t)
            assert found == stands[name], (code, name)
        assert SALTMERE.printed[code] == printed


def test_saltmere_has_seven_code_bars_and_so_128_rows():
    assert len(SALTMERE.all_codes.codes) == 128


# -- rows and columns ------------------------------------------------------------------------------


@given(codes)
def test_a_column_answers_row_by_row(codes):
    rows = Rows(codes)
    assert rows.every == sum(1 << t for t in range(len(codes)))
    for bit in range(1, 6):
        column = rows.bit(bit)
        assert [column >> t & 1 for t in range(len(codes))] == [c >> bit - 1 & 1 for c in codes]
    assert rows.where(code % 3 == 0 for code in codes) == sum(
        1 << t for t, code in enumerate(codes) if code % 3 == 0
    )


@given(st.integers(0, 4), st.integers(0, 4), st.integers(1, 8))
def test_a_part_that_stands_still_stands_at_that_place_in_every_row(place, other, n_rows):
    every = (1 << n_rows) - 1
    columns = standing(place, 4, every)
    assert len(columns) == 4
    assert {place_in_row(columns, t) for t in range(n_rows)} == {place}
    assert at_place(columns, other, every) == (every if other == place else 0)


@few
@given(parts())
def test_every_row_finds_a_part_at_exactly_one_of_its_places(drawn):
    mechanism = mechanism_of({"parts": drawn})
    rows = Rows(tuple(range(1 << len(mechanism.bars))))
    for name, columns in tabulate(mechanism, rows).places.items():
        at = [at_place(columns, k, rows.every) for k in range(len(mechanism.laws[name].places))]
        assert sum(at) == rows.every
        assert all(a & b == 0 for i, a in enumerate(at) for b in at[:i])


@given(codes)
def test_the_rows_of_a_table_do_not_know_of_one_another(codes):
    """The table of a log is read off the table of all codes."""
    mechanism = Mechanism(part for part in SALTMERE.mechanism)
    table = tabulate(mechanism, Rows(codes))
    for name, columns in table.places.items():
        whole = SALTMERE.healthy.places[name]
        assert [place_in_row(columns, t) for t in range(len(codes))] == [
            place_in_row(whole, code) for code in codes
        ]


def test_prints_are_spread_over_their_rows():
    assert spread({"A": 0b101, "nothing": 0b010}, 3) == ("A", "nothing", "A")
    assert spread({}, 2) == ("", "")


# -- changes ---------------------------------------------------------------------------------------


@few
@given(parts(), st.data())
def test_changes_reach_the_same_parts_with_a_base_as_without(drawn, data):
    """A table worked out anew only behind the changes is the table worked out whole."""
    mechanism = mechanism_of({"parts": drawn})
    rows = Rows(tuple(range(1 << len(mechanism.bars))))
    stuck = data.draw(st.sampled_from(sorted(drawn)))
    n_cuts = len(mechanism.laws[stuck].cuts)
    place = data.draw(st.integers(0, n_cuts))
    changes = Changes(parts={stuck: lambda asked: standing(place, n_cuts, rows.every)})
    healthy = tabulate(mechanism, rows)
    with_base, whole = (
        tabulate(mechanism, rows, changes, healthy),
        tabulate(mechanism, rows, changes),
    )
    assert with_base.places == whole.places
    assert with_base.asked == whole.asked == {stuck: healthy.places[stuck]}
    assert whole.places[stuck] == standing(place, n_cuts, rows.every)
    for name in set(drawn) - mechanism.downstream(stuck):
        assert whole.places[name] == healthy.places[name]


def test_a_view_changes_what_one_follower_finds_and_leaves_the_part_and_the_others_alone():
    rows = SALTMERE.all_codes
    operated = standing(1, 1, rows.every)
    changes = Changes(views={("left_stop", "slide3"): lambda place: operated})
    table = tabulate(SALTMERE.mechanism, rows, changes)
    assert table.places["left_stop"] == operated
    for name in ("slide3", "middle_stop"):
        assert table.places[name] == SALTMERE.healthy.places[name]


def test_a_view_may_belong_to_a_follower_that_is_no_part():
    rows = SALTMERE.all_codes
    views = {("the paper", "hammer"): lambda places: (rows.every ^ places["hammer"][0],)}
    changes = Changes(views=views)
    table = tabulate(SALTMERE.mechanism, rows, changes)
    hammer = SALTMERE.healthy.places["hammer"]
    assert table.seen("the paper", "hammer") == (rows.every ^ hammer[0],)
    assert table.seen("anything else", "hammer") == table.places["hammer"] == hammer


@pytest.mark.parametrize("code", ["A", "Z", "?", " ", "5"])
def test_the_good_machine_prints_what_is_sent(code):
    assert SALTMERE.good_print(ord(code)) == ("nothing" if code == " " else code)
