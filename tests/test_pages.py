"""Pieces of HTML: what they say, and that nothing a person wrote can act in them."""

from html.parser import HTMLParser
from pathlib import Path

import pytest

import mechlogic
from mechlogic import Entry, Fault, Logbook, diagnose, judge, next_check, pages
from mechlogic.checks import options
from mechlogic.diagnosis import usual_hypotheses
from mechlogic.evidence import Evidence

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
        assert pages.percent(suspect.probability) in text
        for member in suspect.members:
            assert pages.hypothesis_label(SALTMERE, member) in text
    assert "misprint" in text and "Take care" in text


def test_the_summary_counts_entries_misprints_and_suspects():
    text = Seen(pages.log_summary(diagnose(SALTMERE, log("three_letters")))).text
    assert text == "3 entries, 1 misprint. 6 suspects explain every entry."


def test_a_log_that_nothing_explains_says_which_entries_cannot_stand_together():
    entries = Logbook(tuple(Entry(ord("A"), p, gap=True) for p in "BQ_"))
    diagnosis = diagnose(SALTMERE, entries)
    assert not diagnosis.suspects
    text = Seen(pages.log_summary(diagnosis)).text
    assert "cannot" in text and "misread" in text


def test_advice_names_the_characters_to_type():
    diagnosis = diagnose(SALTMERE, log("three_letters"))
    check = next_check(diagnosis)
    text = Seen(pages.advice(diagnosis, check)).text
    assert f"Type {SALTMERE.code.name(check.codes[0])} next" in text


def test_the_table_of_checks_says_what_each_costs_and_brings():
    diagnosis = diagnose(SALTMERE, log("three_letters"), usual_hypotheses(SALTMERE))
    found = options(diagnosis)
    text = Seen(pages.options_table(found)).text
    for option in found:
        assert option.what in text
        assert f"{option.gain:.2f} bits" in text


def test_a_verdict_lists_what_contradicts_it():
    entries = log("cold_morning")
    verdict = judge(SALTMERE, entries, [Fault("left_stop", "slow to return")])
    text = Seen(pages.verdict(SALTMERE, Evidence(SALTMERE, entries), verdict)).text
    assert "cannot be the whole truth" in text
    assert str(verdict.contradictions[0] + 1) in text


@pytest.mark.parametrize(
    ("probability", "said"), [(0.999, "> 99 %"), (0.001, "< 1 %"), (0.5, "50 %"), (0.29, "29 %")]
)
def test_a_probability_is_said_as_a_person_would(probability: float, said: str):
    assert pages.percent(probability) == said


def test_the_wheel_map_marks_what_printed_right_and_what_did_not():
    text = Seen(pages.wheel_map(Evidence(SALTMERE, log("three_letters")))).text
    assert "T✓" in text and "G✗ U" in text
