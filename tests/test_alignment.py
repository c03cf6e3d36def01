"""Lines of unequal length: the fewest misprints and fillers that explain them."""

from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mechlogic.bench.alignment import FILLER, MISPRINT, MISSING, align


def cost(above: str, below: str) -> float:
    fillers = sum(FILLER in pair for pair in zip(above, below, strict=True))
    misprints = sum(a != b for a, b in zip(above, below, strict=True) if FILLER not in (a, b))
    return MISSING * fillers + MISPRINT * misprints


def cheapest_by_trying_all(sent: str, printed: str) -> float:
    """Every way to pair k characters of one line with k of the other, in order."""
    best = float("inf")
    for k in range(min(len(sent), len(printed)) + 1):
        for mine in combinations(range(len(sent)), k):
            for yours in combinations(range(len(printed)), k):
                wrong = sum(sent[i] != printed[j] for i, j in zip(mine, yours, strict=True))
                missing = len(sent) + len(printed) - 2 * k
                best = min(best, MISPRINT * wrong + MISSING * missing)
    return best


def test_a_dropped_character_leaves_a_filler_below_it():
    assert align("BERTH 4", "BETH 4") == ("BERTH 4", "BE·TH 4")


def test_a_character_printed_twice_leaves_a_filler_above_it():
    above, below = align("TIDE", "TIIDE")
    assert below == "TIIDE"
    assert above in ("TI·DE", "T·IDE")


def test_lines_of_equal_length_stay_as_they_are_when_only_misprints_differ():
    assert align("LAMPS LIT", "HAIPS HIT") == ("LAMPS LIT", "HAIPS HIT")


def test_two_misprints_side_by_side_are_believed_and_three_in_a_slipped_line_are_not():
    assert align("AB", "BC") == ("AB", "BC")
    assert align("ABC", "BCD") == ("ABC·", "·BCD")


@given(st.text("ABC", max_size=5), st.text("ABC", max_size=5))
def test_no_alignment_is_cheaper(sent: str, printed: str):
    above, below = align(sent, printed)
    assert above.replace(FILLER, "") == sent
    assert below.replace(FILLER, "") == printed
    assert (FILLER, FILLER) not in zip(above, below, strict=True)
    assert cost(above, below) == pytest.approx(cheapest_by_trying_all(sent, printed))


@pytest.mark.parametrize("line", ["A" * 2001, f"A{FILLER}B"])
def test_a_line_that_cannot_be_aligned_is_refused(line: str):
    with pytest.raises(ValueError, match=r"Cut it|Take it out"):
        align(line, "A")
