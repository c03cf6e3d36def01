"""Two machines side by side, held against the plain simulator and said in words."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from fractions import Fraction as F
from itertools import product

import pytest
from brute_force import Printer
from hypothesis import assume, given
from hypothesis import strategies as st
from strategies import descriptions, few, machine_of

from mechlogic.describing.compare import CompareError, compare
from mechlogic.machines import load
from mechlogic.model import laws
from mechlogic.model.laws import Literal
from mechlogic.model.machine import Machine
from mechlogic.model.mechanism import Mechanism, Part

SALTMERE, WIND = load("saltmere"), load("wind")
OTHER_JOINT = {
    "follow": "withdraw",
    "withdraw": "follow",
    "either_pushes": "all_clear",
    "all_clear": "either_pushes",
}


def with_part(machine: Machine, name: str, **changes: object) -> Machine:
    parts = [replace(p, **changes) if p.name == name else p for p in machine.mechanism]
    return replace(machine, mechanism=Mechanism(parts))


def is_elsewhere(plain: tuple[Printer, Printer], part: str, stands: Sequence[Mapping[str, F]]):
    """Whether a part stands at another of its places, or elsewhere if it has more or fewer."""
    places = [printer.places[part] for printer in plain]
    at = [one[part] for one in stands]
    if len(places[0]) == len(places[1]):
        return places[0].index(at[0]) != places[1].index(at[1])
    return at[0] != at[1]


def type_is_reached(printer: Printer) -> bool:
    """Whether the type still stands where parts can bring it, and every part moves."""
    tables = [table for kind, table in printer.outputs.items() if kind in ("wheel", "type_bar")]
    ways = (("lift", "rows_mm"), ("turn", "columns_deg"), ("shift", "places_mm"))
    return all(len(places) > 1 for places in printer.places.values()) and all(
        set(table[stations]) <= set(printer.places[table[part]])
        for table in tables
        for part, stations in ways
        if part in table
    )


@few
@given(descriptions(), st.data())
def test_codes_and_parts_at_which_two_random_machines_part_are_those_of_the_plain_simulator(
    one, data
):
    swapped = [n for n, part in one["parts"].items() if part["joint"] in OTHER_JOINT]
    assume(swapped)
    name = data.draw(st.sampled_from(swapped))
    joint = OTHER_JOINT[one["parts"][name]["joint"]]
    other = {**one, "parts": {**one["parts"], name: {**one["parts"][name], "joint": joint}}}
    plain = Printer(one), Printer(other)
    assume(all(map(type_is_reached, plain)))
    first, second = machine_of(one), machine_of(other)
    found = compare(first, second)

    latches = [n for n, part in one["parts"].items() if part["joint"] == "latch"]
    parted = {}
    for settings, code in product(product((0, -1), repeat=len(latches)), range(len(first.code))):
        before = {n: plain[0].places[n][at] for n, at in zip(latches, settings, strict=True)}
        runs = [printer.follow(code, remembered=before) for printer in plain]
        (stands, _, print_), (stands_too, _, print_too) = runs
        if print_ != print_too:
            both = stands, stands_too
            elsewhere = [n for n in first.mechanism.parts if is_elsewhere(plain, n, both)]
            thrown = frozenset(n for n in latches if before[n])
            parted[thrown, code] = (print_, print_too), (elsewhere or ["print"])[0]
    assert {(frozenset(p.thrown), p.code): (p.prints, p.part) for p in found.partings} == parted
    assert [change.name for change in found.changes] == [name]
    assert found.only == ((), ()) and not found.identical


@pytest.mark.parametrize("name", ["saltmere", "wind"])
def test_a_machine_is_like_itself(name):
    found = compare(load(name), load(name))
    assert found.identical and found.print_alike
    assert found.report() == (
        "The first and the second are alike: the same parts, type and prints.",
    )


def test_a_stop_lever_pushed_by_one_slide_only():
    joint = laws.Follow("slide3", F(5, 4))
    other = replace(with_part(SALTMERE, "middle_stop", joint=joint), name="mended")
    found = compare(SALTMERE, other)
    letters = {SALTMERE.code.name(parting.code) for parting in found.partings}
    assert {"A", "Q", "1", "9"} <= letters and not letters & {"@", "P", "SP", "CR"}
    assert {parting.part for parting in found.partings} == {"middle_stop"}
    says = found.report()
    assert says[0] == "Saltmere and mended print 22 of 128 codes differently."
    assert says[1].startswith("They part first at the middle stop lever: ")
    assert says[2] == (
        "The middle stop lever is not the same: joint is either_pushes in saltmere, follow in "
        "mended; inputs[1] is slide1 in saltmere, not given in mended; inputs[2] is slide3 in "
        "saltmere, not given in mended; input is not given in saltmere, slide3 in mended."
    )
    assert len(says) == 3


def test_a_longer_arm_that_changes_no_print():
    other = replace(with_part(WIND, "left_stop", joint=laws.Follow("bar2", F(3, 2))), name="spare")
    found = compare(WIND, other)
    assert found.print_alike and not found.identical
    assert found.report() == (
        "Wind and spare print the same for all 4 codes.",
        "The left stop lever is not the same: ratio is not given in wind, 1.5 in spare.",
        "None of this changes a print.",
    )


def test_other_type_on_the_same_parts():
    other = replace(WIND, output=replace(WIND.output, lines=("N", "O", "S", "W")), name="abroad")
    found = compare(WIND, other)
    assert [(p.prints, p.part) for p in found.partings] == [(("E", "O"), "print")]
    assert found.report() == (
        "Wind and abroad print 1 of 4 codes differently.",
        "All parts that both have stand alike, but what is printed differs: E (E, O).",
        "The table wheel is not the same: glyphs[2] is E in wind, O in abroad.",
    )


def test_parts_that_only_one_of_them_has():
    extra = Part("bar_lock", laws.PullBar((Literal("bar1"), Literal("bar2"))), "bar lock")
    other = replace(WIND, mechanism=Mechanism([*WIND.mechanism, extra]), name="locked")
    found = compare(WIND, other)
    assert found.only == ((), ("bar_lock",))
    assert "Only locked has the bar lock." in found.report()
    assert compare(other, WIND).only == (("bar_lock",), ())


def test_another_parity_is_told():
    found = compare(SALTMERE, replace(SALTMERE, parity="odd", name="odd"))
    assert found.print_alike and not found.identical
    assert "Parity is none for saltmere, odd for odd." in found.report()


def test_a_latch_is_followed_in_both_its_places():
    ebbing = load("ebbing")
    bars = tuple(
        replace(bar, type="A~") if bar.pull == "pull_a" else bar for bar in ebbing.output.first.bars
    )
    first = replace(ebbing.output.first, bars=bars)
    other = replace(ebbing, output=replace(ebbing.output, first=first), name="quay")
    found = compare(ebbing, other)
    a = ebbing.code.parse("A")
    assert [(p.code, p.prints, p.part, p.thrown) for p in found.partings] == [
        (a, ("-", "~"), "print", ("shift",))
    ]
    assert found.report()[1] == (
        "With the shift latch thrown, all parts that both have stand alike, "
        "but what is printed differs: A (-, ~)."
    )
    assert found.report()[2] == (
        "The table typebars is not the same: bars[1].type is A- in ebbing, A~ in quay."
    )


def test_machines_that_receive_different_codes_cannot_be_compared():
    with pytest.raises(CompareError, match=r"saltmere receives the seven-unit code .* wind"):
        compare(SALTMERE, WIND)


def test_many_codes_are_counted_and_not_all_named():
    joint = laws.Withdraw("slide7", F(5, 8))
    found = compare(SALTMERE, with_part(SALTMERE, "shoulder", joint=joint))
    assert "more." in found.report()[1]


def test_another_tolerance_is_told():
    finer = replace(WIND, tolerances={**WIND.tolerances, "at_mm": F("0.05")})
    found = compare(WIND, finer)
    assert found.print_alike and not found.changes
    assert {change.name: dict(change.keys) for change in found.tables} == {
        "tolerances": {"at_mm": ("0.1", "0.05")}
    }
