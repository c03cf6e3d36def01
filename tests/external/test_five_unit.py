"""The five-unit printer against the published alphabet, and its decoder against other engines.

ITU-T S.1, International Telegraph Alphabet No. 2.  The list below is from memory, and so is the one
in ``mechlogic/model/codes.py``; they were written down apart, this one as the standard has it, by
the number of the combination and the elements that are marks.  So they guard against slips of the
pen and against confusing bits, but not against a memory that is wrong the same way twice.
"""

import pytest
from brute_force import Printer, read
from dd.autoref import BDD
from pysat.solvers import Solver

import mechlogic
from mechlogic.describing.description import parse
from mechlogic.machines import FOLDER
from mechlogic.model.steps import good_text

# For each combination: its number, the elements that are marks, and its letters and figures case.
# The standard leaves the figures of F, G and H to national use; the Ebbing printer has arrows.
S_1 = """
     1  12     A  -       12  25     L  )       23  125    W  2
     2  145    B  ?       13  345    M  .       24  1345   X  /
     3  234    C  :       14  34     N  ,       25  135    Y  6
     4  14     D  WRU     15  45     O  9       26  15     Z  +
     5  1      E  3       16  235    P  0       27  4      CR CR
     6  134    F  <       17  1235   Q  1       28  2      LF LF
     7  245    G  ~       18  24     R  4       29  12345  _  _
     8  35     H  >       19  13     S  '       30  1245   _  _
     9  23     I  8       20  5      T  5       31  3      _  _
    10  124    J  BEL     21  123    U  7       32  _      _  _
    11  1234   K  (       22  2345   V  =
"""
WORDS = S_1.split()
COMBINATIONS = {
    int(number): (
        sum(1 << (int(element) - 1) for element in marks.strip("_")),
        letters.replace("_", "nothing"),
        figures.replace("_", "nothing"),
    )
    for number, marks, letters, figures in zip(
        WORDS[::4], WORDS[1::4], WORDS[2::4], WORDS[3::4], strict=True
    )
}
LETTERS, FIGURES, SPACE = (COMBINATIONS[number][0] for number in (29, 30, 31))
Q = COMBINATIONS[17][0]

TEXT = (FOLDER / "ebbing.toml").read_text(encoding="utf-8")
EBBING = mechlogic.load("ebbing")
PLAIN = Printer(read(FOLDER / "ebbing.toml"))
PULLS = [name for name, part in PLAIN.parts.items() if part["joint"] == "pull_bar"]


def test_the_list_has_every_combination_once():
    assert sorted(COMBINATIONS) == list(range(1, 33))
    assert sorted(code for code, *_ in COMBINATIONS.values()) == list(range(32))


@pytest.mark.parametrize("number", COMBINATIONS)
def test_every_combination_prints_in_letters_and_in_figures_what_the_standard_says(number):
    code, letters, figures = COMBINATIONS[number]
    assert good_text(EBBING, [LETTERS, code])[-1] == letters
    assert good_text(EBBING, [FIGURES, code])[-1] == figures


def test_the_case_stays_until_it_is_changed():
    every_letter = [COMBINATIONS[number][0] for number in range(1, 27)]
    for case, shown in ((LETTERS, 1), (FIGURES, 2)):
        prints = good_text(EBBING, [FIGURES, LETTERS, case, *every_letter])
        assert prints[3:] == [COMBINATIONS[number][shown] for number in range(1, 27)]


@pytest.mark.parametrize("number", range(1, 33))
def test_nothing_but_the_two_shifts_and_the_space_changes_the_case(number):
    code, *_ = COMBINATIONS[number]
    for case in (LETTERS, FIGURES):
        stays = {LETTERS: LETTERS, SPACE: LETTERS, FIGURES: FIGURES}.get(code, case)
        assert good_text(EBBING, [case, code, Q])[-1] == ("1" if stays == FIGURES else "Q")


def test_a_space_brings_the_letters_back():
    """Unshift on space: customary, and an option that could be taken off."""
    assert good_text(EBBING, [FIGURES, Q, SPACE, Q]) == ["nothing", "1", "nothing", "Q"]


def test_without_the_link_from_the_space_the_figures_stay():
    link = 'inputs = ["pull_letters", "pull_space"]'
    assert TEXT.count(link) == 1
    without = parse(TEXT.replace(link, 'inputs = ["pull_letters"]'))
    assert good_text(without, [FIGURES, Q, SPACE, Q]) == ["nothing", "1", "nothing", "1"]
    assert good_text(without, [FIGURES, SPACE, LETTERS, Q])[-1] == "Q"


# -- one of n --------------------------------------------------------------------------------------


def notch_literals(pull):
    """The bits that must be marks (positive) or spaces (negative) for a pull bar to drop."""
    for notch in PLAIN.parts[pull]["notches"]:
        bit = PLAIN.parts[notch["part"]]["bit"]
        yield bit if notch["when"] == "operated" else -bit


def test_a_solver_finds_no_combination_for_which_two_pull_bars_drop_or_none():
    with Solver(name="cadical153") as solver:
        drops = {pull: 6 + number for number, pull in enumerate(PULLS)}
        for pull, gate in drops.items():
            literals = list(notch_literals(pull))
            solver.add_clause([gate, *(-literal for literal in literals)])
            for literal in literals:
                solver.add_clause([-gate, literal])
        for number, one in enumerate(drops.values()):
            assert solver.solve(assumptions=[one]), "and each does drop"
            for other in list(drops.values())[number + 1 :]:
                assert not solver.solve(assumptions=[one, other])
        nul = [-bit for bit in range(1, 6)]
        none = [-gate for gate in drops.values()]
        assert solver.solve(assumptions=[*none, *nul])
        for bit in range(1, 6):
            assert not solver.solve(assumptions=[*none, bit]), "no pull bar answers to NUL alone"


def test_decision_diagrams_count_one_combination_for_each_pull_bar_and_31_for_all():
    bdd = BDD()
    bdd.declare(*(f"b{bit}" for bit in range(1, 6)))
    any_of, counted = bdd.false, 0
    for pull in PULLS:
        drops = bdd.true
        for literal in notch_literals(pull):
            drops &= bdd.var(f"b{literal}") if literal > 0 else ~bdd.var(f"b{-literal}")
        assert bdd.count(drops, nvars=5) == 1
        assert any_of & drops == bdd.false
        any_of |= drops
        counted += 1
        column = EBBING.healthy.places[pull][0]
        (setting,) = bdd.pick_iter(drops)
        assert column == 1 << sum(1 << (int(b[1:]) - 1) for b, mark in setting.items() if mark)
    assert counted == 31
    assert bdd.count(any_of, nvars=5) == 31
