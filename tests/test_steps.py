"""The table of transitions: what a text may print, whatever the machine remembers at first."""

from hypothesis import given
from hypothesis import strategies as st
from plain_runs import Runs
from strategies import descriptions, fault_sets, few, library, machine_of

from mechlogic.model.steps import language


def lines_by_the_table(told, text):
    """Every line of prints, followed from situation to situation; the first is the start."""
    ends = {((), 0)}
    for code, by_hand in text:
        way = code + told.n_codes * by_hand
        ends = {
            ((*line, seen), after)
            for line, situation in ends
            for seen, after in told.leads[situation][way]
        }
    return {line for line, _ in ends}


def lines_by_runs(runs, faults, text):
    """Every line of prints, from every state that the machine may stand in at first."""
    ends = {((), state) for state in runs.states(faults)}
    for code, by_hand in text:
        ends = {
            ((*line, seen), after)
            for line, state in ends
            for after, seen in runs.step(faults, code, by_hand, state)
        }
    return {line for line, _ in ends}


@few
@given(st.data())
def test_a_text_has_the_lines_of_prints_that_some_run_of_the_machine_makes_and_no_others(data):
    description = data.draw(descriptions(bits=(2, 3), most=6))
    machine, runs = machine_of(description), Runs(description)
    faults = data.draw(st.just(()) | fault_sets(runs.printer, rarer=True))
    told = language(machine, library(faults))
    texts = st.lists(
        st.tuples(st.integers(0, told.n_codes - 1), st.booleans()), min_size=1, max_size=5
    )
    for text in data.draw(st.lists(texts, min_size=1, max_size=5)):
        assert lines_by_the_table(told, text) == lines_by_runs(runs, faults, text)


@few
@given(st.data())
def test_no_two_situations_of_the_table_show_the_same(data):
    """And each can be come to: the table is as small as can be."""
    description = data.draw(descriptions(bits=(2, 3), most=6))
    machine, runs = machine_of(description), Runs(description)
    told = language(machine, library(data.draw(fault_sets(runs.printer, rarer=True))))
    assert len(set(told.leads)) == len(told.leads)
    met = {0} | {after for row in told.leads for lead in row for _, after in lead}
    assert met == set(range(len(told.leads)))
