"""Test cards: what a text shows is what every run of the plain simulator shows, no more and no
less; the smallest are as small as exhaustive search and a second solver say."""

import math
import random
import re
import string
from dataclasses import replace
from fractions import Fraction
from functools import cache
from html import escape, unescape
from itertools import combinations, pairwise, product

import pytest
from hostile import texts
from hypothesis import given
from hypothesis import strategies as st
from plain_runs import SALTMERE as PLAIN
from plain_runs import Runs, plain
from pysat.examples.rc2 import RC2
from pysat.formula import WCNF
from spare_bar import with_spare_bar
from strategies import descriptions, few, library, machine_of

import mechlogic
from mechlogic.acceptance.coverage import Verdict, chance_shown, coverage, percent, showing
from mechlogic.acceptance.testcards import (
    PANGRAM,
    customary,
    paper,
    part_changes,
    smallest_sequence,
    smallest_set,
    typeable,
    walk_all_transitions,
    walk_part_transitions,
    wrapped,
)
from mechlogic.bench.diagnosis import classes, every_single
from mechlogic.drawing.cards import MOST_ROWS, card_page, comparison_page
from mechlogic.helpers.covers import (
    all_pairs_walk,
    greedy_walk,
    shortest_walk,
    smallest_cover,
    steps_of,
)
from mechlogic.model.codes import FIVE_UNIT, SEVEN_UNIT, CodeError
from mechlogic.model.faults import HALF_WAY, SLUGGISH

SALTMERE, WIND = mechlogic.load("saltmere"), mechlogic.load("wind")
SPACE = SEVEN_UNIT.code(" ")
LINES = {"RY": "RY" * 8, "U*": "U*" * 8, "AB": "ABACAB\r\n", "digits": "0123456789"}


@pytest.fixture(scope="module")
def saltmere_set():
    return smallest_set(SALTMERE)


@pytest.fixture(scope="module")
def saltmere_text():
    return smallest_sequence(SALTMERE)


def codes_of(text):
    return [SEVEN_UNIT.code(character) for character in text]


def code_named(word):
    """The code of a character as a sentence names it, perhaps with a comma or stop behind it."""
    return SEVEN_UNIT.parse(word if len(word) == 1 else word.rstrip(",."))


def chance_by_trying_every_run(runs: Runs, faults, codes, starts=None) -> Fraction:
    """Every start and every throw of chance, one after the other, all equally likely.

    The good machine that it is held against begins with its latches as the faulty one's were asked.
    """

    @cache
    def unseen(t, state, good_state):
        if t == len(codes):
            return Fraction(1)
        ((good_after, good),) = runs.step((), codes[t], False, good_state)
        outcomes = runs.step(faults, codes[t], False, state)
        right = [after for after, seen in outcomes if seen == good]
        chances = (unseen(t + 1, after, good_after) for after in right)
        return sum(chances, Fraction(0)) / len(outcomes)

    starts = pairs_at_first(runs, faults) if starts is None else starts
    return 1 - sum((unseen(0, *pair) for pair in starts), Fraction(0)) / len(starts)


def pairs_at_first(runs: Runs, faults):
    """Every state of the faulty machine, and the good one's: its latches stand as asked."""
    latches, remembering = runs.printer.latches, runs.printer.remembering(faults)
    for_each = (dict(zip(remembering, state, strict=True)) for state in runs.states(faults))
    return [
        (tuple(asked[name] for name in remembering), tuple(asked[name] for name in latches))
        for asked in for_each
    ]


def pairs_unnoticed(runs: Runs, faults, codes):
    """Every pair of states that the two may be in while all printed right so far."""
    found = waiting = set(pairs_at_first(runs, faults))
    while waiting:
        waiting = {
            (after, good_after)
            for state, good_state in waiting
            for code in codes
            for good_after, good in runs.step((), code, False, good_state)
            for after, seen in runs.step(faults, code, False, state)
            if seen == good
        } - found
        found = found | waiting
    return found


def verdict_of(chance) -> Verdict:
    return "certain" if chance == 1 else "possible" if chance else "no"


# -- what a text shows -------------------------------------------------------------------------


@few
@given(st.data())
def test_the_chance_that_a_text_shows_a_fault_is_that_of_all_runs_together(data):
    description = data.draw(descriptions())
    machine, runs = machine_of(description), Runs(description)
    codes = data.draw(st.lists(st.integers(0, len(machine.code) - 1), max_size=4))
    for fault in data.draw(st.lists(st.sampled_from(runs.printer.single_faults()), max_size=8)):
        found = chance_shown(machine, library([fault]), codes)
        assert found == chance_by_trying_every_run(runs, (fault,), codes), fault


@few
@given(st.data())
def test_two_characters_show_a_fault_for_certain_just_when_every_run_misprints(data):
    description = data.draw(descriptions())
    machine, runs = machine_of(description), Runs(description)
    fault = data.draw(st.sampled_from(runs.printer.single_faults()))
    shows = showing(machine, library([fault]))
    starts = pairs_unnoticed(runs, (fault,), range(len(machine.code)))
    for before, now in product(range(min(8, len(machine.code))), repeat=2):
        one, two = (
            chance_by_trying_every_run(runs, (fault,), codes, starts)
            for codes in ([now], [before, now])
        )
        assert bool(shows.alone >> now & 1) == (one == 1)
        assert bool((shows.after[before] >> now | shows.alone >> before) & 1) == (two == 1)
        assert bool(shows.perhaps >> now & 1) == (one > 0)


@pytest.mark.parametrize("text", LINES.values(), ids=LINES)
def test_what_a_line_shows_on_saltmere_is_what_every_run_of_the_plain_simulator_shows(text):
    codes = codes_of(text)
    found = coverage(SALTMERE, codes)
    for members in classes(SALTMERE):
        chances = {f: chance_by_trying_every_run(PLAIN, plain(f), codes) for f in members}
        if () in members:
            assert found.hidden == members
            assert set(chances.values()) == {0}
        else:
            finding = found.find(members[-1])
            assert finding.chance == min(chances.values())
            assert finding.verdict == verdict_of(min(chances.values()))
            assert bool(finding.why) == (finding.verdict != "certain")
    n = len(found.certain) + len(found.possible) + len(found.missed)
    assert n == len(found.findings) == len(classes(SALTMERE)) - 1


@pytest.mark.parametrize("text", LINES.values(), ids=LINES)
def test_what_a_reason_asks_for_makes_the_fault_show(text):
    codes, found = codes_of(text), coverage(SALTMERE, codes_of(text))
    asked = 0
    for finding in (*found.missed, *found.possible):
        faults = finding.members[0]
        if not finding.why.startswith("It needs"):
            assert "chance" in finding.why
            continue
        if change := re.search(r"(\S+) after (\S+)", finding.why):
            more = [code_named(change[2]), code_named(change[1])]
        else:
            more = [code_named(re.search(r".*(?:such as|needs) (\S+)", finding.why)[1])]
        asked += 1
        then = chance_shown(SALTMERE, faults, [*codes, *more])
        by_chance = "by chance" in finding.why
        assert then > finding.chance if by_chance else then == 1, finding.why
    assert asked > 5


def test_an_empty_text_shows_nothing():
    assert {finding.chance for finding in coverage(SALTMERE, []).findings} == {0}


def test_half_way_parts_may_show_but_never_for_certain_and_nothing_else_is_left_to_chance():
    after_a_blank = [code for each in SALTMERE.printing_codes for code in (SPACE, each)]
    everything = coverage(SALTMERE, [*walk_all_transitions(SALTMERE).codes, *after_a_blank])
    for finding in everything.findings:
        half = [fault for (fault,) in finding.members if fault.mode == HALF_WAY.name]
        assert (finding.verdict == "possible") == bool(half)


def test_by_hand_no_sluggish_part_shows_and_speed_is_named_as_the_reason():
    found = coverage(SALTMERE, range(128), at_speed=False)
    for finding in found.findings:
        if finding.members[0][0].mode in SLUGGISH:
            assert finding.verdict == "no"
            assert "speed" in finding.why


def test_faults_that_no_print_can_show_are_told_apart_from_those_that_the_text_misses():
    report = coverage(with_spare_bar(SALTMERE, parity="none"), codes_of("A")).report()
    assert report[-1].startswith("spare bar")
    assert report[-1].endswith("No print can show it.")
    assert sum("No print" in line for line in report) == 1


def test_a_number_that_is_no_code_is_refused():
    with pytest.raises(CodeError, match="not a code of 7 units"):
        coverage(SALTMERE, [128])


@pytest.mark.parametrize(
    ("chance", "says"),
    [
        (Fraction(0), "0 %"),
        (Fraction(1, 4), "25 %"),
        (Fraction(1), "100 %"),
        (1 - Fraction(1, 2**4000), "over 99 %"),
        (Fraction(1, 2**4000), "under 1 %"),
    ],
)
def test_a_chance_is_never_rounded_to_certainty(chance, says):
    assert percent(chance) == says


# -- smallest covers and shortest walks ------------------------------------------------------------

tables = st.dictionaries(
    st.integers(0, 9), st.frozensets(st.sampled_from("abcdefg"), max_size=4), max_size=8
)
walk_needs = st.dictionaries(
    st.integers(0, 9),
    st.frozensets(st.tuples(st.sampled_from("abc"), st.sampled_from("abc")), max_size=5),
    max_size=6,
)


def meets_all(needs, choices):
    return all(need & set(choices) for need in needs if need)


@given(tables)
def test_a_smallest_cover_is_as_small_as_trying_every_set_finds(table):
    found = smallest_cover(table)
    tried = (
        size
        for size in range(8)
        if any(meets_all(table.values(), some) for some in combinations("abcdefg", size))
    )
    assert len(found) == found.bound == next(tried)
    assert found.proved
    assert found.gap == 0
    assert meets_all(table.values(), found.chosen)
    assert set(found.unmet) == {need for need, choices in table.items() if not choices}


def test_of_equally_small_covers_the_cheapest_is_taken():
    table = {1: "ab", 2: "ac", 3: "bc"}
    price = {"a": 5, "b": 1, "c": 1}
    assert set(smallest_cover(table, price.__getitem__).chosen) == {"b", "c"}


@few
@given(walk_needs)
def test_a_shortest_walk_is_as_short_as_trying_every_walk_finds(table):
    found = shortest_walk("abc", table)
    assert meets_all(table.values(), steps_of(found.chosen))
    assert found.proved
    shorter = [walk for n in range(len(found)) for walk in product("abc", repeat=n)]
    assert not any(meets_all(table.values(), steps_of(walk)) for walk in shorter)
    quick = greedy_walk("abc", [need for need in table.values() if need])
    assert meets_all(table.values(), steps_of(quick))
    assert len(quick) >= len(found)


@few
@given(st.dictionaries(st.integers(0, 9), st.frozensets(st.sampled_from("abc")), max_size=3))
def test_a_letter_that_tells_by_itself_may_come_first_or_later(alone):
    """Beside such letters each need is met by one change of letter, another for each need."""
    changes = {need: ("abc"[need % 3], "abc"[need // 3 % 3]) for need in alone}
    table = {
        need: {(before, now) for before in (None, *"abc") for now in letters} | {changes[need]}
        for need, letters in alone.items()
    }
    found = shortest_walk("abc", table)
    assert found.proved
    assert meets_all(table.values(), steps_of(found.chosen))
    shorter = [walk for n in range(len(found)) for walk in product("abc", repeat=n)]
    assert not any(meets_all(table.values(), steps_of(walk)) for walk in shorter)


def test_of_equally_short_walks_the_cheapest_is_taken():
    table = {1: {("a", "b"), ("b", "c")}}
    price = {"a": 5, "b": 1, "c": 1}
    assert shortest_walk("abc", table, price.__getitem__).chosen == ("b", "c")


def test_a_hundred_characters_to_choose_from_are_not_too_many_for_a_proof():
    card = smallest_sequence(mechlogic.load("sluice"))
    assert "of the 100 characters allowed" in card.claim
    assert card.found.proved
    assert len(card.coverage.missed) == len(card.found.unmet)


def test_when_the_time_is_up_no_proof_is_claimed():
    found = shortest_walk(
        "abcd", {i: {pair} for i, pair in enumerate(product("abcd", "ab"))}, seconds=0
    )
    assert meets_all([{pair} for pair in product("abcd", "ab")], steps_of(found.chosen))
    assert found.bound < len(found)
    assert not found.proved
    assert found.gap > 0
    card = smallest_sequence(WIND, seconds=0)
    assert "fewest there can be" not in card.claim
    assert f"fewer than {card.found.bound} exists" in card.claim
    assert len(card.coverage.missed) == 0


@pytest.mark.parametrize("n", [0, 1, 2, 3, 7, 64])
def test_a_walk_over_all_pairs_takes_each_of_them_once(n):
    walk = all_pairs_walk(range(n))
    assert sorted(pairwise(walk)) == list(product(range(n), repeat=2))


# -- the smallest cards ------------------------------------------------------------------------


def stuck_or_dead():
    """The faults that need neither speed nor luck, as the list of faults has them."""
    return [
        faults
        for faults in every_single(SALTMERE)[1:]
        if faults[0].mode not in {*SLUGGISH, HALF_WAY.name}
    ]


def shown_by_the_plain_simulator(faults, code):
    ((_, good),) = PLAIN.step((), code, True, ())
    return all(seen != good for _, seen in PLAIN.step(plain(faults), code, True, ()))


def test_the_smallest_set_is_as_small_as_a_satisfiability_solver_finds(saltmere_set):
    """Both from a table of the plain simulator's, and with another kind of solver."""
    allowed = typeable(SALTMERE)
    formula = WCNF()
    for faults in stuck_or_dead():
        if shows := [code for code in allowed if shown_by_the_plain_simulator(faults, code)]:
            formula.append([code + 1 for code in shows])
            assert set(shows) & set(saltmere_set.text), str(faults[0])
    for code in allowed:
        formula.append([-(code + 1)], weight=1)
    with RC2(formula) as solver:
        assert solver.compute() is not None
        assert solver.cost == len(saltmere_set.text) == saltmere_set.found.bound


def test_the_smallest_set_leaves_only_speed_and_luck_to_other_cards(saltmere_set):
    found = saltmere_set.coverage
    assert saltmere_set.found.unmet == ()
    assert all(f.members[0][0].mode in SLUGGISH for f in found.missed)
    assert all(f.members[0][0].mode == HALF_WAY.name for f in found.possible)


def test_every_run_of_every_fault_that_can_be_certain_misprints_in_the_smallest_text(
    saltmere_text,
):
    """Followed by the plain simulator, and no text at all shows for certain what is left."""
    left = set()
    for faults in every_single(SALTMERE)[1:]:
        chance = chance_by_trying_every_run(PLAIN, plain(faults), saltmere_text.text)
        if chance < 1:
            left.add(faults)
    assert {f.mode for (f,) in left if f.part != "bar8"} == {HALF_WAY.name}


def test_no_text_can_be_shorter_than_the_smallest_set_needs(saltmere_set, saltmere_text):
    """A second bound: a text must hold a character for every stuck part, as the set does."""
    assert saltmere_text.found.proved
    assert len(saltmere_text.text) >= len(saltmere_set.text)


def test_no_shorter_text_on_the_wind_stamp_shows_as_much_by_trying_all():
    card = smallest_sequence(WIND)
    shown = {f.members for f in card.coverage.certain}
    assert card.found.proved
    for length in range(len(card.text)):
        for text in product(range(4), repeat=length):
            assert {f.members for f in coverage(WIND, text).certain} < shown
    for text in product(range(4), repeat=len(card.text)):
        assert {f.members for f in coverage(WIND, text).certain} <= shown


def test_the_claim_says_how_many_characters_and_what_is_proved(saltmere_text):
    assert saltmere_text.claim.startswith(f"{len(saltmere_text.text)} characters, the fewest")
    assert saltmere_text.found.solver
    fewer = smallest_set(SALTMERE, codes=codes_of("ABC"))
    assert len(fewer.found.unmet) > 0
    assert f"{len(fewer.found.unmet)} faults need other characters" in fewer.claim


# -- the comfortable cards -------------------------------------------------------------------------


def test_the_long_walk_has_every_character_after_every_character():
    card = walk_all_transitions(SALTMERE)
    assert len(card.text) == 56 * 56 + 1
    wanted = set(product(SALTMERE.printing_codes, repeat=2))
    assert set(pairwise(card.text)) == wanted
    assert set(pairwise(card.codes)) > wanted


def test_the_shorter_walk_takes_every_part_from_each_place_to_each_other():
    card = walk_part_transitions(SALTMERE)
    good = [PLAIN.printer.follow(SALTMERE.as_set(code))[0] for code in card.text]
    allowed = [PLAIN.printer.follow(SALTMERE.as_set(code))[0] for code in typeable(SALTMERE)]
    for part in SALTMERE.mechanism.parts:
        if not any(name == part for name, _, _ in part_changes(SALTMERE, typeable(SALTMERE))):
            continue
        places = {stands[part] for stands in allowed}
        walked = {(a[part], b[part]) for a, b in pairwise(good)}
        assert {(a, b) for a, b in product(places, repeat=2) if a != b} <= walked, part
    assert card.coverage.missed == ()
    most = max(
        math.perm(len({stands[part] for stands in allowed}), 2)
        for part in ("lift", "turn", "turn_rack", "lift_rack")
    )
    assert f"fewer than {most + 1} exists" in card.claim
    assert most + 1 < len(card.text) < len(walk_all_transitions(SALTMERE).text)


# -- cards as they are sent ------------------------------------------------------------------------


@given(st.lists(st.sampled_from(codes_of(string.ascii_uppercase)), max_size=40), st.integers(2, 12))
def test_wrapping_loses_no_change_and_ends_every_line(text, width):
    lines = wrapped(SEVEN_UNIT, text, width)
    sent = [code for line in lines for code in line]
    assert set(pairwise(text)) <= set(pairwise(sent))
    assert set(text) <= set(sent)
    assert all(line[-2:] == (13, 10) and 0 < len(line) - 2 <= width for line in lines)
    unwrapped = [code for i, line in enumerate(lines) for code in line[bool(i) : -2]]
    assert unwrapped == text


def test_a_line_too_short_for_a_change_is_refused():
    with pytest.raises(ValueError, match="two characters or more"):
        wrapped(SEVEN_UNIT, codes_of("AB"), 1)


def test_the_bytes_are_the_codes_with_the_parity_of_the_line(saltmere_text):
    assert list(saltmere_text.bytes) == list(saltmere_text.codes)
    for text in [walk_all_transitions(replace(SALTMERE, parity="even"))]:
        assert [byte & 0x7F for byte in text.bytes] == list(text.codes)
        assert all(byte.bit_count() % 2 == 0 for byte in text.bytes)
        assert text.bytes.endswith(b"\x8d\x0a")


def test_the_paper_is_what_carriage_and_feed_make_of_the_prints():
    assert paper(SALTMERE, codes_of("AB\r\nC D\nE\r\n\r\n")) == ("AB", "C D", "   E")
    assert paper(SALTMERE, codes_of("ab\x07c")) == ("ABC",)
    card = walk_all_transitions(SALTMERE)
    assert [line.ljust(64) for line in card.paper[:-1]] == [
        "".join(map(chr, line[:-2])) for line in card.lines[:-1]
    ]


def test_a_card_is_made_of_marks_that_can_be_seen_the_line_feed_and_a_space_without_type():
    assert {SALTMERE.code.name(code) for code in typeable(SALTMERE)} == {
        *map(chr, range(0x28, 0x60)),
        "LF",
        "SP",
    }
    assert typeable(WIND) == (0, 1, 2, 3)


# -- the customary lines ---------------------------------------------------------------------------


def test_the_customary_pairs_alternate_every_bit():
    """R and Y in ITU-T S.1, U and * in ECMA-6; the custom itself: common practice, no source."""
    assert FIVE_UNIT.complement(FIVE_UNIT.code("R")) == FIVE_UNIT.code("Y")
    assert SEVEN_UNIT.complement(SEVEN_UNIT.code("U")) == SEVEN_UNIT.code("*")


def test_the_pangram_has_every_letter():
    assert set(string.ascii_uppercase) <= set(PANGRAM)


def test_the_customary_lines_miss_what_the_smallest_text_shows(saltmere_text):
    rows = {row.name: row for row in customary(SALTMERE, [saltmere_text])}
    own = rows.pop(saltmere_text.title)
    assert own.missed_sluggish == len(own.coverage.missed) == 0
    assert len(rows) == 4
    for row in rows.values():
        assert row.codes[-2:] == (13, 10)
        assert len(row.codes) > len(own.codes)
        assert len(row.coverage.missed) > 0, row.name
        assert row.missed_sluggish > 0, row.name
    names = list(rows)
    assert rows[names[-1]].codes[:-2] == SALTMERE.printing_codes


@pytest.mark.parametrize("seed", range(3))
def test_a_customary_line_truly_misses_what_it_is_said_to_miss(seed):
    """A plain simulator prints the line with the fault, and nobody can tell."""
    rng = random.Random(seed)
    for row in customary(SALTMERE):
        for finding in row.coverage.missed:
            log = PLAIN.type(plain(rng.choice(finding.members)), row.codes, rng)
            assert all(e.printed == SALTMERE.good_print(e.sent) for e in log), finding.why


def test_lines_that_the_code_lacks_are_left_out():
    assert [row.name for row in customary(WIND)] == ["every character once, in order of the code"]


# -- on paper --------------------------------------------------------------------------------------


def lines_on(page):
    """The lines of each text and print that is set in lines, without the groups of five."""
    blocks = re.findall(r"<pre[^>]*>(.*?)</pre>", page.body, re.DOTALL)
    return [unescape(re.sub(r"<[^>]*>", "", block)).split("\n") for block in blocks]


@pytest.mark.parametrize("make", [smallest_set, walk_part_transitions, walk_all_transitions])
def test_a_card_is_printed_with_all_that_it_holds(make):
    card = make(SALTMERE)
    page = card_page(card)
    written = texts(page.body)
    for said in (card.title, card.machine.title, card.claim, card.coverage_as_sent.summary()):
        assert said in written
    if len(card.text) > MOST_ROWS:
        sent, printed = lines_on(page)
        assert [len(line) for line in sent] == [len(line) for line in card.lines]
        assert printed == list(card.paper)
    else:
        heads = re.findall(r'<th scope="row">(.*?)</th>', page.body)
        assert heads == [escape(name) for name in card.names]
        assert written.count("☐") == len(card.text) + 2
    for line in card.coverage_as_sent.report():
        assert line in written


def test_a_text_is_sent_in_groups_of_five():
    card = walk_part_transitions(SALTMERE)
    groups = re.findall(r"<span>(.*?)</span>", card_page(card).body.partition("</pre>")[0])
    assert [len(unescape(group)) for group in groups[:-1]] == [5] * (len(groups) - 1)
    assert 1 <= len(unescape(groups[-1])) <= 5


def test_a_comparison_is_printed_with_the_counts_of_every_line():
    rows = customary(SALTMERE)
    body = comparison_page(SALTMERE, rows).body
    for row in rows:
        counts = [len(row.codes), len(row.coverage.certain), len(row.coverage.possible)]
        told = "".join(f"<td>{count}</td>" for count in (*counts, len(row.coverage.missed)))
        assert f'<tr><th scope="row">{escape(row.name)}</th>{told}</tr>' in body
