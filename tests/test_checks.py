"""Every kind of check: what it tells, for what it costs, worked out once more by plain loops."""

import random
from collections import defaultdict
from dataclasses import replace
from math import log2

import pytest
from plain_runs import SALTMERE, plain

import mechlogic
from mechlogic import Entry, Fault, Logbook
from mechlogic.bench import checks
from mechlogic.bench.advice import next_check
from mechlogic.bench.checks import (
    HAND,
    LEAST_GAIN,
    LEAST_SHARE,
    OILING,
    SOURCE,
    TYPE,
    options,
    safety,
)
from mechlogic.bench.diagnosis import classes, diagnose, every_single
from mechlogic.model.faults import (
    MODES,
    SAFE_TO_LOOK,
    SAFE_TO_OIL,
    assembly_faults,
    line_faults,
    rarer_faults,
    single_faults,
)
from mechlogic.model.type_faults import type_faults

MACHINE = mechlogic.load("saltmere")
LINE = [(fault,) for fault in line_faults(MACHINE.mechanism)]
ALL = [*every_single(MACHINE), *LINE]
PAIR = (Fault("slide1", "slow to return"), Fault("left_stop", "stuck at rest"))

# Weights as the library documents them: common practice, no source.
WEIGHT = {
    "stuck at rest": 2,
    "stuck operated": 2,
    "slow to return": 8,
    "slow to operate": 6,
    "half-way": 3,
    "disconnected": 1,
    "bit lost before the bar": 1.5,
    "bit added before the bar": 1,
}


def weight_of(faults):
    if not faults:
        return 50
    weight = 1 / 2000 ** (len(faults) - 1)
    for fault in faults:
        weight *= WEIGHT[fault.mode]
    return weight


def after(*entries, hypotheses=None):
    return diagnose(MACHINE, Logbook(tuple(entries)), hypotheses or ALL)


def misprint(seed, length, *true, hypotheses=None):
    rng = random.Random(seed)
    codes = rng.choices(range(40, 96), k=length)
    return after(*SALTMERE.type(plain(true), codes, rng), hypotheses=hypotheses)


LOGS = {
    "a stuck slide": misprint(1, 6, Fault("slide4", "stuck at rest")),
    "a slow rack": misprint(2, 5, Fault("turn_rack", "slow to return")),
    "a pair": misprint(3, 4, *PAIR, hypotheses=[*ALL, PAIR]),
    "a bit lost": misprint(4, 3, Fault("bar5", "bit lost before the bar")),
    "no suspect": after(Entry(65, "Z"), Entry(65, "Q"), Entry(66, "?"), hypotheses=ALL[::4]),
}


# -- what is known, and what each check would show ------------------------------------------------


def believed(diagnosis):
    """The chance of each hypothesis by Bayes, from every run of its machine."""
    kept = {
        faults: number
        for number, suspect in enumerate(diagnosis.considered, 1)
        for faults in suspect.members
    }
    log = diagnosis.evidence.log.entries
    weight = {f: weight_of(f) * SALTMERE.likelihood(plain(f), log) for f in kept}
    total = sum(weight.values())
    return {f: one / total for f, one in weight.items()}, kept


def told(chances, outcomes):
    """Mutual information of hypothesis and outcome, by its definition (Shannon 1948), in bits."""
    of_outcome = defaultdict(float)
    for faults, p in chances.items():
        for outcome, q in outcomes[faults].items():
            of_outcome[outcome] += p * q
    return of_outcome, sum(
        p * q * log2(q / of_outcome[outcome])
        for faults, p in chances.items()
        for outcome, q in outcomes[faults].items()
        if p * q > 0
    )


def by_hand(faults, code):
    runs = SALTMERE.step(plain(faults), code, True, SALTMERE.states(plain(faults))[0])
    found = defaultdict(float)
    for _, printed in runs:
        found[f"prints {printed}"] += 1 / len(runs)
    return found


def from_another_source(faults):
    innocent = all(fault.mode.endswith("before the bar") for fault in faults)
    return {"prints right" if innocent else "prints as wrong": 1}


def in_reach(reach):
    """The head lies behind the cover, so taking it off lays open all that the cover hides."""
    return {"cover": ["cover"], "head": ["cover", "head"]}[reach]


def by_looking(faults, reach):
    seen = frozenset(
        fault.part
        for fault in faults
        if MACHINE.mechanism[fault.part].reach in in_reach(reach)
        and not fault.mode.endswith("before the bar")  # the bar itself is sound
    )
    return {seen: 1}


def by_oiling(faults, reach):
    right = 1.0
    for fault in faults:
        oiled = MACHINE.mechanism[fault.part].reach in in_reach(reach)
        right *= MODES[fault.mode].cured_by_oil if oiled else 0
    return {"prints right": right, "prints as wrong": 1 - right}


def of_kind(diagnosis, kind, word="", **costs):
    found = [o for o in options(diagnosis, costs) if o.kind == kind and word in o.what]
    assert len(found) <= 1
    return found[0] if found else None


def agrees(option, chances, kept, outcomes):
    """The gain, the chance of each outcome, and the suspects that each would leave."""
    of_outcome, gain = told(chances, outcomes)
    if option is None:
        whole = -sum(p * log2(p) for p in chances.values() if p > 0)
        assert gain < max(LEAST_GAIN, LEAST_SHARE * whole) + 1e-9
        return
    assert option.gain == pytest.approx(gain, abs=1e-9)
    assert sum(split.probability for split in option.splits) == pytest.approx(1)
    assert [split.probability for split in option.splits] == pytest.approx(
        sorted((p for p in of_outcome.values() if p > 0), reverse=True)
    )
    left = defaultdict(set)
    for faults in chances:
        for outcome, q in outcomes[faults].items():
            if q > 0:
                left[outcome].add(kept[faults])
    assert sorted(split.suspects for split in option.splits) == sorted(
        tuple(sorted(numbers)) for numbers in left.values()
    )


@pytest.mark.parametrize("diagnosis", LOGS.values(), ids=LOGS)
def test_what_another_source_a_look_and_oil_tell_is_the_information_of_their_outcomes(diagnosis):
    chances, kept = believed(diagnosis)
    agrees(of_kind(diagnosis, SOURCE), chances, kept, {f: from_another_source(f) for f in chances})
    for reach in ("cover", "head"):
        looked = {f: by_looking(f, reach) for f in chances}
        agrees(of_kind(diagnosis, "look", reach), chances, kept, looked)
        oiled = {f: by_oiling(f, reach) for f in chances}
        agrees(of_kind(diagnosis, "oil", reach), chances, kept, oiled)


@pytest.mark.parametrize("diagnosis", LOGS.values(), ids=LOGS)
def test_the_character_to_print_by_hand_is_the_most_telling_of_all(diagnosis):
    chances, kept = believed(diagnosis)
    likeliest = sorted(chances, key=lambda f: -chances[f])[: checks.MOST_MEMBERS]
    total = sum(chances[f] for f in likeliest)
    chances = {f: chances[f] / total for f in likeliest}
    gains = {}
    for code in range(32, 96):
        gains[code] = told(chances, {f: by_hand(f, code) for f in chances})[1]
    option = of_kind(diagnosis, HAND)
    if option is None:
        assert max(gains.values()) < LEAST_GAIN + 1e-9
        return
    assert option.gain == pytest.approx(max(gains.values()), abs=1e-9)
    named = [code for code in gains if option.what.endswith(f" {MACHINE.code.name(code)}.")]
    assert len(named) == 1
    agrees(option, chances, kept, {f: by_hand(f, named[0]) for f in chances})


@pytest.mark.parametrize("diagnosis", LOGS.values(), ids=LOGS)
def test_typing_is_weighed_as_the_advice_weighs_it(diagnosis):
    option, check = of_kind(diagnosis, TYPE), next_check(diagnosis)
    if check is None:
        assert option is None
        return
    assert option.gain == check.gain
    assert option.minutes == pytest.approx(0.2 * len(check.codes))
    assert [split.probability for split in option.splits] == [s.probability for s in check.splits]


# -- the order ------------------------------------------------------------------------------------


@pytest.mark.parametrize("diagnosis", LOGS.values(), ids=LOGS)
def test_the_check_most_worth_its_minutes_comes_first(diagnosis):
    found = options(diagnosis)
    worths = [option.gain / option.minutes for option in found]
    assert worths == sorted(worths, reverse=True)
    assert worths == [option.worth for option in found]
    assert all(option.gain >= LEAST_GAIN for option in found)
    chances, _ = believed(diagnosis)
    whole = -sum(p * log2(p) for p in chances.values() if p > 0)
    for option in found:
        assert option.share == pytest.approx(min(1, option.gain / whole), rel=1e-6)
        assert option.share >= LEAST_SHARE


def test_minutes_are_those_of_the_machine_and_oiling_takes_some_besides():
    found = {(o.kind, o.what): o.minutes for o in options(LOGS["a stuck slide"])}
    for (kind, what), minutes in found.items():
        reach = 120 if "head" in what else 12  # as saltmere.toml says
        assert (
            minutes == {TYPE: 0.2, HAND: 2, SOURCE: 3, "look": reach, "oil": reach + OILING}[kind]
        )


def test_the_restorers_own_minutes_change_the_order_and_nothing_else():
    """With the cover off already a look costs little; with no paper, typing is dear."""
    diagnosis = LOGS["a stuck slide"]
    usual, own = options(diagnosis), options(diagnosis, {"cover": 0.01, TYPE: 500.0})
    assert usual[0].kind == TYPE
    assert own[0].kind == "look"
    assert "cover" in own[0].what
    assert [option.kind for option in own].index(TYPE) > 0
    assert {(o.kind, o.what, o.gain) for o in own} == {(o.kind, o.what, o.gain) for o in usual}


@pytest.mark.parametrize("cost", [0, -1, float("nan")])
def test_a_check_that_costs_nothing_is_refused(cost):
    with pytest.raises(ValueError, match=r"'cover' costs .* minutes"):
        options(LOGS["a stuck slide"], {"cover": cost})


# -- what only one kind of check can tell ---------------------------------------------------------


def test_members_of_one_class_are_told_apart_by_a_look_and_by_no_typing():
    members = next(c for c in classes(MACHINE) if (Fault("near_plate", "stuck at rest"),) in c)
    assert len(members) > 2
    diagnosis = after(hypotheses=list(members))
    assert {option.kind for option in options(diagnosis)} <= {"look", "oil"}
    look = of_kind(diagnosis, "look", "head")
    parts = {fault.part for (fault,) in members}
    assert len(look.splits) == len(parts)
    assert all(split.suspects == (1,) for split in look.splits)


def test_what_is_only_behind_the_head_is_not_seen_with_the_cover_off():
    stuck = [(Fault(part, "stuck at rest"),) for part in ("half_turn", "turn")]
    diagnosis = after(hypotheses=stuck)
    assert of_kind(diagnosis, "look", "cover") is None
    assert of_kind(diagnosis, "look", "head").gain == pytest.approx(1)


def test_a_fault_before_the_printer_is_told_from_a_stuck_bar_by_another_source_or_a_look():
    """No print of the same text tells them; the bar of the innocent printer moves freely."""
    stuck, lost = (Fault("bar3", "stuck at rest"),), (Fault("bar3", "bit lost before the bar"),)
    diagnosis = after(hypotheses=[stuck, lost])
    assert len(diagnosis.ranked) == 1
    assert of_kind(diagnosis, TYPE) is None
    assert of_kind(diagnosis, HAND) is None
    _, both = told({stuck: 2 / 3.5, lost: 1.5 / 3.5}, {stuck: {0: 1}, lost: {1: 1}})
    assert of_kind(diagnosis, SOURCE).gain == pytest.approx(both)
    assert of_kind(diagnosis, "look", "cover").gain == pytest.approx(both)
    outcomes = {split.outcome for split in of_kind(diagnosis, "look", "cover").splits}
    assert outcomes == {"finds code bar 3 at fault", "finds nothing"}


def test_turning_by_hand_tells_slow_from_stuck():
    slow, stuck = (Fault("slide1", "slow to return"),), (Fault("slide1", "stuck operated"),)
    option = of_kind(after(hypotheses=[slow, stuck]), HAND)
    assert option.gain == pytest.approx(
        told({slow: 0.8, stuck: 0.2}, {slow: {0: 1}, stuck: {1: 1}})[1]
    )
    assert [split.probability for split in option.splits] == pytest.approx([0.8, 0.2])


def test_sluggish_parts_however_many_print_alike_by_hand():
    """More of them than are weighed: those left out must not pass for information."""
    every = (*single_faults(MACHINE.mechanism), *rarer_faults(MACHINE.mechanism))
    slow = [(fault,) for fault in every if fault.mode.startswith("slow")]
    assert len(slow) > checks.MOST_MEMBERS
    assert of_kind(after(hypotheses=slow), HAND) is None


@pytest.mark.parametrize("mode", ["slow to return", "slow to operate", "half-way", "stuck at rest"])
def test_oil_cures_what_is_stiff_as_often_as_it_says(mode):
    cured, other = (Fault("slide1", mode),), (Fault("slide1", "stuck operated"),)
    diagnosis = after(hypotheses=[cured, other])
    split = {s.outcome: s for s in of_kind(diagnosis, "oil", "cover").splits}
    p = WEIGHT[mode] / (WEIGHT[mode] + 2)
    assert split["prints right"].probability == pytest.approx(p * MODES[mode].cured_by_oil)


def test_oil_cures_nothing_else_and_no_part_out_of_reach():
    cured = {"slow to return", "slow to operate", "half-way", "stuck at rest"}
    assert {name for name, mode in MODES.items() if mode.cured_by_oil} == cured
    parts = MACHINE.mechanism
    faults = (*single_faults(parts), *rarer_faults(parts), *assembly_faults(parts))
    faults += type_faults(MACHINE)
    others = [(fault,) for fault in faults if fault.mode not in cured]
    of_contacts = {mode for mode in MODES if "contact" in mode}
    of_latches = {"misses at times"}
    assert {fault.mode for (fault,) in others} == set(MODES) - cured - of_contacts - of_latches
    assert not [o for o in options(after(hypotheses=others)) if o.kind == "oil"]
    behind = [(Fault("lift_rack", "slow to return"),), (Fault("lift_rack", "stuck operated"),)]
    assert of_kind(after(hypotheses=behind), "oil", "cover") is None
    assert of_kind(after(hypotheses=behind), "oil", "head") is not None


def test_where_one_hypothesis_is_left_or_none_there_is_nothing_to_check():
    assert options(after(hypotheses=[(Fault("slide1", "slow to return"),)])) == ()
    assert options(diagnose(MACHINE, Logbook(), [])) == ()


# -- how it is said -------------------------------------------------------------------------------


def test_the_reason_counts_the_suspects_and_the_cautions_go_with_the_work():
    for option in options(LOGS["a stuck slide"]):
        sizes = "/".join(str(len(split.suspects)) for split in option.splits)
        assert sizes in option.reason
        overlap = sum(len(split.suspects) for split in option.splits) > len(
            {number for split in option.splits for number in split.suspects}
        )
        assert ("may allow several" in option.reason) == overlap
        expected = {TYPE: "", SOURCE: "", "oil": SAFE_TO_OIL}.get(option.kind, SAFE_TO_LOOK)
        assert expected in safety(option)
        assert replace(option, kind=TYPE).worth == option.worth
