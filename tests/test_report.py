"""One page for the club's files: all that fits, and honest about what does not."""

import re
from dataclasses import replace
from datetime import date
from html.parser import HTMLParser
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from records import HOSTILE, records

import mechlogic
from mechlogic.bench.record import Acceptance, CheckMade, Finding, Note, Record, Suspicion
from mechlogic.bench.report import SHORTENED, fitted, one_page, report_of, report_page
from mechlogic.model.codes import FIVE_UNIT, SEVEN_UNIT
from mechlogic.model.faults import SAFE_TO_LOOK, SAFE_TO_OIL, SAFE_TO_WIRE, Fault
from mechlogic.model.logbook import Entry

very_few = settings(max_examples=settings().max_examples // 8)  # every example is a whole page

TODAY = date(2031, 2, 3)
SALTMERE = mechlogic.load("saltmere")
LOGS = Path(mechlogic.__file__).parents[1] / "workbooks" / "logs"
NEW = Record.opening(SALTMERE, "Misprints on cold mornings", TODAY, "R. Pell")
COLD = replace(
    NEW,
    entries=mechlogic.read_logbook(LOGS / "cold_morning.csv").entries,
    suspects=(Suspicion(TODAY, 40, "middle stop lever: slow to return", "> 99 %"),),
    checks=(
        CheckMade(TODAY, "typed", "Type D then H", "X was printed", 0.4),
        CheckMade(TODAY, "looked with the head off", "", "brown oil", 120),
    ),
    findings=(Finding(TODAY, (Fault("middle_stop", "slow to return"),), "spring sound"),),
    remedies=(Note(TODAY, "Cleaned, two drops of oil."),),
    acceptances=(Acceptance(TODAY, "TIDE 0412", "passed", "three times"),),
    notes=(Note(TODAY, "Look again next winter."),),
)
LONG = replace(
    COLD,
    repair="A repair that went on and on " * 10,
    restorer="all hands " * 29,
    entries=COLD.entries * 100,
    checks=tuple(
        CheckMade(TODAY, "looked with the cover off", "W" * 20 * i, "word " * i, 1.5)
        for i in range(200)
    ),
    findings=tuple(Finding(TODAY, (), f"finding {i} {'漢字' * i}") for i in range(80)),
    remedies=tuple(Note(TODAY, f"remedy {i} " + "x" * 4000) for i in range(80)),
    acceptances=tuple(Acceptance(TODAY, "THE TIDE " * 900, "failed", "R") for _ in range(80)),
    notes=tuple(Note(TODAY, f"note {i}") for i in range(80)),
    suspects=tuple(Suspicion(TODAY, 9, f"suspect {i}", "1 %") for i in range(80)),
)


def of_saltmere(record):
    return replace(record, machine=NEW.machine)


class Page(HTMLParser):
    """Tags, attributes and text of a page, as Python's own parser finds them."""

    def __init__(self, text):
        super().__init__()
        self.tags, self.attributes, self.texts, self.lines = [], [], [], []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += [(tag, name, value) for name, value in attrs]

    def handle_data(self, data):
        self.texts.append(data)

    @property
    def text(self):
        return "".join(self.texts)


def report_html(*given):
    return report_page(*given).html


# --- What it says ---


def test_everything_in_a_short_record_is_on_the_page():
    page = Page(report_html(COLD, SALTMERE, "cold.json")).text
    for said in (
        "Misprints on cold mornings",
        "Saltmere type-wheel page printer",
        "R. Pell",
        "2031-02-03",
        "still open",
        "40 entries, 7 misprints; 3 entries have notes.",
        "> 99 %",
        "middle stop lever: slow to return",
        "Advised: Type D then H → X was printed",
        "0.4 min",
        "In all 120.4 min.",
        "middle stop lever: slow to return. spring sound",
        "Cleaned, two drops of oil.",
        "“TIDE 0412” – three times",
        "Look again next winter.",
    ):
        assert said in page
    assert "The whole record: cold.json" in page
    assert SHORTENED not in page
    assert "in the record file" not in page


def test_the_log_s_misprints_are_marked():
    report = report_of(COLD, SALTMERE)
    # In this log every character that is sent prints itself on a good machine; a space, nothing.
    wrong = [e.printed != {32: "nothing"}.get(e.sent, chr(e.sent)) for e in COLD.entries]
    assert [cell.wrong for cell in report.cells] == wrong
    assert sum(wrong) == 7
    assert report_html(COLD, SALTMERE).count('class="mr-wrong') == 7
    assert [i for i, cell in enumerate(report.cells) if cell.gap] == [18, 37]
    assert [i for i, cell in enumerate(report.cells) if cell.hand] == [37, 38, 39]


def test_an_empty_record_is_a_page_that_says_so():
    page = Page(report_html(NEW, SALTMERE)).text
    assert page.count("Nothing written down.") == 6
    assert "No log was kept." in page


def test_the_cautions_go_with_what_was_found():
    bare = report_of(NEW, SALTMERE).cautions
    assert SAFE_TO_LOOK in bare and SAFE_TO_WIRE in bare and SAFE_TO_OIL not in bare
    oiled = NEW.adding_check(CheckMade(TODAY, "oiled", outcome="it runs"))
    assert SAFE_TO_OIL in report_of(oiled, SALTMERE).cautions
    assert SAFE_TO_OIL in report_of(COLD, SALTMERE).cautions


def test_a_machine_that_is_described_otherwise_now_is_pointed_out():
    assert "Mind" not in dict(report_of(COLD, SALTMERE).facts)
    changed = replace(COLD, machine=replace(COLD.machine, digest="sha256:0"))
    assert "has been changed" in dict(report_of(changed, SALTMERE).facts)["Mind"]
    with pytest.raises(ValueError, match="five-unit"):
        report_of(replace(NEW, code=FIVE_UNIT), SALTMERE)


# --- What is left out ---


def numbers(text, words):
    """The number that stands before some words in a text; 0 if they do not occur."""
    found = re.search(rf"(\d+) {words}", text)
    return int(found[1]) if found else 0


@very_few
@given(records([SEVEN_UNIT], most=15).map(of_saltmere), st.integers(0, 12), st.integers(20, 70))
def test_what_is_shown_and_what_is_said_to_be_left_out_come_to_all_there_is(record, times, room):
    record = replace(record, entries=record.entries * times)

    def fits(shorter):
        rows = [row for section in shorter.sections for row in section.rows]
        return len(shorter.cells) / 10 + len(rows) + sum(len(r.text) for r in rows) / 80 <= room

    whole = report_of(record, SALTMERE)
    report = fitted(whole, fits)
    entries = len(report.cells) + numbers(report.log_note, "more entr")
    assert entries == len(record.entries)
    hidden = whole.cells[len(report.cells) :]
    assert numbers(report.log_note, "misprints? among") == sum(cell.wrong for cell in hidden)
    for section, full in zip(report.sections, whole.sections, strict=True):
        left_out = numbers(section.note, "(earlier|less likely) in the record file")
        assert len(section.rows) + left_out == len(full.rows)
        n = len(section.rows)
        kept = full.rows[-n:] if full.newest else full.rows[:n]
        for row, longer in zip(section.rows, kept if n else (), strict=True):
            if row.text != longer.text:
                assert row.text.endswith(SHORTENED)
                assert longer.text.startswith(row.text.removesuffix(SHORTENED))


def test_a_long_record_is_cut_to_a_page_and_the_newest_is_kept():
    texts = Page(report_html(LONG, SALTMERE)).text
    assert "note 79" in texts
    assert "finding 79" in texts
    assert "note 0 " not in texts
    assert "suspect 0" in texts
    assert "In all 300 min. " in texts
    assert SHORTENED in texts
    assert re.search(r"4000 entries, 700 misprints; 300 entries have notes\. \d+ more", texts)


# --- As a web page ---

ALLOWED = set(
    "html head meta title style body main article header p h1 h2 dl div dt dd section small table "
    "tr td b i span bdi footer".split()
)


def benign(text):
    return "x" if text.strip() else ""


def made_harmless(record):
    """The same record with an x for every text; only the shape is left."""
    return replace(
        record,
        repair="x",
        restorer="x",
        entries=tuple(replace(e, note=benign(e.note)) for e in record.entries),
        suspects=tuple(replace(s, label="x", probability="x") for s in record.suspects),
        checks=tuple(
            replace(c, advised=benign(c.advised), outcome=benign(c.outcome)) for c in record.checks
        ),
        findings=tuple(replace(f, text="x") for f in record.findings),
        remedies=tuple(replace(r, text="x") for r in record.remedies),
        acceptances=tuple(replace(a, sent="x", remark="x") for a in record.acceptances),
        notes=tuple(replace(n, text="x") for n in record.notes),
    )


@very_few
@given(records([SEVEN_UNIT], most=2).map(of_saltmere))
def test_no_text_can_add_a_tag_or_an_attribute_to_the_page(record):
    page = Page(report_html(record, SALTMERE, "cold.json"))
    same = Page(report_html(made_harmless(record), SALTMERE, "cold.json"))
    assert page.tags == same.tags
    assert set(page.tags) <= ALLOWED
    quiet = [(t, n) for t, n, _ in page.attributes]
    assert quiet == [(t, n) for t, n, _ in same.attributes]
    assert not any(name.startswith("on") or name in ("src", "href") for _, name in quiet)


@pytest.mark.parametrize("hostile", HOSTILE)
def test_hostile_texts_are_shown_as_they_were_written(hostile):
    record = NEW.adding_note(Note(TODAY, hostile))
    shown = "".join(
        "\ufffd" if c in "\x00\x07\x1b\x7f\u202e\u202c\u2066\u2069" else c for c in hostile
    )
    shown = " ".join(shown.replace("\x85", " ").split())
    assert shown in Page(report_html(record, SALTMERE)).text


def test_the_page_fetches_nothing_and_allows_nothing():
    html = report_html(COLD, SALTMERE)
    assert "default-src 'none'" in html
    assert not re.search(r"https?:|url\(|@import|<script|<link|<img", html)


def test_the_log_on_the_page_is_that_of_the_record():
    odd = (Entry(127, "nothing"), Entry(13, "unreadable"), Entry(60, "&"), Entry(32, " "))
    cells = one_page(report_of(replace(NEW, entries=odd), SALTMERE)).cells
    assert [(cell.sent, cell.printed) for cell in cells] == [
        ("DEL", "␣"),
        ("CR", "▒"),
        ("<", "&"),
        ("SP", "␣"),
    ]
