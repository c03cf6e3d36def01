"""Laws that any diagnosis of any machine obeys, each on random machines, faults and logs.

That a description, a log and a record come back from their files as they were is held where they
are written: ``test_writing.py``, ``test_logbook.py`` and ``test_record.py``.  Here, that a
diagnosis does not notice.
"""

import tempfile
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plain_runs import Runs, logs_of, plain
from strategies import (
    descriptions,
    fault_sets,
    library,
    machine_of,
    renamed,
    renamed_fault,
    writable_machines,
)

from mechlogic import Behaviour, Logbook
from mechlogic.bench import diagnosis as library_diagnosis
from mechlogic.bench.diagnosis import every_single
from mechlogic.bench.evidence import Evidence, account
from mechlogic.bench.search import minimal_sets
from mechlogic.describing.writing import save
from mechlogic.machines import load
from mechlogic.model.logbook import NOTHING, UNREADABLE, Entry, read_logbook, write_logbook

fewer = settings(max_examples=settings().max_examples // 4)


def diagnose(machine, log, hypotheses=None):
    """The single faults of the parts, which the plain simulator knows too, and no others."""
    tried = every_single(machine) if hypotheses is None else hypotheses
    return library_diagnosis.diagnose(machine, log, tried)


def consistent(machine, entries, faults):
    evidence = Evidence(machine, Logbook(tuple(entries), machine.code))
    return account(evidence, Behaviour(machine, faults)).consistent


@st.composite
def logs_of_some_fault(draw, runs, units, tried=(), most=6):
    """A log that the machine printed healthy or with some faults, a lie here and there."""
    true = draw(st.sampled_from([(), *tried]) | fault_sets(runs.printer, rarer=True))
    return draw(logs_of(runs, true, units, most))


# -- the verdict -----------------------------------------------------------------------------------


@given(st.data())
def test_a_random_log_fits_random_faults_of_a_random_machine_just_when_some_run_prints_it(data):
    """Mechanism, faults and log are all drawn; the brute force writes every run out."""
    description = data.draw(descriptions())
    machine, runs = machine_of(description), Runs(description)
    faults = data.draw(st.just(()) | fault_sets(runs.printer, most=3, rarer=True))
    entries = data.draw(logs_of_some_fault(runs, machine.units, [faults, faults]))
    assert consistent(machine, entries, library(faults)) == runs.explains(faults, entries)


# -- what must make no difference ------------------------------------------------------------------


@fewer
@given(st.data())
def test_the_names_of_the_parts_make_no_difference(data):
    """Nor, with that, their order: a name settles where a part stands in every list."""
    description = data.draw(descriptions())
    old = list(description["parts"])
    others = data.draw(st.permutations([f"p{number}" for number in range(len(old))]))
    new = dict(zip(old, others, strict=True))
    machine, other = machine_of(description), machine_of(renamed(description, new))
    log = data.draw(logs_of_some_fault(Runs(description), machine.units).map(tuple))
    found, as_renamed = (
        {frozenset(s.members): s for s in diagnose(one, Logbook(log, one.code)).ranked}
        for one in (machine, other)
    )
    for members, suspect in found.items():
        same = as_renamed.pop(
            frozenset(
                library([renamed_fault(one, new) for one in plain(faults)]) for faults in members
            )
        )
        assert suspect.probability == pytest.approx(same.probability, rel=1e-9)
        assert suspect.consistent == same.consistent
        assert len(suspect.misfits) == len(same.misfits)
    assert not as_renamed


@fewer
@given(st.data())
def test_stretches_of_a_log_that_gaps_part_may_change_places(data):
    description = data.draw(descriptions())
    machine, runs = machine_of(description), Runs(description)
    several = data.draw(st.lists(fault_sets(runs.printer, rarer=True), min_size=1, max_size=5))
    stretches = []
    for _ in range(data.draw(st.integers(2, 4))):
        entries = data.draw(logs_of_some_fault(runs, machine.units, several, most=3))
        stretches.append(
            [replace(one, gap=one.gap if t else "yes") for t, one in enumerate(entries)]
        )
    singles = sorted({fault for faults in several for fault in library(faults)})
    (costs, minimal, likely), (costs_then, minimal_then, likely_then) = (
        _told(machine, order, several, singles)
        for order in (stretches, data.draw(st.permutations(stretches)))
    )
    assert costs_then == costs
    assert minimal_then == minimal
    assert likely_then == pytest.approx(likely, rel=1e-9)


def _told(machine, stretches, several, singles):
    """What a log of these stretches says of several hypotheses, and of all sets of singles."""
    entries = tuple(entry for stretch in stretches for entry in stretch)
    evidence = Evidence(machine, Logbook(entries, machine.code))
    accounts = [account(evidence, Behaviour(machine, library(faults))) for faults in several]
    return (
        [one.cost for one in accounts],
        minimal_sets(evidence, 2, singles, misreadings=1),
        [one.log_likelihood for one in accounts],
    )


@fewer
@given(st.data())
def test_a_machine_and_a_log_that_were_saved_and_loaded_lead_to_the_same_suspects(data):
    machine = data.draw(writable_machines())
    shown = st.sampled_from([*machine.output.glyphs, NOTHING, UNREADABLE])
    sent = st.integers(0, len(machine.code) - 1)
    entry = sent.map(lambda code: Entry(code, machine.good_print(code)))
    entries = data.draw(st.lists(entry | st.builds(Entry, sent, shown), max_size=6))
    log = Logbook(tuple(entries), machine.code)
    with tempfile.TemporaryDirectory() as folder:
        save(machine, Path(folder) / "machine.toml")
        write_logbook(log, Path(folder) / "log.csv")
        again = load(Path(folder) / "machine.toml")
        log_again = read_logbook(Path(folder) / "log.csv", again.code)
    one, other = diagnose(machine, log), diagnose(again, log_again)
    assert one.ranked == other.ranked


# -- more evidence ---------------------------------------------------------------------------------


@given(st.data())
def test_a_set_of_faults_that_fits_a_log_fits_every_stretch_of_it(data):
    """So evidence only ever rules out: of all sets that fit, none is new when a log grows."""
    description = data.draw(descriptions())
    machine, runs = machine_of(description), Runs(description)
    singles = data.draw(
        st.lists(st.sampled_from(runs.printer.single_faults()), min_size=2, max_size=4, unique=True)
    )
    sets = [(), *(f for n in (1, 2) for f in combinations(singles, n) if can_be_together(f))]
    entries = data.draw(logs_of_some_fault(runs, machine.units, sets))
    first = data.draw(st.integers(0, len(entries)))
    stretch = entries[first : data.draw(st.integers(first, len(entries)))]
    of_all, of_a_stretch = (
        {f for f in map(library, sets) if consistent(machine, some, f)}
        for some in (entries, stretch)
    )
    assert of_all <= of_a_stretch


def can_be_together(faults):
    own = [part for part, mode, _ in faults if mode != "disconnected"]
    return len(own) == len(set(own))


@given(st.data(), st.integers(0, 2))
def test_after_a_log_of_a_healthy_machine_the_empty_set_is_the_only_minimal_one(data, misreadings):
    description = data.draw(descriptions(bits=(2, 3), most=6))
    machine = machine_of(description)
    log = data.draw(logs_of(Runs(description), (), machine.units, lies=False))
    found = minimal_sets(Evidence(machine, Logbook(tuple(log), machine.code)), 2, None, misreadings)
    assert found == ((),)
