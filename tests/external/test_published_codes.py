"""The code tables against the outside: Python's ascii codec, the Unicode database, arithmetic.

Sources: ECMA-6 (6th ed., 1991) = ISO/IEC 646 IRV = ITU-T T.50; ITU-T S.1; ISO 1177 and ITU-T V.4.
"""

import string
import unicodedata
from itertools import pairwise

import pytest

from mechlogic.model.codes import FIVE_UNIT, SEVEN_UNIT, with_parity


@pytest.mark.parametrize("number", range(128))
def test_seven_unit_code_is_what_the_ascii_codec_decodes(number: int) -> None:
    assert SEVEN_UNIT.character(number) == bytes([number]).decode("ascii")
    assert SEVEN_UNIT.code(bytes([number]).decode("ascii")) == number


@pytest.mark.parametrize("number", range(128))
def test_position_is_the_column_and_row_of_the_code_table(number: int) -> None:
    # ECMA-6: the column is b7 b6 b5 read as a number, the row b4 b3 b2 b1.
    b1, b2, b3, b4, b5, b6, b7 = SEVEN_UNIT.bits(number)
    assert SEVEN_UNIT.position(number) == f"{4 * b7 + 2 * b6 + b5}/{8 * b4 + 4 * b3 + 2 * b2 + b1}"


@pytest.mark.parametrize(
    ("name", "position"),
    # ECMA-6 code table, from memory: the corners and a few well-known places.
    [
        ("NUL", "0/0"), ("BEL", "0/7"), ("LF", "0/10"), ("CR", "0/13"), ("DC1", "1/1"),
        ("ESC", "1/11"), ("IS1", "1/15"), ("SP", "2/0"), ("$", "2/4"), ("0", "3/0"),
        ("@", "4/0"), ("A", "4/1"), ("Z", "5/10"), ("_", "5/15"), ("a", "6/1"), ("~", "7/14"),
        ("DEL", "7/15"),
    ],
)  # fmt: skip
def test_well_known_places_of_the_code_table(name: str, position: str) -> None:
    assert SEVEN_UNIT.position(SEVEN_UNIT.parse(name)) == position


def test_controls_stand_in_columns_0_and_1_and_graphics_from_2_1_to_7_14() -> None:
    kinds = [unicodedata.category(SEVEN_UNIT.character(number)) for number in range(128)]
    assert kinds[:32] == ["Cc"] * 32
    assert kinds[32] == "Zs"
    assert kinds[127] == "Cc"
    assert all(kind[0] in "LNPS" for kind in kinds[33:127])
    for number in range(33, 127):
        assert SEVEN_UNIT.name(number) == SEVEN_UNIT.character(number)


def test_control_names_are_those_of_the_unicode_database() -> None:
    # Unicode's name aliases record the abbreviations and the names of ISO 6429. Two differ:
    # it abbreviates END OF MEDIUM otherwise, and the information separators by their use.
    long_names = {
        "EM": "END OF MEDIUM",
        "IS4": "INFORMATION SEPARATOR FOUR",
        "IS3": "INFORMATION SEPARATOR THREE",
        "IS2": "INFORMATION SEPARATOR TWO",
        "IS1": "INFORMATION SEPARATOR ONE",
    }
    for number in (*range(33), 127):
        name = SEVEN_UNIT.name(number)
        assert ord(unicodedata.lookup(long_names.get(name, name))) == number


@pytest.mark.parametrize("number", range(32, 127))
def test_every_graphic_character_is_found_by_its_unicode_name(number: int) -> None:
    assert SEVEN_UNIT.parse(unicodedata.name(chr(number))) == number


@pytest.mark.parametrize(("code", "one", "other"), [(FIVE_UNIT, "R", "Y"), (SEVEN_UNIT, "U", "*")])
def test_the_customary_test_lines_work_every_bit(code, one: str, other: str) -> None:
    # RYRY… and U*U*…: common practice, no source. Checked bit by bit.
    pairs = zip(code.bits(code.code(one)), code.bits(code.code(other)), strict=True)
    assert all(a != b for a, b in pairs)
    assert code.complement(code.code(one)) == code.code(other)
    for number in (code.code(one), code.code(other)):  # and neighbouring bits differ too
        bits = code.bits(number)
        assert all(a != b for a, b in pairwise(bits))


@pytest.mark.parametrize("number", range(128))
def test_parity_makes_the_count_of_set_bits_even_or_odd(number: int) -> None:
    # The definition in ISO 1177 and ITU-T V.4, with the ones counted on paper, as it were.
    assert f"{with_parity(number, 7, 'even'):08b}".count("1") % 2 == 0
    assert f"{with_parity(number, 7, 'odd'):08b}".count("1") % 2 == 1
    assert with_parity(number, 7, "even") & 0x7F == with_parity(number, 7, "odd") & 0x7F == number


def test_five_unit_letters_case_is_the_alphabet_and_six_functions() -> None:
    names = {FIVE_UNIT.name(number) for number in range(32)}
    assert len(FIVE_UNIT) == len(names) == 32
    assert names == {*string.ascii_uppercase, "CR", "LF", "LTRS", "FIGS", "SP", "NUL"}
    assert len({FIVE_UNIT.bits(number) for number in range(32)}) == 32


def test_five_unit_figures_case_has_the_digits_and_leaves_three_to_national_use() -> None:
    figures = [name for name in FIVE_UNIT.figures if name is not None]
    assert len(figures) == len(set(figures)) == 29
    assert set(string.digits) <= set(figures)
    # ITU-T S.1, from memory: the marks of the figures case.
    assert set(figures) - set(string.digits) == {
        *"-?:().,'=/+", "WRU", "BEL", "CR", "LF", "LTRS", "FIGS", "SP", "NUL",
    }  # fmt: skip


def test_five_unit_functions_are_the_same_in_both_cases() -> None:
    for name in ("CR", "LF", "LTRS", "FIGS", "SP", "NUL"):
        number = FIVE_UNIT.parse(name)
        assert FIVE_UNIT.names[number] == FIVE_UNIT.figures[number] == name


def test_five_unit_digits_stand_on_the_top_row_of_the_keyboard() -> None:
    # Common practice, no source: the figures 1 to 0 are typed with the keys Q to P.
    for letter, digit in zip("QWERTYUIOP", "1234567890", strict=True):
        assert FIVE_UNIT.character(FIVE_UNIT.code(letter), figures=True) == digit


@pytest.mark.parametrize(
    ("name", "bits"),
    # ITU-T S.1, from memory. The functions with one mark, the shifts with five and four; and the
    # code was laid out so that the commonest letters move the fewest bars.
    [
        ("E", "10000"), ("LF", "01000"), ("SP", "00100"), ("CR", "00010"), ("T", "00001"),
        ("LTRS", "11111"), ("FIGS", "11011"), ("NUL", "00000"), ("A", "11000"), ("Z", "10001"),
    ],
)  # fmt: skip
def test_well_known_combinations_of_the_five_unit_code(name: str, bits: str) -> None:
    assert "".join("01"[bit] for bit in FIVE_UNIT.bits(FIVE_UNIT.parse(name))) == bits


def test_five_unit_letters_in_numerical_order() -> None:
    # A second recollection of S.1 in another order, b1 counting one; both from memory, but a slip
    # in copying one of the two shows.
    order = "NUL E LF A SP S I U CR D R J N F C K T Z L W H Y P Q O B G FIGS M X V LTRS"
    assert list(FIVE_UNIT.names) == order.split()
