"""Passed or failed: the text of a card, the paper under it, and the log that goes on."""

import random
from datetime import date

import pytest
from brute_force import read
from plain_runs import SALTMERE as PLAIN
from plain_runs import Runs, plain

import mechlogic
from mechlogic.acceptance.testcards import laid_out, smallest_sequence
from mechlogic.acceptance.trial import in_fives, judged, text_of
from mechlogic.machines import FOLDER, names
from mechlogic.model.faults import single_faults
from mechlogic.model.logbook import UNREADABLE

TODAY = date(2031, 2, 3)
SALTMERE = mechlogic.load("saltmere")
EBBING = Runs(read(FOLDER / "ebbing.toml"))


@pytest.mark.parametrize(
    ("printed", "result", "log"),
    [
        ("TIDE\n0412", "passed", "T/T I/I D/D E/E 0/0 4/4 1/1 2/2"),
        ("TYDE\n0412", "failed", "T/T I/Y D/D E/E 0/0 4/4 1/1 2/2"),
        ("TIE\n0412", "failed", "T/unseen I/unseen D/unseen E/unseen 0/0 4/4 1/1 2/2"),
        ("TiDE\n0412", "failed", "T/T I/unseen D/D E/E 0/0 4/4 1/1 2/2"),
    ],
)
def test_an_acceptance_passes_or_fails_by_what_was_printed_and_goes_on_as_a_log(
    printed, result, log
):
    test, editor = judged(SALTMERE, TODAY, "TIDE\n0412", printed)
    assert (test.result, test.sent, test.printed) == (result, "TIDE\n0412", printed)
    said = [f"{SALTMERE.code.name(entry.sent)}/{entry.printed}" for entry in editor.log]
    assert " ".join(said) == log


@pytest.mark.parametrize(
    ("sent", "printed", "says"),
    [("", "A", "text that was sent"), ("A", "", "what stands on the paper"),
     ("A LF " * 3_900, "A", "at most 2000 at a time"), ("A" * 20_001, "A", "at most 20000"),
     ("A", "A" * 20_001, "at most 20000"),
     ("TIDE\nA", "TIDE", "no printed line"), ("TIDE", "TIDE\nA", "no line that was sent")],
)  # fmt: skip
def test_an_acceptance_without_its_print_is_refused(sent, printed, says):
    with pytest.raises(ValueError, match=says):
        judged(SALTMERE, TODAY, sent, printed)


@pytest.mark.parametrize("name", names())
def test_the_text_of_any_machine_passes_with_what_stands_on_its_good_paper(name):
    card = smallest_sequence(mechlogic.load(name))
    for lines in (card.paper, [line.strip() for line in card.paper]):  # blanks are seldom copied
        test, log = judged(card.machine, TODAY, text_of(card), "\n".join(lines))
        assert (test.result, log.questions) == ("passed", ())


def test_names_stand_in_groups_of_five():
    text = text_of(smallest_sequence(mechlogic.load("ebbing")))
    groups = text.split("  ")
    assert [len(group.split()) for group in groups[:-1]] == [5] * (len(groups) - 1)
    assert in_fives("ABCDEFG") == ["ABCDE", "FG"]


@pytest.mark.parametrize(("name", "plain_machine"), [("saltmere", PLAIN), ("ebbing", EBBING)])
def test_a_faulty_machine_passes_only_if_its_paper_is_that_of_a_good_one(name, plain_machine):
    """The brute force prints; what it printed goes on as a log, in which the true fault stands."""
    machine = mechlogic.load(name)
    card = smallest_sequence(machine)
    rng = random.Random(12)
    sure = 0
    for fault in rng.sample(single_faults(machine.mechanism), 25):
        printed = [entry.printed for entry in plain_machine.type(plain((fault,)), card.codes, rng)]
        paper = laid_out(machine, card.codes, printed)
        if UNREADABLE in printed or not paper:
            continue
        test, log = judged(machine, TODAY, text_of(card), "\n".join(paper))
        assert (test.result == "passed") == (paper == card.paper), fault
        if test.result == "failed" and log.lines and not log.questions:
            sure += 1
            suspects = mechlogic.diagnose(machine, log.log).suspects
            assert any((fault,) in one.members for one in suspects), (fault, paper)
    assert sure > 5
