"""The record box, as far as Python sees it: thin, safe, and never a traceback."""

import re
from dataclasses import replace
from datetime import date
from html.parser import HTMLParser

import ipywidgets as w
import pytest
from records import HOSTILE
from screens import inside

import mechlogic
from mechlogic.acceptance.testcards import smallest_sequence
from mechlogic.bench.record import CheckMade, actions
from mechlogic.bench.record_file import RecordBook, load_record
from mechlogic.bench.store import Which
from mechlogic.model.logbook import parse_logbook
from mechlogic.widgets.log_bench import LogBench
from mechlogic.widgets.record_box import RecordBox

TODAY = date(2031, 2, 3)
SALTMERE, WIND = mechlogic.load("saltmere"), mechlogic.load("wind")


class Desk:
    """A restorer at the box: fills in what has a hint or a name, and presses buttons."""

    def __init__(self, folder, bench=None, machine=SALTMERE, box=None):
        self.box = box or RecordBox(machine, folder, bench, today=lambda: TODAY)

    def _find(self, kind, said):
        for widget in inside(self.box):
            names = (getattr(widget, "placeholder", ""), getattr(widget, "description", ""))
            if isinstance(widget, kind) and said in names:
                yield widget

    def fill(self, said, value):
        next(self._find(w.ValueWidget, said)).value = value

    def holds(self, said):
        return next(self._find(w.ValueWidget, said)).value

    def press(self, button, number=0):
        list(self._find(w.Button, button))[number].click()
        return self.says

    @property
    def says(self):
        return re.sub(r"<[^>]*>", "", self.box._said.value)

    def start(self, name="Cold mornings"):
        self.fill("What the repair is about", name)
        return self.press("Start a new record")


WRITE = "Write it down"
CHECK, FOUND, REMEDY, ACCEPTANCE, NOTE = range(5)


@pytest.fixture
def desk(tmp_path):
    desk = Desk(tmp_path / "records")
    desk.start()
    return desk


def kept(desk):
    return load_record(desk.box.book.path)


def test_nothing_is_written_before_a_record_is_begun(tmp_path):
    desk = Desk(tmp_path / "records")
    assert not (tmp_path / "records").exists()
    assert "No record is open" in desk.press(WRITE, NOTE)
    assert "No record is chosen" in desk.press("Open")
    assert "give the repair a name" in desk.press("Start a new record")


def test_a_box_left_open_overnight_writes_the_new_day_unless_one_was_chosen(tmp_path):
    days = [TODAY]
    desk = Desk(tmp_path, box=RecordBox(SALTMERE, tmp_path, today=lambda: days[-1]))
    desk.start()
    for chosen in (None, None, date(2031, 1, 9)):
        if chosen:
            desk.fill("Day", chosen)
        desk.fill("Anything else", "a note")
        desk.press(WRITE, NOTE)
        days.append(days[-1].replace(day=days[-1].day + 1))
    written = [note.on for note in kept(desk).notes]
    assert written == [TODAY, date(2031, 2, 4), date(2031, 1, 9)]


def test_every_entry_is_on_the_disk_at_once(desk):
    assert kept(desk).repair == "Cold mornings"
    desk.fill("Done", "turned by hand")
    desk.fill("What came of it", "all right")
    desk.fill("Minutes", 2.5)
    assert "Saved in cold-mornings.json" in desk.press(WRITE, CHECK)
    assert kept(desk).checks[0].outcome == "all right"
    assert kept(desk).minutes == 2.5
    desk.fill("Part", "middle_stop")
    fault = next(each for each in next(desk._find(w.Dropdown, "is")).options if "return" in each[0])
    desk.fill("is", fault[1])
    desk.press(WRITE, FOUND)
    assert str(kept(desk).findings[0].faults[0]) == "middle_stop slow to return"
    desk.fill("What was done about it", "cleaned")
    desk.press(WRITE, REMEDY)
    desk.fill("The text that was sent", "TIDE 0412")
    assert "type what stands on the paper" in desk.press(WRITE, ACCEPTANCE)
    desk.fill("What stands on the paper, line by line", "TYDE 0412")
    desk.press(WRITE, ACCEPTANCE)
    desk.fill("Anything else", "once more tomorrow")
    desk.press(WRITE, NOTE)
    desk.press("Close the record today")
    record = kept(desk)
    assert record == desk.box.book.record
    assert [each.text for each in (*record.remedies, *record.notes)] == [
        "cleaned",
        "once more tomorrow",
    ]
    assert record.acceptances[0].result == "failed"
    assert record.closed == TODAY
    assert desk.holds("Anything else") == ""


def test_what_cannot_be_written_down_stays_in_its_box(desk):
    assert "say what was found" in desk.press(WRITE, FOUND)
    desk.fill("Anything else", "x" * 6000)
    assert "shorten it" in desk.press(WRITE, NOTE)
    assert desk.holds("Anything else") == "x" * 6000
    desk.fill("Day", None)
    desk.fill("Anything else", "x")
    assert "There is no day" in desk.press(WRITE, NOTE)
    assert kept(desk).notes == ()


def test_a_record_is_opened_again_by_another_box(desk):
    desk.fill("Anything else", "once more tomorrow")
    desk.press(WRITE, NOTE)
    other = Desk(desk.box.folder)
    other.fill("Records", desk.box.book.path)
    assert "is open" in other.press("Open")
    assert other.box.book.record == desk.box.book.record
    assert "once more tomorrow" in other.box._page.value


def test_a_second_record_of_the_same_name_does_not_replace_the_first(desk):
    desk.fill("Anything else", "keep me")
    desk.press(WRITE, NOTE)
    assert "such a file already" in desk.start()
    assert kept(desk).notes[0].text == "keep me"


def test_two_boxes_with_one_record_keep_both_and_go_on(desk):
    other = Desk(desk.box.folder)
    other.fill("Records", desk.box.book.path)
    other.press("Open")
    for number, each in enumerate((desk, other)):
        each.fill("Anything else", f"note {number}")
        each.press(WRITE, NOTE)
    assert "somebody else has saved this record" in other.says
    assert "Nothing is lost" in other.says
    assert kept(desk).notes[0].text == "note 0"
    assert kept(other).notes[0].text == "note 1"
    assert other.box.book.path.name == "cold-mornings-2.json"
    assert other.holds("Anything else") == ""
    assert other.holds("Records") == other.box.book.path
    other.fill("Anything else", "and on")
    assert "Saved in cold-mornings-2.json" in other.press(WRITE, NOTE)


def test_the_log_and_its_suspects_come_from_the_bench(tmp_path):
    bench = LogBench(SALTMERE, [], storage=None)
    bench.show(parse_logbook("sent,printed\nT,T\nG,U\n"))
    desk = Desk(tmp_path, bench)
    desk.start()
    copy = "Copy the log and its suspects"
    desk.press(copy)
    assert [entry.printed for entry in kept(desk).entries] == ["T", "U"]
    assert kept(desk).last_suspects
    assert "no entry that the record lacks" in desk.press(copy)
    bench.show(bench.logbook.adding(bench.logbook.entries[0]))
    desk.press(copy)
    assert [entry.printed for entry in kept(desk).entries] == ["T", "U", "T"]
    assert {one.entries for one in kept(desk).suspects} == {2, 3}


def test_reports_are_written_beside_the_record(desk, a_browser):
    assert "cold-mornings.html" in desk.press("Report as a web page")
    assert "cold-mornings.pdf" in desk.press("Report as PDF")
    names = sorted(path.name for path in desk.box.folder.iterdir())
    assert names == ["cold-mornings.html", "cold-mornings.json", "cold-mornings.pdf"]


def test_without_a_browser_a_pdf_is_refused_and_the_page_is_offered(desk, monkeypatch):
    monkeypatch.setenv("MECHLOGIC_CHROMIUM", "no-such-program")
    desk.start()
    assert "open that in any browser and print it there" in desk.press("Report as PDF")
    assert [path.suffix for path in desk.box.folder.iterdir()] == [".json"]


def test_a_machine_with_a_code_of_its_own_keeps_a_record_too(tmp_path, a_browser):
    bench = LogBench(WIND, [], storage=None)
    bench.show(parse_logbook("sent,printed\nN,N\nE,N\n", code=WIND.code))
    desk = Desk(tmp_path, bench, WIND)
    assert "is begun" in desk.start()
    desk.press("Copy the log and its suspects")
    assert [entry.printed for entry in kept(desk).entries] == ["N", "N"]
    assert kept(desk).code == WIND.code
    assert "cold-mornings.pdf" in desk.press("Report as PDF")
    again = Desk(tmp_path, bench, WIND)
    again.fill("Records", desk.box.book.path)
    assert "is open" in again.press("Open")
    assert "no entry that the record lacks" in again.press("Copy the log and its suspects")


def test_what_a_check_consists_in_comes_from_the_machine(tmp_path):
    only_lid = replace(WIND, efforts={"lid": 1, **WIND.efforts})
    assert actions(SALTMERE) == (
        "typed",
        "turned by hand",
        "looked with the cover off",
        "looked with the head off",
        "oiled",
        "other",
    )
    assert actions(only_lid) == actions(WIND)  # nothing is behind the lid
    assert CheckMade(TODAY, "looked with the lid off").done == "looked with the lid off"
    with pytest.raises(ValueError, match="none of typed"):
        CheckMade(TODAY, "looked out of the window")


def test_minutes_are_reported_where_they_were_given_and_not_otherwise(desk):
    desk.fill("What came of it", "as before")
    desk.press(WRITE, CHECK)
    assert "min" not in re.sub("<[^>]*>", " ", desk.box._page.value).split()
    desk.fill("What came of it", "as before")
    desk.fill("Minutes", 5)
    desk.press(WRITE, CHECK)
    assert "5 min" in desk.box._page.value


def test_reports_come_before_the_closing(desk):
    words = [button.description for button in inside(desk.box) if isinstance(button, w.Button)]
    assert words.index("Report as PDF") < words.index("Close the record today")


def test_a_spoilt_file_is_explained_and_the_open_record_kept(desk):
    bad = desk.box.folder / "bad.json"
    bad.write_text('{"format": "mechlogic repair record 9"}', encoding="utf-8")
    was = desk.box.book
    desk.start("Other")
    desk.fill("Records", bad)
    assert "newer than version 1" in desk.press("Open")
    assert desk.box.book.record.repair == "Other"
    assert RecordBook(was.path).record == was.record


def test_a_folder_that_cannot_be_made_is_explained(tmp_path):
    (tmp_path / "file").touch()
    desk = Desk(tmp_path / "file" / "records")
    assert "Check the name and the folder" in desk.start()
    assert desk.holds("What the repair is about") == "Cold mornings"


class Tags(HTMLParser):
    def __init__(self, text):
        super().__init__()
        self.seen, self.names = set(), set()
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        self.seen.add(tag)
        self.names |= {name for name, _ in attrs}


def test_hostile_texts_make_no_tags(desk):
    for hostile in HOSTILE:
        desk.fill("Anything else", hostile)
        desk.press(WRITE, NOTE)
        assert kept(desk).notes[-1].text == hostile
        for page in (desk.box._page, desk.box._said):
            assert_harmless(page.value)
    for hostile in HOSTILE:  # some make a name for a repair, the others an error to be shown
        desk.start(hostile.replace("\n", " "))
        for page in (desk.box._page, desk.box._said):
            assert_harmless(page.value)


def assert_harmless(html):
    tags = Tags(html)
    assert not tags.seen & {"script", "img", "svg", "a", "iframe", "style"}
    assert not any(name.startswith("on") for name in tags.names)


def test_an_entry_is_corrected_by_a_later_one_and_both_are_kept(desk):
    for number, words in enumerate(("cleaned", "cleaned and oiled")):
        desk.fill("What was done about it", words)
        list(desk._find(w.Dropdown, "This is"))[REMEDY].value = number
        desk.press(WRITE, REMEDY)
    assert [(each.text, each.corrects) for each in kept(desk).remedies] == [
        ("cleaned", 0),
        ("cleaned and oiled", 1),
    ]
    assert list(desk._find(w.Dropdown, "This is"))[REMEDY].value == 0


@pytest.mark.parametrize("machine", [WIND, SALTMERE], ids=["wind", "saltmere"])
def test_the_acceptance_text_passes_or_fails_by_what_was_printed_and_goes_on_as_a_log(
    tmp_path, machine
):
    bench = LogBench(machine, [], storage=None)
    desk = Desk(tmp_path, bench, machine)
    desk.start()
    desk.press("Put the acceptance text in")
    text = desk.holds("The text that was sent")
    paper = "\n".join(smallest_sequence(machine).paper)
    desk.fill("What stands on the paper, line by line", paper)
    desk.press(WRITE, ACCEPTANCE)
    assert len(bench.logbook) == 0
    desk.fill("The text that was sent", text)
    desk.fill("What stands on the paper, line by line", paper[:-1] + "E")
    desk.press(WRITE, ACCEPTANCE)
    assert [each.result for each in kept(desk).acceptances] == ["passed", "failed"]
    assert bench.diagnosis.evidence.misprints.bit_count() == 1
    assert bench.logbook.entries[0].gap == "yes"


def test_two_machines_of_one_kind_have_records_of_their_own(tmp_path):
    for serial in ("17", "18", ""):
        which = Which("saltmere", serial)
        box = RecordBox(SALTMERE, tmp_path, today=lambda: TODAY, which=which)
        desk = Desk(tmp_path, box=box)
        assert len(box._chooser.options) == 1  # none of the others' is offered
        desk.start(f"Repair of {serial}")
        assert kept(desk).machine.serial == serial
        assert [path.name for _, path in box._chooser.options[1:]] == [box.book.path.name]
