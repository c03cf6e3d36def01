"""The dimensions of a machine: what its description says of each, and what it leaves unsaid."""

from fractions import Fraction

import mechlogic
from mechlogic.model.dimensions import dimensions


def test_a_dimension_of_which_nothing_is_said_is_exact_and_cannot_be_adjusted():
    found = dimensions(mechlogic.load("desk"))
    assert found
    assert {(one.tolerance, one.adjusts) for one in found} == {(Fraction(0), Fraction(0))}


def test_what_is_said_of_a_kind_holds_for_every_dimension_of_that_kind():
    found = dimensions(mechlogic.load("wind"))
    assert {one.tolerance for one in found if one.key == "stroke_mm"} == {Fraction(1, 5)}
    assert {one.tolerance for one in found if one.key == "ratio"} == {Fraction(1, 50)}
