"""Pieces of HTML: what they say, and that nothing a person wrote can act in them."""

import re
from html.parser import HTMLParser
from pathlib import Path

import pytest

import mechlogic
from mechlogic import Entry, Fault, Logbook, diagnose, judge, next_check
from mechlogic.bench import pages
from mechlogic.bench.checks import options
from mechlogic.bench.diagnosis import classes, usual_hypotheses
from mechlogic.bench.evidence import Evidence
from mechlogic.explaining.words import believed, percent

SALTMERE = mechlogic.load("saltmere")
LOGS = Path(__file__).parents[1] / "workbooks" / "logs"
HOSTILE = "<script>alert(1)</script><img src=x onerror=alert(2)> $\\LaTeX$ & \"'"


class Seen(HTMLParser):
    def __init__(self, html: str):
        super().__init__()
        self.tags: list[str] = []
        self.attributes: list[str] = []
        self.text = ""
        self.feed(html)

    def handle_starttag(self, tag, attributes):
        self.tags.append(tag)
        self.attributes += [name for name, _ in attributes]

    def handle_data(self, data):
        self.text += data


def log(name: str) -> Logbook:
    return mechlogic.read_logbook(LOGS / f"{name}.csv")


def test_a_hostile_note_is_shown_as_text_and_nothing_else():
    entries = Logbook((Entry(ord("A"), "B", note=HOSTILE), Entry(ord("<"), "&")))
    seen = Seen(pages.log_strip(Evidence(SALTMERE, entries)))
    assert set(seen.tags) <= {"div", "span", "b"}
    assert not any(name.startswith("on") for name in seen.attributes)
    assert "<" in seen.text and "&" in seen.text


def test_a_hostile_problem_is_shown_as_text():
    seen = Seen(pages.problem_list([HOSTILE]))
    assert set(seen.tags) == {"div", "p", "ul", "li"}
    assert HOSTILE in seen.text


@pytest.mark.parametrize("name", ["cold_morning", "three_letters", "comes_and_goes"])
def test_every_suspect_shown_at_first_has_its_name_its_share_and_its_story(name: str):
    diagnosis = diagnose(SALTMERE, log(name))
    text = Seen(pages.suspect_list(diagnosis)).text
    for suspect in diagnosis.suspects[: pages.SHOWN_AT_FIRST]:
        assert believed(suspect.probability) in text
        for member in suspect.members:
            assert pages.hypothesis_label(SALTMERE, member) in text
    assert "misprint" in text and "Take care" in text


def test_the_summary_counts_entries_misprints_and_suspects():
    text = Seen(pages.log_summary(diagnose(SALTMERE, log("three_letters")))).text
    assert text == "3 entries, 1 misprint. 6 suspects explain every entry."


def test_a_log_that_nothing_explains_says_which_entries_cannot_stand_together():
    entries = Logbook(tuple(Entry(ord("A"), p, gap="yes") for p in "BQ_"))
    diagnosis = diagnose(SALTMERE, entries)
    assert not diagnosis.suspects
    text = Seen(pages.log_summary(diagnosis)).text
    assert "cannot" in text and "misread" in text


def test_where_typing_tells_no_more_and_the_list_is_hardly_enough_the_machine_is_looked_at():
    pairs = zip("ABCDEFGHJ", "ZBYDXFWHV", strict=True)
    entries = Logbook(tuple(Entry(ord(sent), printed) for sent, printed in pairs))
    diagnosis = diagnose(SALTMERE, entries)
    assert diagnosis.enough < 0.5
    text = Seen(pages.advice(diagnosis, None)).text
    assert "Next: look at the machine" in text and "not on the list" in text
    assert "Unplug" in text and "No misprint is left" not in text


def test_advice_names_the_characters_to_type():
    diagnosis = diagnose(SALTMERE, log("three_letters"))
    check = next_check(diagnosis)
    text = Seen(pages.advice(diagnosis, check)).text
    assert f"Next: type {SALTMERE.code.name(check.codes[0])}" in text
    assert text.count("%") > 1 and "bits" not in text


def test_advice_table_and_verdict_say_the_same_of_what_to_type():
    diagnosis = diagnose(SALTMERE, log("three_letters"))
    options_say = next(option.what for option in options(diagnosis) if option.kind == "type")
    rivals = diagnosis.suspects[0].members[0]
    verdict = judge(SALTMERE, log("three_letters"), rivals)
    decides = pages.verdict(SALTMERE, diagnosis.evidence, verdict)
    assert "at speed, straight after the last entry." in options_say
    assert "at speed, straight after the last entry." in Seen(decides).text
    check = next_check(diagnosis)
    assert options_say.removeprefix("Type ") in Seen(pages.advice(diagnosis, check)).text


def test_a_settled_verdict_names_the_whole_class_and_the_cautions():
    """The members of one class: only a look tells them apart."""
    members = next(c for c in classes(SALTMERE) if (Fault("near_plate", "stuck at rest"),) in c)
    diagnosis = diagnose(SALTMERE, Logbook((Entry(ord("A"), "A"),)), members)
    text = Seen(pages.advice(diagnosis, next_check(diagnosis), options(diagnosis))).text
    assert "look at this part" in text
    assert f"or {len(members) - 1} more that print alike" in text
    assert "Unplug the machine" in text


def test_where_typing_would_not_tell_the_best_other_check_is_named_with_its_cautions():
    diagnosis = diagnose(SALTMERE, log("three_letters"))
    others = [option for option in options(diagnosis) if option.kind != "type"]
    text = Seen(pages.advice(diagnosis, None, options(diagnosis))).text
    assert f"Next: {others[0].what[0].lower()}{others[0].what[1:]}" in text
    assert percent(others[0].share) in text
    assert "Unplug the machine" in text
    assert "look at the parts named below" in Seen(pages.advice(diagnosis, None)).text


@pytest.mark.parametrize("misreadings", [0, 1, 2])
def test_what_was_searched_names_its_bounds(misreadings: int):
    diagnosis = diagnose(SALTMERE, log("three_letters"))
    said = Seen(pages.searched(diagnosis, 2, misreadings)).text
    assert "every set of at most two faults" in said
    counted = ("no misread entry", "up to 1 misread entry", "up to 2 misread entries")
    assert f"counting {counted[misreadings]}" in said


def test_a_likeliest_suspect_that_needs_more_misreadings_than_were_counted_is_pointed_out():
    entries = Logbook(tuple(Entry(ord("A"), p, gap="yes") for p in "BQ_"))
    diagnosis = diagnose(SALTMERE, entries)
    needed = len(diagnosis.ranked[0].misfits)
    assert needed > 0
    assert "allow for more" in Seen(pages.searched(diagnosis, 2, needed - 1)).text
    assert "allow for more" not in Seen(pages.searched(diagnosis, 2, needed)).text


def test_the_table_of_checks_says_what_each_costs_and_brings():
    diagnosis = diagnose(SALTMERE, log("three_letters"), usual_hypotheses(SALTMERE))
    found = options(diagnosis)
    text = Seen(pages.options_table(found)).text
    for option in found:
        assert option.what in text
        assert percent(option.share) in text
    assert "bits" not in text and "Unplug the machine" in text


def test_a_verdict_lists_what_contradicts_it():
    entries = log("cold_morning")
    verdict = judge(SALTMERE, entries, [Fault("left_stop", "slow to return")])
    text = Seen(pages.verdict(SALTMERE, Evidence(SALTMERE, entries), verdict)).text
    assert "cannot be the whole truth" in text
    assert str(verdict.contradictions[0] + 1) in text


def test_the_wheel_map_marks_what_printed_right_and_what_did_not():
    text = Seen(pages.wheel_map(Evidence(SALTMERE, log("three_letters")))).text
    assert "S✓" in text and "T✗ Q" in text


def test_the_map_of_typebars_knows_letters_from_figures_and_functions():
    ebbing = mechlogic.load("ebbing")
    codes = map(ebbing.code.parse, ("T", "W", "FIGS", "T", "W", "J", "CR"))
    prints = ("T", "W", "nothing", "5", "W", "BEL", "CR")
    entries = Logbook(tuple(map(Entry, codes, prints)), ebbing.code)
    html = pages.wheel_map(Evidence(ebbing, entries))
    marks = dict(re.findall(r"<td class=[^>]*>([^<]+)<small>([^<]*)</small>", html))
    assert {glyph: mark for glyph, mark in marks.items() if mark.strip()} == {
        **dict.fromkeys(("T", "W", "5", "BEL", "CR"), "✓"),
        "2": "✗ W",
    }


def test_the_wheel_map_has_one_sign_for_a_character_that_printed_right_only_at_times():
    entries = Logbook((Entry(ord("A"), "A"), Entry(ord("A"), "@"), Entry(ord("B"), "B")))
    table = pages.wheel_map(Evidence(SALTMERE, entries))
    cells = dict(re.findall(r"<td[^>]*>([^<]+)<small>([^<]*)</small>", table))
    assert cells["A"] == "◐ @"
    assert cells["B"].strip() == "✓"
    assert cells["C"].strip() == ""
