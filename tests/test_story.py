"""How a fault makes a misprint, in sentences: the right parts, at the right places, in order."""

import random
from fractions import Fraction

import pytest
from plain_runs import SALTMERE, plain, walk

import mechlogic
from mechlogic import Behaviour, Entry, Fault, Logbook
from mechlogic.bench.diagnosis import every_single
from mechlogic.bench.evidence import Evidence, account
from mechlogic.bench.story import (
    Deviation,
    deviations,
    fault_sentence,
    how,
    hypothesis_label,
    seen,
    seen_as,
    suspect_label,
)
from mechlogic.explaining.words import displacement, the
from mechlogic.model.behaviour import World
from mechlogic.model.faults import MODES, single_faults
from mechlogic.model.logbook import UNREADABLE

MACHINE = mechlogic.load("saltmere")
PRINTER = SALTMERE.printer
CERTAIN = [f for f in single_faults(MACHINE.mechanism) if f.mode != "half-way"]


def story(faults, *entries):
    evidence, behaviour = Evidence(MACHINE, Logbook(entries)), Behaviour(MACHINE, faults)
    return how(evidence, behaviour, account(evidence, behaviour))


def differing(fault, code, memory, by_hand=False):
    """The parts that the brute force finds elsewhere than in a healthy machine, and where."""
    remembered = {fault.part: PRINTER.places[fault.part][memory[0]]} if memory else {}
    good, *_ = PRINTER.follow(MACHINE.as_set(code))
    bad, *_ = PRINTER.follow(MACHINE.as_set(code), plain((fault,)), by_hand, remembered)
    return [
        (name, PRINTER.places[name].index(good[name]), PRINTER.places[name].index(bad[name]))
        for name in good
        if good[name] != bad[name]
    ]


@pytest.mark.parametrize("fault", CERTAIN, ids=str)
def test_the_chain_is_the_parts_that_stand_elsewhere(fault):
    behaviour, rng = Behaviour(MACHINE, (fault,)), random.Random(str(fault))
    for code in rng.sample(range(128), 4):
        memory = rng.choice(behaviour.memories)
        chain = deviations(behaviour, code, World(memory))
        wanted = differing(fault, code, memory)
        assert sorted((d.part, d.healthy, d.found) for d in chain) == sorted(wanted)
        order = list(MACHINE.mechanism.parts)
        assert [d.part for d in chain] == sorted((d.part for d in chain), key=order.index)


def test_turned_by_hand_a_sluggish_part_leaves_no_chain():
    behaviour = Behaviour(MACHINE, (Fault("slide1", "slow to return"),))
    assert deviations(behaviour, ord("@"), World((1,)))
    assert deviations(behaviour, ord("@"), World((1,)), by_hand=True) == ()


def test_the_story_of_an_entry_made_by_hand_does_not_blame_a_part_that_is_slow_only_at_speed():
    faults = (Fault("slide1", "slow to return"), Fault("slide5", "stuck at rest"))
    entries = (Entry(ord("A"), "A"), Entry(ord("P"), "@", driven="hand"))
    told = story(faults, *entries)
    assert "slide 5 stands at 0 mm instead of 4 mm" in told
    assert "slide 1 stands" not in told
    assert "So when P comes, slide 5" in told, "and what came before does not matter"


def test_a_healthy_machine_has_no_chain():
    for code in range(128):
        assert deviations(Behaviour(MACHINE, ()), code, World()) == ()


def test_the_story_of_no_fault_begins_by_saying_so():
    assert story((), Entry(ord("A"), "A")).startswith("Nothing is wrong with the machine. ")


def test_the_story_of_a_late_lever():
    """The bench log of Saltmere's middle stop lever, told from slide to paper."""
    late = (Fault("middle_stop", "slow to return"),)
    log = SALTMERE.type(plain(late), [ord("A"), ord("@"), ord("@")], random.Random(1))
    misprint = log[1].printed
    assert misprint != "@"
    told = story(late, *log)
    assert told.startswith("The middle stop lever comes back late, so it still stands where the ")
    assert "So when @ comes after A, the middle stop lever stands at 5 mm instead of 0 mm" in told
    assert f"{misprint} is printed where @ belongs." in told
    assert told.endswith("It explains the only misprint, and no entry speaks against it.")


@pytest.mark.parametrize("fault", random.Random(7).sample(CERTAIN, 24), ids=str)
def test_the_story_names_every_part_of_the_chain_in_order_and_no_other(fault):
    rng = random.Random(str(fault))
    log = SALTMERE.type(plain((fault,)), walk(rng)[:120], rng)
    evidence, behaviour = Evidence(MACHINE, Logbook(tuple(log))), Behaviour(MACHINE, (fault,))
    told = account(evidence, behaviour)
    text = how(evidence, behaviour, told)
    assert text.startswith(fault_sentence(MACHINE, fault))
    first = next((t for t, e in enumerate(log) if e.printed != MACHINE.good_print(e.sent)), None)
    if first is None:
        assert " stands at " not in text
        assert "The log shows no misprint" in text
        return
    chain = deviations(behaviour, log[first].sent, told.path[first])
    said = [
        f"{the(MACHINE.label(d.part))} stands at {displacement(MACHINE, d.part, d.found)} "
        f"instead of {displacement(MACHINE, d.part, d.healthy)}"
        for d in chain
    ]
    assert text.count(" stands at ") == len(chain)
    assert [text.index(link) for link in said] == sorted(text.index(link) for link in said)


def test_the_score_counts_what_is_explained_and_what_must_be_misread():
    stuck = (Fault("bar1", "stuck at rest"),)
    good, wrong, odd = Entry(ord("B"), "B"), Entry(ord("C"), "B"), Entry(ord("D"), "Q")
    assert story(stuck, good).endswith("The log shows no misprint, and no entry speaks against it.")
    assert story(stuck, wrong, wrong).endswith("It explains both misprints, and no entry speaks "
                                               "against it.")  # fmt: skip
    assert story(stuck, wrong, odd).endswith(
        "It explains 1 of 2 misprints; entry 2 must have been misread."
    )
    assert story((), odd, good, odd).endswith(
        "It explains 0 of 2 misprints; entries 1 and 3 must have been misread."
    )
    many = story((), *[odd] * 9)
    assert many.endswith("entries 1, 2, 3, 4, 5 and 4 more must have been misread.")


@pytest.mark.parametrize("faults", every_single(MACHINE)[1:], ids=lambda faults: str(faults[0]))
def test_every_fault_can_be_said(faults):
    (fault,) = faults
    said, label = fault_sentence(MACHINE, fault), hypothesis_label(MACHINE, faults)
    for text in (said, label):
        assert MACHINE.label(fault.part) in text[:1].lower() + text[1:]
        assert "{" not in text
        assert "<" not in text
        assert "&" not in text
    assert said.endswith(".")
    assert said[0].isupper()
    assert MODES[fault.mode].name in label
    if fault.input:
        assert MACHINE.label(fault.input) in said
        assert MACHINE.label(fault.input) in label


def test_labels_of_none_and_of_several_faults():
    assert hypothesis_label(MACHINE, ()) == "no fault in the machine"
    two = (Fault("lift_rack", "half-way"), Fault("slide3", "disconnected", "bar3"))
    assert hypothesis_label(MACHINE, two) == (
        "lift rack: half-way + slide 3: disconnected from code bar 3"
    )


def test_prints_as_nouns_and_sentences():
    assert seen("A") == "A is printed"
    assert seen("nothing") == "nothing is printed"
    assert seen("unreadable") == "something unreadable is printed"
    assert (seen_as("A"), seen_as("nothing")) == ("A", "a blank")


def test_the_example_is_an_entry_that_was_noted_as_it_was_printed():
    """A smudge is explained by a fault that prints a character, but does not show it at work."""
    stuck = (Fault("bar1", "stuck at rest"),)
    smudged = Entry(ord("C"), UNREADABLE)
    log = Logbook((smudged, Entry(ord("A"), "@")))
    evidence = Evidence(MACHINE, log)
    behaviour = Behaviour(MACHINE, stuck)
    said = how(evidence, behaviour, account(evidence, behaviour))
    assert "when A comes" in said and "@ is printed" in said
    assert "unreadable" not in said
    only = Evidence(MACHINE, Logbook((smudged,)))
    said = how(only, behaviour, account(only, behaviour))
    assert "So when" not in said
    assert "It explains the only misprint" in said


def test_a_suspect_is_named_with_the_number_of_those_that_print_alike():
    members = [
        (Fault("lift_rack", mode),) for mode in ("stuck at rest", "half-way", "stuck operated")
    ]
    assert suspect_label(MACHINE, members[:1]) == "lift rack: stuck at rest"
    assert suspect_label(MACHINE, members[:2]).endswith("(or one more that prints alike)")
    assert suspect_label(MACHINE, members).endswith("(or 2 more that print alike)")


def test_a_deviation_says_where_a_part_should_stand_and_where_it_does():
    (first, *_) = deviations(Behaviour(MACHINE, (Fault("bar1", "stuck at rest"),)), 65, World())
    assert first == Deviation("bar1", healthy=1, found=0)
    assert MACHINE.mechanism.laws["bar1"].places == (0, Fraction(4))
