"""What would take many minutes is refused before it is begun, with what to do instead.

A description has at most eight bits (see test_description.py); machines with more are made in
Python.  The limits themselves are pictured in docs/growth.png.
"""

from dataclasses import replace

import ipywidgets
import pytest
from bench.invented import wheel_machine
from screens import inside

import mechlogic
from mechlogic import Entry, Fault, FaultError, Logbook
from mechlogic.acceptance import testcards
from mechlogic.bench import search
from mechlogic.bench.diagnosis import classes, diagnose
from mechlogic.bench.evidence import Evidence
from mechlogic.helpers.refusal import TooMuch
from mechlogic.model.codes import Code
from mechlogic.model.faults import single_faults
from mechlogic.widgets import LogBench
from mechlogic.widgets import frames as frames_module
from mechlogic.widgets.frames import frames
from mechlogic.widgets.web_page import web_page

WIND, TEN_BITS = mechlogic.load("wind"), wheel_machine(10)


def test_an_invented_machine_prints_what_is_sent_whatever_its_size():
    for machine in (wheel_machine(4), wheel_machine(7, 40), wheel_machine(6, 200), TEN_BITS):
        codes = range(len(machine.code))
        assert [machine.good_print(code) for code in codes] == list(machine.code.names)
    assert len(wheel_machine(6, 200).mechanism.parts) == 200


def test_so_many_settings_cannot_be_tabulated():
    code = Code("long code", 17, "invented", tuple(map(chr, range(0x20000, 0x40000))))
    with pytest.raises(TooMuch, match=r"is set by 17 bits; 16 are the most .* fewer bits set"):
        _ = replace(WIND, code=code).healthy


@pytest.mark.parametrize(
    "ask", [classes, lambda machine: diagnose(machine, Logbook((), machine.code))]
)
def test_so_many_codes_cannot_be_held_each_after_each(ask):
    with pytest.raises(TooMuch, match=r"1,024 codes follow .* 1,048,576 ways.* 512 .*\. Describe"):
        ask(TEN_BITS)


def test_so_many_sets_of_faults_are_not_tried_and_fewer_are():
    evidence = Evidence(WIND, Logbook((Entry(0, "E"),), WIND.code))
    with pytest.raises(TooMuch, match=r"36 faults make 2,391,496 sets of at most 6.*\. Look for"):
        search.minimal_sets(evidence, most=6)
    few = single_faults(WIND.mechanism)[:8]
    assert search.minimal_sets(evidence, most=6, faults=few)


def test_the_bench_says_so_too_and_its_button_can_be_pressed_again(monkeypatch):
    monkeypatch.setattr(search, "MOST_SETS", 500)
    bench = LogBench(WIND, [], storage=None)
    bench.show(Logbook((Entry(0, "E"),), WIND.code))
    (further,) = (
        each for each in inside(bench) if getattr(each, "description", "") == "Look further"
    )
    further.click()
    said = " ".join(each.value for each in inside(bench) if isinstance(each, ipywidgets.HTML))
    assert "36 faults make 667 sets of at most 2; 500 is the most that are tried" in said
    assert (further.description, further.disabled) == ("Look further", False)


@pytest.mark.parametrize(
    "make",
    [
        testcards.smallest_set,
        testcards.smallest_sequence,
        testcards.walk_part_transitions,
        testcards.walk_all_transitions,
    ],
)
def test_a_text_of_so_many_characters_is_refused_and_of_some_of_them_made(make):
    with pytest.raises(TooMuch, match=r"1,024 characters .* 256 are the most\. Name those"):
        make(TEN_BITS)
    assert make(WIND, codes=[1, 2]).text


def test_a_page_with_so_many_faults_is_refused_and_with_some_of_them_made():
    machine = wheel_machine(8, 120)
    with pytest.raises(TooMuch, match=r"faults to choose from would take \d+ million .*\. Name"):
        web_page(machine)
    (first, *_) = single_faults(machine.mechanism)
    assert "invented machine" in web_page(machine, [(first,)])


def test_cases_times_settings_are_not_more_than_the_browser_can_take(monkeypatch):
    fault = Fault("bar1", "half-way")
    frames(WIND, [fault])
    monkeypatch.setattr(frames_module, "MOST_ROWS", 8)  # a case of eight settings, or two of four
    with pytest.raises(FaultError, match=r"leave 4 cases open, and at most 2 can be drawn\. Take"):
        frames(WIND, [fault])


def test_a_refusal_says_what_and_what_to_do_and_survives_a_trip_to_another_process():
    import pickle

    refusal = pickle.loads(pickle.dumps(TooMuch("it is too much", "Take less")))
    assert (refusal.what, refusal.mend) == ("it is too much", "Take less")
    assert str(refusal) == "it is too much. Take less"
