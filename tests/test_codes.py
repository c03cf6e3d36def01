"""The code tables, as a machine description, a log and a notebook use them."""

import pickle

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mechlogic.model.codes import (
    FIVE_UNIT,
    SEVEN_UNIT,
    Code,
    CodeError,
    character_named,
    with_parity,
)

BOTH = pytest.mark.parametrize("code", [SEVEN_UNIT, FIVE_UNIT], ids=lambda c: c.title)


@BOTH
def test_every_code_is_found_again_by_its_name_its_character_and_its_position(code: Code) -> None:
    for number in range(len(code)):
        assert code.parse(code.name(number)) == number
        assert code.code(code.character(number)) == number
        assert code.parse(code.position(number)) == number


@BOTH
def test_bits_are_listed_from_b1_upwards(code: Code) -> None:
    for number in range(len(code)):
        bits = code.bits(number)
        assert len(bits) == code.units
        assert sum(2**i for i, bit in enumerate(bits) if bit) == number
        assert code.bits(code.complement(number)) == tuple(not bit for bit in bits)


def test_a_lone_character_is_always_itself() -> None:
    assert SEVEN_UNIT.parse("/") == SEVEN_UNIT.parse("2/15") == 0x2F
    assert SEVEN_UNIT.parse("5") == 0x35
    assert SEVEN_UNIT.parse(" ") == SEVEN_UNIT.parse("SP") == SEVEN_UNIT.parse("space") == 0x20
    assert SEVEN_UNIT.parse("a") != SEVEN_UNIT.parse("A")


@pytest.mark.parametrize(
    ("text", "number"),
    [
        ("CR", 13),
        ("cr", 13),
        ("Del", 127),
        ("4/1", 65),
        ("04/01", 65),
        ("7/15", 127),
        (" SP ", 32),
        (" A ", 65),
        ("IS4", 28),
        ("FS", 28),
        ("line feed", 10),
        ("Commercial At", 64),
        ("LATIN SMALL LETTER A", 97),
    ],
)
def test_parse_reads_characters_names_and_positions(text: str, number: int) -> None:
    assert SEVEN_UNIT.parse(text) == number


def test_letters_and_figures_share_their_combinations() -> None:
    assert FIVE_UNIT.parse("T") == FIVE_UNIT.parse("5") == 16
    assert FIVE_UNIT.name(16) == "T"
    assert FIVE_UNIT.name(16, figures=True) == FIVE_UNIT.character(16, figures=True) == "5"
    assert FIVE_UNIT.parse("bel") == FIVE_UNIT.code("J")
    assert SEVEN_UNIT.name(65, figures=True) == "A"  # a code with one case has only that one


@pytest.mark.parametrize("letter", "FGH")
def test_what_the_standard_leaves_to_national_use_is_not_invented(letter: str) -> None:
    with pytest.raises(CodeError, match=f"figures case of {letter} to national use"):
        FIVE_UNIT.character(FIVE_UNIT.code(letter), figures=True)


@pytest.mark.parametrize(
    ("code", "text", "mend"),
    [
        (FIVE_UNIT, "a", "Did you mean 'A'?"),
        (SEVEN_UNIT, "é", "Did you mean 'e'?"),
        (SEVEN_UNIT, "’", "Did you mean"),
        (SEVEN_UNIT, "–", "Did you mean '-'?"),
        (SEVEN_UNIT, "\N{NO-BREAK SPACE}", "Write SP for a space"),
        (SEVEN_UNIT, "", "Write SP for a space"),
        (SEVEN_UNIT, "  ", "Write SP for a space"),
        (SEVEN_UNIT, "DELL", "Did you mean DEL"),
        (SEVEN_UNIT, "bell", "BEL"),
        (FIVE_UNIT, "FIG", "Did you mean FIGS"),
        (SEVEN_UNIT, "8/0", "from 0/0 to 7/15"),
        (SEVEN_UNIT, "4/16", "from 0/0 to 7/15"),
        (FIVE_UNIT, "2/0", "from 0/0 to 1/15"),
        (SEVEN_UNIT, "π", "Write one character of the code"),
        (SEVEN_UNIT, "GREEK SMALL LETTER PI", "Write one character of the code"),
        (SEVEN_UNIT, "AB", "Write one character of the code"),
        (SEVEN_UNIT, "-4/1", "Write one character of the code"),
        (SEVEN_UNIT, "٤/١", "Write one character of the code"),  # digits, but not the standard's
    ],
)
def test_a_near_miss_is_told_what_would_have_been_right(code: Code, text: str, mend: str) -> None:
    with pytest.raises(CodeError) as caught:
        code.parse(text)
    assert mend in caught.value.mend
    assert str(caught.value) == f"{caught.value.what}. {caught.value.mend}"
    assert code.title in caught.value.what


@given(st.text())
def test_any_text_at_all_is_a_code_or_a_clear_error(text: str) -> None:
    try:
        number = SEVEN_UNIT.parse(text)
    except CodeError as error:
        assert str(error).isprintable()
        assert len(error.what) < 300
    else:
        assert 0 <= number < 128


@BOTH
@pytest.mark.parametrize("ask", [Code.name, Code.character, Code.position, Code.bits])
def test_a_number_outside_the_code_is_refused(code: Code, ask) -> None:
    for number in (-1, len(code)):
        with pytest.raises(CodeError, match=r"leave the parity bit off"):
            ask(code, number)


def test_code_takes_characters_and_not_names() -> None:
    with pytest.raises(CodeError, match="Did you mean CR"):
        SEVEN_UNIT.code("CR")


@given(st.integers(1, 16), st.data())
def test_the_parity_bit_is_added_above_and_changes_no_other(units: int, data) -> None:
    number = data.draw(st.integers(0, 2**units - 1))
    even, odd = with_parity(number, units), with_parity(number, units, "odd")
    assert even % 2**units == odd % 2**units == number
    assert {even >> units, odd >> units} == {0, 1}


def test_parity_refuses_what_it_cannot_mean() -> None:
    with pytest.raises(ValueError, match="128 is not a code of 7 units"):
        with_parity(128, 7)
    with pytest.raises(ValueError, match="not 'mark'"):
        with_parity(65, 7, "mark")  # type: ignore[arg-type]


def test_a_full_name_is_one_character_or_nothing() -> None:
    assert character_named("plus sign") == "+"
    assert character_named("no such name") == ""
    assert character_named("KEYCAP DIGIT ONE") == ""  # a sequence of three characters


def test_a_character_in_both_cases_is_taken_from_the_letters() -> None:
    code = Code("toy", 1, "test", names=("A", "B"), figures=("B", "A"))
    assert [code.parse("A"), code.parse("B")] == [0, 1]


def test_a_table_that_cannot_be_read_back_is_refused() -> None:
    with pytest.raises(ValueError, match="3 names for 4 codes"):
        Code("short", 2, "test", ("A", "B", "C"))
    with pytest.raises(ValueError, match="same name stands for two"):
        Code("double", 1, "test", ("A", "A"))
    with pytest.raises(ValueError, match="'BANG'"):
        Code("strange", 1, "test", ("A", "BANG"))
    with pytest.raises(ValueError, match="1 names for 2 codes"):
        Code("short figures", 1, "test", ("A", "B"), ("1",))


def test_codes_and_their_errors_survive_being_sent_to_another_process() -> None:
    assert pickle.loads(pickle.dumps(FIVE_UNIT)) == FIVE_UNIT
    with pytest.raises(CodeError) as caught:
        SEVEN_UNIT.parse("DELL")
    assert str(pickle.loads(pickle.dumps(caught.value))) == str(caught.value)
