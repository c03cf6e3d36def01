"""Something that is not on the list: its chance, held against a sum over everything it could do."""

import random
from functools import cache
from itertools import product
from math import exp, log, prod
from pathlib import Path

import pytest
from brute_force import NOTHING, UNREADABLE, Printer, read
from hypothesis import given, settings
from hypothesis import strategies as st
from plain_runs import chance_of

import mechlogic
from mechlogic import Entry, Logbook
from mechlogic.bench.advice import readable_codes
from mechlogic.bench.evidence import Evidence
from mechlogic.bench.open_world import causes, elsewhere, log_sum

MACHINES = Path(mechlogic.__file__).parent / "machines"
WIND, PLAIN_WIND = mechlogic.load("wind"), Printer(read(MACHINES / "wind.toml"))
GLYPHS = {"N", "E", "S", "W"}
RIGHT = (0.1, 0.5, 0.9)
TWO_BEFORE = "depending on where it should stand now and in the two characters before"


def stood(printer, name, code, remembered=None):
    """Where a part should stand, and what is printed with it at each of its places."""
    _, asked, _ = printer.follow(code, remembered=remembered)
    prints = {}
    for place in printer.places[name]:
        fault = ((name, "unknown", ""),)
        held = printer.follow(code, fault, remembered=remembered, free={name: place})
        prints[place] = held[2]
    return asked[name], prints


@cache
def stood_in_wind(name, code):
    return stood(PLAIN_WIND, name, code)


@pytest.mark.parametrize("name", ["wind", "saltmere", "ebbing", "ness"])
def test_the_prints_with_one_part_elsewhere_are_those_of_the_plain_simulator(name):
    machine, printer = mechlogic.load(name), Printer(read(MACHINES / f"{name}.toml"))
    rng = random.Random(name)
    for code in rng.sample(range(len(machine.code)), 4):
        latched = tuple(rng.randrange(2) for _ in machine.mechanism.latches)
        told = elsewhere(machine, (code, latched))
        places = zip(machine.mechanism.latches, latched, strict=True)
        remembered = {latch: printer.places[latch][place] for latch, place in places}
        setting = machine.as_set(code)
        assert told.good == printer.follow(setting, remembered=remembered)[2]
        for part in machine.mechanism.parts:
            asked, prints = stood(printer, part, setting, remembered)
            assert told.prints[part] == tuple(prints.values())
            assert told.asked[part] == printer.places[part].index(asked)


def functions(deciding, known):
    """Every function from what decides to what is known, as the value for each entry."""
    several = list(dict.fromkeys(deciding))
    for values in product(known, repeat=len(several)):
        yield dict(zip(several, values, strict=True))


def with_one_part(name, decide, entries):
    """The chance of a log, summed over every way in which a part may be placed."""
    stands = [stood_in_wind(name, entry.sent) for entry in entries]
    asked = [where for where, _ in stands]
    deciding = [decide(t, asked) for t in range(len(entries))]
    places = PLAIN_WIND.places[name]
    total = 0.0
    for right in RIGHT:
        for function in functions(deciding, places):
            chance = 1.0
            for what in function:
                own = asked[deciding.index(what)]
                if function[what] == own:
                    chance *= right
                else:
                    chance *= (1 - right) / (len(places) - 1)
            for t, entry in enumerate(entries):
                chance *= chance_of(entry, stands[t][1][function[deciding[t]]])
            total += chance / len(RIGHT)
    return total


def jammed(name, entries):
    """The chance of a log, summed over the places at which a part may always stand."""
    prints = [stood_in_wind(name, entry.sent)[1] for entry in entries]
    places = PLAIN_WIND.places[name]
    chances = (
        prod(chance_of(entry, its[place]) for entry, its in zip(entries, prints, strict=True))
        for place in places
    )
    return sum(chances) / len(places)


def with_any_print(decide, entries):
    """The chance of a log, summed over all that may be printed."""
    deciding = [decide(t) for t in range(len(entries))]
    code_of = {what: entries[deciding.index(what)].sent for what in deciding}
    every = [*sorted(GLYPHS), UNREADABLE, NOTHING]
    shapes = [(0.25,) * 4, *(tuple(0.94 if i == k else 0.02 for i in range(4)) for k in range(4))]
    total = 0.0
    for right in RIGHT:
        for shape in shapes:
            share = {}
            for what, code in code_of.items():
                good = PLAIN_WIND.follow(code)[2]
                near = {p for n in PLAIN_WIND.order for p in stood_in_wind(n, code)[1].values()}
                near -= {good, UNREADABLE, NOTHING}
                other = GLYPHS - near - {good}
                share[what] = dict.fromkeys(every, 0.0) | {good: right}
                for kind, its in zip((near, other, {UNREADABLE}, {NOTHING}), shape, strict=True):
                    for print_ in kind or {good}:
                        share[what][print_] += (1 - right) * its / len(kind or {good})
            for function in functions(deciding, every):
                chance = prod(share[what][print_] for what, print_ in function.items())
                for t, entry in enumerate(entries):
                    chance *= chance_of(entry, function[deciding[t]])
                total += chance / len(RIGHT) / len(shapes)
    return total


def plain_causes(entries):
    follows = [
        t > 0 and entry.gap != "yes" and entry.driven == "speed" for t, entry in enumerate(entries)
    ]

    def before(t, asked):
        return asked[t - 1] if follows[t] else None

    found = {}
    for name in PLAIN_WIND.order:
        found[name] = {
            "always the same one": jammed(name, entries),
            "depending on where it should stand": with_one_part(name, lambda t, a: a[t], entries),
            "depending on where it should stand now and one character ago": with_one_part(
                name, lambda t, a: (a[t], before(t, a)), entries
            ),
            TWO_BEFORE: with_one_part(
                name, lambda t, a: (a[t], before(t, a), follows[t] and before(t - 1, a)), entries
            ),
            "depending on where it should stand and on one code bar": sum(
                with_one_part(name, lambda t, a, b=b: (a[t], entries[t].sent >> b & 1), entries) / 2
                for b in range(2)
            ),
            "depending on the code that is sent": with_one_part(
                name, lambda t, _: entries[t].sent, entries
            ),
            "anew for every character": with_one_part(name, lambda t, _: t, entries),
        }
    found[""] = {
        "depending on the code that is sent": with_any_print(lambda t: entries[t].sent, entries),
        "depending on the code that is sent and on the one before": with_any_print(
            lambda t: (entries[t].sent, entries[t - 1].sent if follows[t] else None), entries
        ),
        "anew for every character": with_any_print(lambda t: t, entries),
    }
    prior = dict.fromkeys(PLAIN_WIND.order, 1 / 2 / 6 / 7) | {"": 1 / 2 / 3}
    return {
        (name, by): chance * prior[name]
        for name, several in found.items()
        for by, chance in several.items()
    }


entries_of_wind = st.builds(
    Entry,
    st.integers(0, 3),
    st.sampled_from([*sorted(GLYPHS), NOTHING, UNREADABLE, "N or E"]),
    driven=st.sampled_from(["speed", "speed", "hand"]),
    gap=st.sampled_from(["", "at once", "pause", "yes"]),
)


@settings(max_examples=15, deadline=None)
@given(st.lists(entries_of_wind, max_size=3))
def test_the_chance_of_each_cause_is_the_sum_over_all_that_it_can_do(entries):
    found = causes(Evidence(WIND, Logbook(tuple(entries), WIND.code)))
    plain = plain_causes(entries)
    assert len(found) == len(plain)
    for cause in found:
        expected = log(plain[cause.part, cause.decided_by])
        assert cause.log_chance == pytest.approx(expected, abs=1e-9)


@pytest.mark.parametrize("name", ["wind", "saltmere", "ebbing", "desk", "sluice"])
def test_without_a_log_the_causes_share_one_whole(name):
    machine = mechlogic.load(name)
    found = causes(Evidence(machine, Logbook((), machine.code)))
    assert exp(log_sum(cause.log_chance for cause in found)) == pytest.approx(1)


def log_with(machine, part, where, n_entries):
    """A log of a machine, one part of which stands where *where* says: code and place asked."""
    entries = []
    for code in random.Random(0).choices(readable_codes(machine), k=n_entries):
        told = elsewhere(machine, (code, ()))
        entries.append(Entry(code, told.prints[part][where(code, told.asked[part])]))
    return Logbook(tuple(entries), machine.code)


@pytest.mark.parametrize(
    ("where", "by"),
    [
        (lambda code, place: 1, "always the same one"),
        (lambda code, place: min(place, 1), "depending on where it should stand"),
        (
            lambda code, place: place ^ (code & 1),
            "depending on where it should stand and on one code bar",
        ),
        (lambda code, place: place ^ (code % 3 == 0), "depending on the code that is sent"),
    ],
    ids=("jammed", "limited", "moved by a bar", "moved by some codes"),
)
def test_the_likeliest_cause_tells_what_decides_and_where_it_can_be(where, by):
    machine = mechlogic.load("saltmere")
    log = log_with(machine, machine.output.lift, where, 60)
    first = causes(Evidence(machine, log))[0]
    assert first.decided_by == by
    assert first.part in machine.mechanism.upstream(machine.output.lift)


def test_a_long_log_that_nothing_fits_has_a_chance_all_the_same():
    entries = tuple(Entry(t % 4, "ENWS"[t * t % 3]) for t in range(2_000))
    found = causes(Evidence(WIND, Logbook(entries, WIND.code)))
    assert all(-1e6 < cause.log_chance < 0 for cause in found)
