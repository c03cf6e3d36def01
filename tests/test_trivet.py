"""The trivet counter stamp, by hand: a drum turned by a difference of racks, and odd parity."""

import pytest

from mechlogic import load
from mechlogic.explaining.travel import positions

TRIVET = load("trivet")
TURNS_DEG = {1: 40, 2: -160, 3: 80}
"""What each bar turns alone: 4 mm × ⅓ × 1.5 × 20°, twice that, and 4 mm × 2 × 20° back."""
LOWER = {-160: "-", -120: "1", -80: "3", -40: "6", 0: "0", 40: "5", 80: "8", 120: "/"}
UPPER = {-160: "9", -120: "+", -80: "7", -40: "=", 0: ".", 40: "2", 80: "4", 120: "*"}


@pytest.mark.parametrize("code", range(16))
def test_the_drum_turns_by_the_difference_of_the_racks_and_prints_what_is_there(code):
    bits = [bit for bit in range(1, 5) if code >> bit - 1 & 1]
    bars = {f"bar{bit}": 4.0 * (bit in bits) for bit in range(1, 6)}
    degrees = sum(TURNS_DEG.get(bit, 0) for bit in bits)
    assert float(positions(TRIVET.mechanism, bars)["turn"]) == pytest.approx(degrees)
    assert TRIVET.good_print(code) == (UPPER if 4 in bits else LOWER)[degrees]


def test_every_code_is_sent_with_an_odd_number_of_set_bars():
    assert all(TRIVET.as_set(code).bit_count() % 2 == 1 for code in range(16))


def test_a_wrong_parity_bit_changes_no_print():
    for setting in map(TRIVET.as_set, range(16)):
        wrong = type(setting)(setting ^ 1 << 4)
        assert TRIVET.good_print(wrong) == TRIVET.good_print(setting)
