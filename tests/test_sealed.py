"""A sealed fault is drawn from a number, and hunted for at a price."""

import pytest

import mechlogic
from mechlogic.bench.checks import costs_of, doubt, shares
from mechlogic.model.faults import BEFORE_THE_PRINTER, BY_CHANCE, SLUGGISH
from mechlogic.teaching.sealed import (
    ANYTHING_BEFORE,
    HINTS,
    LEVELS,
    MENDING,
    Hunt,
    Sealed,
    library_hunt,
    replay,
)

WIND, SALTMERE = mechlogic.load("wind"), mechlogic.load("saltmere")
SEEDS = range(8)


def comes_and_goes(fault):
    return fault.sometimes or fault.mode in BY_CHANCE


def a_hunt(sealed):
    """Some of every check, nothing mended."""
    hunt = Hunt(sealed).typed(sealed.machine.printing_codes[:6])
    for reach in sorted({part.reach for part in sealed.machine.mechanism}):
        hunt = hunt.looked(reach)
    return hunt.other_source().turned(sealed.machine.printing_codes[-1])


@pytest.mark.parametrize("seed", SEEDS)
def test_the_same_number_holds_the_same_fault_and_prints_the_same(seed):
    one, other = Sealed(WIND, 5, seed), Sealed(mechlogic.load("wind"), 5, seed)
    assert one.faults == other.faults
    assert a_hunt(one).log == a_hunt(other).log


@pytest.mark.parametrize("machine", [WIND, SALTMERE], ids=lambda machine: machine.name)
@pytest.mark.parametrize("level", LEVELS)
def test_each_level_holds_what_it_says(machine, level):
    for seed in SEEDS:
        faults = Sealed(machine, level, seed).faults
        assert len(faults) == (1 if level <= 3 else 2)
        assert len({fault.part for fault in faults}) == len(faults)
        sluggish = [fault for fault in faults if fault.mode in SLUGGISH]
        now_and_then = [fault for fault in faults if comes_and_goes(fault)]
        before = [fault for fault in faults if fault.mode in BEFORE_THE_PRINTER]
        match level:
            case 1:
                assert not sluggish and not now_and_then and not before
            case 2:
                assert sluggish and not now_and_then
            case 3:
                assert now_and_then or before
            case 5:
                assert now_and_then


def test_other_numbers_hold_other_faults():
    assert len({Sealed(SALTMERE, 1, seed).faults for seed in range(40)}) > 20


@pytest.mark.parametrize("level", [0, 6])
def test_there_are_five_levels(level):
    with pytest.raises(ValueError, match="from 1 to 5"):
        Sealed(WIND, level, 1)


@pytest.mark.parametrize("level", LEVELS)
def test_what_is_found_never_speaks_against_the_truth(level):
    for seed in SEEDS:
        sealed = Sealed(WIND, level, seed)
        hunt = a_hunt(sealed)
        assert hunt.allows(sealed.faults)
        tried = {faults for suspect in hunt.diagnosis.suspects for faults in suspect.members}
        parts = [{fault.part for fault in faults} for faults in tried]
        assert any(some <= {fault.part for fault in sealed.faults} for some in parts)


def test_every_check_costs_what_the_description_says():
    costs = costs_of(SALTMERE)
    hunt = Hunt(Sealed(SALTMERE, 1, 1))
    assert hunt.typed([65, 66]).minutes == pytest.approx(2 * costs["type"])
    assert hunt.turned(65).minutes == costs["hand"]
    assert hunt.other_source().minutes == costs["source"]
    assert hunt.looked("head").minutes == costs["head"]
    assert hunt.looked("head").left == hunt.sealed.minutes - costs["head"]
    assert hunt.mend("half_turn").minutes == costs["head"] + MENDING, "the head has to come off"
    assert hunt.looked("head").mend("half_turn").minutes == costs["head"] + MENDING, (
        "it is off already"
    )


def test_a_mended_part_works_and_the_log_begins_anew():
    sealed = Sealed(SALTMERE, 4, 1)
    hunt = Hunt(sealed).typed([65, 66])
    for fault in sealed.faults:
        part = ANYTHING_BEFORE if fault.mode in BEFORE_THE_PRINTER else fault.part
        hunt = hunt.mend(part)
        assert hunt.findings[-1].mended == part
        assert not hunt.log.entries
    assert hunt.faults == ()
    hunt = hunt.typed(SALTMERE.printing_codes)
    assert not hunt.diagnosis.evidence.misprints
    assert not hunt.declare().left


def test_a_part_that_was_innocent_is_a_suspect_no_more():
    sealed = Sealed(WIND, 1, 0)
    innocent = next(p for p in WIND.mechanism.parts if p not in {f.part for f in sealed.faults})
    hunt = Hunt(sealed).mend(innocent)
    assert hunt.findings[-1].found == "nothing was wrong with it"
    assert not hunt.findings[-1].mended
    suspects = hunt.typed([0]).diagnosis.ranked
    faults = {fault for suspect in suspects for members in suspect.members for fault in members}
    assert innocent not in {f.part for f in faults if f.mode not in BEFORE_THE_PRINTER}


@pytest.mark.parametrize("level", LEVELS)
def test_the_library_puts_most_of_them_right_and_its_own_thrift_is_the_measure(level):
    ends = [library_hunt(Sealed(WIND, level, seed)) for seed in SEEDS]
    right = [end for end in ends if not end.left]
    assert len(right) >= 0.75 * len(ends)
    assert all(end.points == 100 for end in right)
    assert all(end.points < 50 for end in ends if end.left)


def test_nothing_mended_earns_nothing_and_dear_ways_earn_less():
    sealed = Sealed(WIND, 1, 1)
    (fault,) = sealed.faults
    assert Hunt(sealed).declare().points == 0
    thrifty = library_hunt(sealed)
    dear = Hunt(sealed)
    for _ in range(8):
        dear = dear.looked("head")
    dear = dear.mend(fault.part if fault.mode not in BEFORE_THE_PRINTER else ANYTHING_BEFORE)
    assert 50 <= dear.declare().points < thrifty.points


def test_a_replay_shows_what_was_wasted():
    sealed = Sealed(WIND, 1, 1)
    hunt = Hunt(sealed).typed([0, 1, 2, 3]).looked("cover").looked("cover")
    moves = replay(hunt)
    assert [move.finding for move in moves] == list(hunt.findings)
    assert not moves[0].wasted and moves[0].doubt_after < moves[0].doubt_before
    assert moves[2].wasted, "looking again at the same parts tells nothing"
    assert moves[0].instead.option is not None
    assert moves[2].suspects_before == moves[2].suspects_after


def belief(hunt):
    return {faults: round(share, 9) for faults, share in shares(hunt.diagnosis)}


def test_mending_what_was_at_fault_is_never_wasted_though_the_doubt_begins_anew():
    sealed = Sealed(WIND, 1, 1)
    (fault,) = sealed.faults
    hunt = Hunt(sealed).typed([0, 1, 2, 3]).mend(fault.part)
    assert hunt.findings[-1].mended
    assert not replay(hunt)[-1].wasted


@pytest.mark.parametrize("seed", SEEDS)
def test_what_is_wasted_leaves_every_belief_where_it_was(seed):
    """Also a check that makes the doubt grow may tell much: that no single fault will do."""
    hunt = a_hunt(Sealed(WIND, 4, seed))
    for number, move in enumerate(replay(hunt)):
        before, after = (Hunt(hunt.sealed, hunt.findings[:n]) for n in (number, number + 1))
        had, has = belief(before), belief(after)
        moved = sum(abs(had.get(one, 0) - has.get(one, 0)) for one in had | has) / 2
        assert move.wasted == (moved < 0.02)
        assert move.doubt_before == pytest.approx(doubt(before.diagnosis))


def test_a_hint_costs_minutes_tells_the_truth_and_is_no_check():
    hunt = Hunt(Sealed(SALTMERE, 1, 1)).typed([65, 66, 67])
    how_many, what_next, likeliest = HINTS
    assert [HINTS[asked] for asked in HINTS] == sorted(HINTS.values()), "the gentlest is cheapest"
    suspects = [one for one in hunt.diagnosis.considered if () not in one.members]
    hinted = hunt.hinted(how_many)
    assert hinted.findings[-1].found.startswith(f"{len(suspects)} possible causes are left")
    assert hinted.minutes == hunt.minutes + HINTS[how_many]
    assert hinted.log == hunt.log
    assert belief(hinted) == belief(hunt)
    assert not replay(hinted)[-1].wasted
    assert hunt.hinted(what_next).findings[-1].found.lower() in hunt.plan().what.lower()
    chance = {}
    for faults, share in shares(hunt.diagnosis):
        for part in {f.part for f in faults if f.mode not in BEFORE_THE_PRINTER}:
            chance[part] = chance.get(part, 0) + share
    best = SALTMERE.label(max(chance, key=chance.get))
    assert best in hunt.hinted(likeliest).findings[-1].found
    with pytest.raises(ValueError, match="no hint 'who did it'"):
        hunt.hinted("who did it")


def test_the_replay_of_the_library_agrees_with_its_own_plans():
    hunt = library_hunt(Sealed(WIND, 3, 2)).hunt
    moves = replay(hunt)
    assert moves and all(move.instead.agrees(move.finding) for move in moves)
    assert hunt.plan().declares
    assert not moves[0].instead.agrees(Hunt(hunt.sealed).looked("head").findings[0])


def test_what_cannot_be_done_is_refused_with_what_can():
    hunt = Hunt(Sealed(WIND, 1, 1))
    with pytest.raises(ValueError, match="Choose cover, head"):
        hunt.looked("roof")
    with pytest.raises(ValueError, match="Did you mean lift_rack"):
        hunt.mend("lift_rak")
    with pytest.raises(ValueError, match="nothing was sent"):
        hunt.typed([])
