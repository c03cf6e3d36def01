"""Records: nothing lost, nothing guessed, whatever happens to the program or the disk."""

import json
import os
import re
import subprocess
import sys
import threading
from dataclasses import fields, replace
from datetime import date
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from records import checks, findings, notes, records
from strategies import few

import mechlogic
from mechlogic import machines
from mechlogic.bench.record import (
    MAX_ITEMS,
    MAX_TEXT,
    Acceptance,
    CheckMade,
    Finding,
    MachineNamed,
    Note,
    Record,
    Suspicion,
    digest_of,
    standing,
    suspicions,
)
from mechlogic.bench.record_file import (
    FORMAT,
    MAX_BYTES,
    RecordBook,
    RecordConflict,
    RecordError,
    decode_record,
    file_name,
    format_record,
    histories,
    load_record,
    parse_record,
)
from mechlogic.describing import description
from mechlogic.helpers import safe_file
from mechlogic.helpers.json_lines import lines_of
from mechlogic.model.codes import FIVE_UNIT
from mechlogic.model.faults import Fault
from mechlogic.model.logbook import Entry, Logbook

TODAY = date(2031, 2, 3)
SALTMERE = MachineNamed("saltmere", "Saltmere printer", "sha256:0")
NEW = Record(SALTMERE, "Misprints on cold mornings", TODAY)
FULL = replace(
    NEW,
    closed=date(2031, 2, 5),
    restorer="R. Pell",
    entries=(Entry(84, "T"), Entry(73, "Y", "hand", "cold", "top", "yes", "late again")),
    suspects=(Suspicion(TODAY, 2, "slide 2: slow to return", "78 %"),),
    checks=(CheckMade(TODAY, "typed", "Type I", "Y was printed", 0.2),),
    findings=(Finding(TODAY, (Fault("slide2", "slow to return"),), "brown oil"),),
    remedies=(Note(TODAY, "cleaned and oiled"),),
    acceptances=(Acceptance(TODAY, "TIDE 0412", "passed", "twice"),),
    notes=(Note(TODAY, "look again next winter"),),
)
TEXT = format_record(FULL)


# --- What a record is ---


@few
@given(records(), checks, findings, notes)
def test_adding_to_a_record_keeps_all_that_it_had(record, check, finding, note):
    check = replace(check, outcome=f"A came, {check.outcome}")
    added = {
        "checks": record.adding_check(check),
        "findings": record.adding_finding(finding),
        "remedies": record.adding_remedy(note),
        "notes": record.adding_note(note),
    }
    for name, longer in added.items():
        assert getattr(longer, name)[:-1] == getattr(record, name)
        others = [each.name for each in fields(Record) if each.name != name]
        assert all(getattr(longer, other) == getattr(record, other) for other in others)


def test_an_entry_is_of_the_code_of_its_machine():
    record = Record.opening(mechlogic.load("ebbing"), "First frost", date(2031, 2, 3))
    with pytest.raises(ValueError, match="100 is not in the five-unit code"):
        replace(record, entries=(Entry(100, "A"),))


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: replace(NEW, repair=" "), "give the repair a name"),
        (lambda: replace(NEW, repair="a\nb"), "one line"),
        (lambda: replace(NEW, closed=date(2031, 2, 2)), "before the day it began"),
        (lambda: replace(NEW, notes=(Note(TODAY, "x"),) * (MAX_ITEMS + 1)), "second record"),
        (lambda: Note(TODAY, ""), "write something"),
        (lambda: Note(TODAY, "x" * (MAX_TEXT + 1)), "shorten"),
        (lambda: Note(TODAY, "\ud800"), "half a character"),
        (lambda: CheckMade(TODAY, "kicked"), "none of typed"),  # type: ignore[arg-type]
        (lambda: CheckMade(TODAY, "typed", minutes=-1), "between 0 and"),
        (lambda: CheckMade(TODAY, "typed", minutes=float("nan")), "between 0 and"),
        (lambda: CheckMade(TODAY, "typed", minutes=True), "between 0 and"),
        (lambda: Finding(TODAY), "say what was found"),
        (lambda: Finding(TODAY, (Fault("arm", "bored"),)), "no mode"),
        (lambda: Acceptance(TODAY, "A", "perhaps"), "neither passed"),  # type: ignore[arg-type]
    ],
)
def test_what_cannot_be_is_not_recorded(make, says):
    with pytest.raises(ValueError, match=says):
        make()


def test_minutes_add_up_without_rounding():
    three = replace(NEW, checks=(CheckMade(TODAY, "typed", minutes=0.1),) * 10)
    assert three.minutes == 1


def test_the_last_suspects_are_those_written_down_together():
    first, later = Suspicion(TODAY, 2, "a", "1 %"), Suspicion(TODAY, 5, "b", "2 %")
    record = NEW.adding_suspects(first).adding_suspects(later, replace(later, label="c"))
    assert [one.label for one in record.last_suspects] == ["b", "c"]


def test_a_log_that_has_grown_is_added_only_once():
    first, grown = (Entry(65, "A"),), (Entry(65, "A"), Entry(66, "C"))
    record = NEW.adding_log(Logbook(first)).adding_log(Logbook(grown))
    assert record.entries == grown
    assert record.adding_log(Logbook(first)) == record
    assert record.adding_log(Logbook()) == record
    # Another log begins after a stop; and it too may have grown when it is copied again.
    other = (Entry(67, "C"),)
    after = record.adding_log(Logbook(other))
    assert after.entries == (*grown, replace(other[0], gap="yes"))
    more = after.adding_log(Logbook((*other, Entry(68, "D"))))
    assert more.entries == (*after.entries, Entry(68, "D"))
    with pytest.raises(ValueError, match="five-unit"):
        record.adding_log(Logbook((), FIVE_UNIT))


@pytest.mark.parametrize(
    ("name", "digest"),
    [
        ("wind", "8be7023b8b20969fec8371c9490eae72616e59ab34cb48bea978b6397cd5f251"),
        ("ness", "0f87bb39f6579c75ad5b4a66b3f0e400b57588629c94c4d565ed3f84bff3ec7f"),
        ("ebbing", "be66b6dce6bd54956888ece98e8f6d45538351da3c7364e3da2097ac8ba81a91"),
    ],
)
def test_records_that_were_kept_years_ago_still_belong_to_their_machine(name, digest):
    # what digest_of said when wheels and bars of type were one class and runs were pairs
    assert digest_of(mechlogic.load(name)) == f"sha256:{digest}"


def test_a_digest_tells_how_a_machine_works_not_how_it_is_worded_or_drawn():
    text = (machines.FOLDER / "saltmere.toml").read_text(encoding="utf-8")
    digest = digest_of(description.parse(text))
    reworded = re.sub(r'(?m)^label = "', 'label = "the good old ', text)
    assert reworded != text
    assert digest_of(description.parse(reworded)) == digest
    assert digest_of(description.parse("# a remark\n" + text)) == digest
    longer = description.parse(re.sub(r"(?m)^stroke_mm = 4.0", "stroke_mm = 5.0", text))
    costlier = description.parse(re.sub(r"(?m)^cover = .*", "cover = 99", text))
    machine = description.parse(text)
    glyphs = tuple(reversed(machine.output.lines))
    other_type = replace(machine, output=replace(machine.output, lines=glyphs))
    found = {digest_of(changed) for changed in (longer, costlier, other_type)}
    assert len(found | {digest}) == 4


def test_suspects_are_recorded_in_words():
    machine = mechlogic.load("saltmere")
    log = mechlogic.parse_logbook("sent,printed\nT,Q\nT,Q\n")
    diagnosis = mechlogic.diagnose(machine, log)
    found = suspicions(diagnosis, TODAY, most=3)
    assert len(found) == 3
    assert all(one.entries == 2 and one.on == TODAY and "%" in one.probability for one in found)
    first = diagnosis.suspects[0].members[0][0]
    assert machine.label(first.part) in found[0].label
    assert first.mode in found[0].label


def test_what_is_not_on_the_list_is_recorded_at_its_place_among_the_suspects():
    machine = mechlogic.load("saltmere")
    pairs = zip("ABCDEFGHJ", "ZBYDXFWHV", strict=True)
    entries = tuple(mechlogic.Entry(ord(sent), printed) for sent, printed in pairs)
    diagnosis = mechlogic.diagnose(machine, mechlogic.Logbook(entries))
    first, second, *_ = suspicions(diagnosis, TODAY)
    assert first.label == "something that is not on the list" and "99 %" in first.probability
    assert machine.label(diagnosis.ranked[0].members[0][0].part) in second.label


# --- What can be trusted ---


def test_an_entry_is_corrected_by_a_later_one_and_both_are_kept():
    first = CheckMade(TODAY, "typed", outcome="A came", minutes=5)
    better = CheckMade(TODAY, "typed", outcome="B came", minutes=2, corrects=1)
    record = NEW.adding_check(first).adding_check(better)
    assert record.checks == (first, better)
    assert standing(record.checks) == (better,)
    assert record.minutes == 2
    assert parse_record(format_record(record)) == record
    with pytest.raises(ValueError, match="does not stand before it"):
        record.adding_check(replace(first, corrects=3))


def test_an_empty_check_is_refused_but_an_old_record_that_has_one_is_read():
    with pytest.raises(ValueError, match="what came of the check"):
        NEW.adding_check(CheckMade(TODAY, "typed", "Type I"))
    old = replace(NEW, checks=(CheckMade(TODAY, "typed"),))
    assert parse_record(format_record(old)) == old


def test_two_machines_of_one_kind_have_two_histories(tmp_path):
    machine = mechlogic.load("saltmere")
    for serial, owner, repair in (("17", "club", "a"), ("18", "club", "b"), ("17", "club", "c")):
        record = Record.opening(machine, repair, TODAY, serial=serial, owner=owner)
        RecordBook.create(tmp_path / file_name(repair, tmp_path), record)
    (tmp_path / "shopping.json").write_text("{}")
    found, problems = histories(tmp_path)
    names = {key: [path.name for path in files] for key, files in found.items()}
    assert names == {
        ("saltmere", "17", "club"): ["a.json", "c.json"],
        ("saltmere", "18", "club"): ["b.json"],
    }
    assert [Path(problem.source).name for problem in problems] == ["shopping.json"]


def test_a_machine_whose_title_has_several_lines_has_a_record():
    machine = replace(mechlogic.load("saltmere"), title="Saltmere\nNo. 7\r\n" + "x" * 500)
    record = Record.opening(machine, "cold", TODAY)
    assert record.machine.title.startswith("Saltmere No. 7 x")
    assert parse_record(format_record(record)) == record


# --- The file ---


@few
@given(records())
def test_a_record_comes_back_from_its_file_as_it_was(record):
    assert parse_record(format_record(record)) == record
    assert decode_record(format_record(record).encode("utf-8"), "x") == record


@few
@given(records())
def test_a_file_is_plain_json_with_one_line_for_each_thing(record):
    text = format_record(record)
    data = json.loads(text)
    assert list(data)[:2] == ["format", "machine"]
    assert data["format"] == FORMAT
    for name in ("entries", "suspects", "checks", "findings", "remedies", "acceptances", "notes"):
        assert len(data[name]) == len(getattr(record, name))
    things = sum(len(value) + 1 for value in data.values() if isinstance(value, list) and value)
    assert text.count("\n") == 2 + len(data) + things


def test_a_record_from_the_first_version_is_read_for_ever():
    # Written out by hand from the description of the format, not by the library.
    text = """{"format": "mechlogic repair record 1",
      "machine": {"name": "saltmere", "title": "Saltmere printer", "digest": "sha256:0"},
      "repair": "Misprints on cold mornings", "restorer": "R. Pell",
      "opened": "2031-02-03", "closed": "2031-02-05", "code": "seven-unit",
      "entries": [{"sent": "T", "printed": "T"},
        {"sent": "I", "printed": "Y", "driven": "hand", "oil": "cold", "clipped": "top",
         "gap": true, "note": "late again"}],
      "suspects": [{"on": "2031-02-03", "entries": 2, "label": "slide 2: slow to return",
        "probability": "78 %"}],
      "checks": [{"on": "2031-02-03", "done": "typed", "advised": "Type I",
        "outcome": "Y was printed", "minutes": 0.2}],
      "findings": [{"on": "2031-02-03", "faults": [{"part": "slide2", "mode": "slow to return"}],
        "text": "brown oil"}],
      "remedies": [{"on": "2031-02-03", "text": "cleaned and oiled"}],
      "acceptances": [{"on": "2031-02-03", "sent": "TIDE 0412", "result": "passed",
        "remark": "twice"}],
      "notes": [{"on": "2031-02-03", "text": "look again next winter"}]}"""
    assert parse_record(text) == FULL


def line_of(piece):
    return TEXT[: TEXT.index(piece)].count("\n") + 1


# what is replaced, by what; then the place, a piece of what is said and of the mend
MALFORMED = {
    "newer": (FORMAT, "mechlogic repair record 12", "format", "newer than version 1", "up to date"),
    "no record": (FORMAT, "mechlogic repair record", "format", "not a repair record", FORMAT),
    "odd version": (FORMAT, "mechlogic repair record 1x", "format", "not a repair", FORMAT),
    "lost key": ('"restorer"', '"restoror"', "restoror", "nothing is called so", "restorer?"),
    "no day": ("2031-02-05", "2031-02-30", "closed", "not a day", "year, month and day"),
    "week day": ("2031-02-05", "2031-W06-3", "closed", "not a day", "year, month and day"),
    "wrong order": ("2031-02-05", "2030-02-05", "closed", "before the day", "copy"),
    "no code": ("seven-unit", "sevn-unit", "code", "no code is called", "seven-unit"),
    "a code without names": (
        '"seven-unit"',
        '{"title": "own", "units": 2}',
        "code",
        "names: this is missing",
        "description",
    ),
    "a code with too few names": (
        '"seven-unit"',
        '{"title": "own", "units": 2, "names": ["N", "E"]}',
        "code",
        "2 names for 4 codes",
        "description",
    ),
    "a code without end": (
        '"seven-unit"',
        '{"title": "own", "units": 60, "names": []}',
        "code",
        "60 bits, not 1 to 8",
        "description",
    ),
    "a code with a stranger": (
        '"seven-unit"',
        '{"title": "own", "units": 1, "names": ["N", "E"], "sorce": ""}',
        "code",
        "sorce: nothing is called so",
        "description",
    ),
    "not sent": ('"sent": "I"', '"sent": "II"', "entries, item 2, sent", "not a char", "Write"),
    "bad print": ('"printed": "Y"', '"printed": "YY"', "entries, item 2, printed", "one print", ""),
    "bad gap": ('"gap": "yes"', '"gap": 3', "entries, item 2, gap", "no text", "'pause'"),
    "bad oil": ('"oil": "cold"', '"oil": "cool"', "entries, item 2, oil", "none of", ""),
    "unknown": ('"oil"', '"oyl"', "entries, item 2, oyl", "nothing is called so", "oil?"),
    "missing": ('"printed": "Y", ', "", "entries, item 2, printed", "missing", "Add it"),
    "minutes": ("0.2", '"0.2"', "checks, item 1, minutes", "a text where a number", "0.5"),
    "endless": ("0.2", "1e999", "checks, item 1, minutes", "too large", "smaller"),
    "no minutes": ("0.2", "null", "checks, item 1, minutes", "nothing where a number", ""),
    "half": ('"entries": 2', '"entries": 2.5', "suspects, item 1, entries", "whole number", ""),
    "mode": ('slow to return"}', 'slow"}', "findings, item 1, faults", "no mode", ""),
    "result": ('"passed"', '"past"', "acceptances, item 1, result", "neither passed", ""),
    "half a letter": ("twice", "\\ud83d", "acceptances, item 1, remark", "half a character", ""),
    "twice": ('"remark"', '"result"', "acceptances, item 1, result", "twice", "Keep one"),
    "no list": ('"entries": [', '"entries": {}, "x": [', "entries", "object where a list", "[ ]"),
    "no text": ('"R. Pell"', "7", "restorer", "a number where a text", '" "'),
}


@pytest.mark.parametrize("case", MALFORMED)
def test_a_malformed_file_is_refused_with_place_and_mend(case):
    old, new, place, what, mend = MALFORMED[case]
    with pytest.raises(RecordError) as caught:
        parse_record(TEXT.replace(old, new, 1), "cold.json")
    problem = next(p for p in caught.value.problems if p.place == place)
    assert what in problem.what
    assert mend in problem.mend
    assert problem.line == line_of(old)
    assert str(problem).startswith(f"cold.json, line {problem.line}, {place}: ")


def test_every_problem_is_named_at_once():
    text = TEXT.replace("0.2", "-1").replace('"passed"', '"past"').replace("2031-02-05", "soon")
    with pytest.raises(RecordError) as caught:
        parse_record(text)
    assert [p.place for p in caught.value.problems] == [
        "closed",
        "checks, item 1, minutes",
        "acceptances, item 1, result",
    ]


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"", "not valid JSON"),
        (b"[1, 2,", "not valid JSON"),
        (TEXT.encode()[:-3], "not valid JSON"),
        (b"[]", "not a repair record"),
        (b"null", "not a repair record"),
        (b'{"format": 1}', "not a repair record"),
        (b"[" * 200_000, "brackets"),
        (b'{"a": NaN}', "NaN"),
        (b"9" * 5000, "digits"),
        (TEXT.encode("utf-16"), "not UTF-8"),
        (b'{\n"note": "\xff"}', "not UTF-8"),
        (b" " * (MAX_BYTES + 1), "more than"),
    ],
)
def test_what_is_no_record_at_all_is_refused(data, says):
    with pytest.raises(RecordError, match=says):
        decode_record(data, "cold.json")


junk = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=5),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=4), inner),
    max_leaves=5,
)


@given(st.data())
def test_a_spoilt_file_is_refused_or_read_but_never_breaks_the_reader(data):
    tree = json.loads(TEXT)
    at = tree
    while True:  # walk to some place and put something else there
        keys = sorted(at) if isinstance(at, dict) else range(len(at))
        key = data.draw(st.sampled_from(list(keys)))
        if not isinstance(at[key], dict | list) or not at[key] or data.draw(st.booleans()):
            at[key] = data.draw(junk)
            break
        at = at[key]
    try:
        record = parse_record(json.dumps(tree))
    except RecordError as error:
        assert error.problems
        lost = [problem for problem in error.problems if not problem.line]
        assert all("is not a number" in problem.what for problem in lost)
    else:
        assert parse_record(format_record(record)) == record


@example(b"", 144, 40)  # a field is gone, and all that is left is right
@given(st.binary(max_size=6), st.integers(0, len(TEXT)), st.integers(0, 40))
def test_a_torn_file_is_refused_or_read(piece, start, length):
    raw = TEXT.encode()
    try:
        decode_record(raw[:start] + piece + raw[start + length :], "torn.json")
    except RecordError as error:
        assert error.problems


keys = st.text(max_size=6) | st.sampled_from(['"', "\\", "{}", "[,]", ": ", "\n", "a\nb"])


@given(st.data(), st.sampled_from([None, 0, 3]))
def test_the_line_of_everything_is_known(data, indent):
    count = iter(range(100_000, 200_000))
    where = {}

    def draw(path, depth):
        """A JSON value whose every end is a number that comes once only."""
        kind = data.draw(st.sampled_from(["end", "list", "object"])) if depth else "end"
        if kind == "list":
            return [draw((*path, i), depth - 1) for i in range(data.draw(st.integers(0, 3)))]
        if kind == "object":
            names = data.draw(st.lists(keys, unique=True, max_size=3))
            return {name: draw((*path, name), depth - 1) for name in names}
        where[path] = number = next(count)
        return number

    text = json.dumps(draw((), 3), indent=indent)
    lines, twice = lines_of(text)
    assert twice == ()
    for path, number in where.items():
        assert lines[path] == text[: text.index(str(number))].count("\n") + 1


def test_a_record_too_long_to_be_read_back_is_not_written():
    notes = tuple(Note(TODAY, "漢" * MAX_TEXT) for _ in range(700))
    with pytest.raises(ValueError, match="second record"):
        format_record(replace(NEW, notes=notes))


# --- On the disk ---


@pytest.fixture
def book(tmp_path):
    return RecordBook.create(tmp_path / "cold.json", NEW)


def test_a_record_is_opened_again_where_it_was_left(book):
    book.save(book.record.adding_note(Note(TODAY, "warmer now")))
    again = RecordBook(book.path)
    assert again.record == book.record == load_record(book.path)
    assert list(book.path.parent.iterdir()) == [book.path]


def test_a_new_record_never_takes_the_place_of_another(book):
    with pytest.raises(RecordError, match="such a file already"):
        RecordBook.create(book.path, FULL)
    assert load_record(book.path) == NEW


def test_a_file_that_is_not_there_is_named():
    with pytest.raises(RecordError, match=r"nowhere\.json: it cannot be opened"):
        RecordBook("nowhere.json")


def test_a_record_saved_by_somebody_else_meanwhile_is_left_alone_and_both_are_kept(book):
    other = RecordBook(book.path)
    theirs = other.record.adding_note(Note(TODAY, "theirs"))
    other.save(theirs)
    ours = book.record.adding_note(Note(TODAY, "ours"))
    with pytest.raises(RecordConflict, match=r"yours is in cold-2\.json") as caught:
        book.save(ours)
    assert load_record(caught.value.path) == theirs
    assert load_record(caught.value.kept) == ours == book.record
    # Work goes on in the second file, without further ado; and the other in the first.
    more = ours.adding_note(Note(TODAY, "more"))
    book.save(more)
    assert book.path == caught.value.kept
    assert load_record(book.path) == more
    other.save(theirs.adding_note(Note(TODAY, "still here")))


def test_a_file_mended_by_hand_meanwhile_is_not_overwritten(book):
    mended = book.path
    mended.write_text(TEXT, encoding="utf-8")
    with pytest.raises(RecordConflict):
        book.save(NEW)
    assert load_record(mended) == FULL


def test_of_many_who_save_at_once_one_is_first_and_nobody_loses_a_word(tmp_path):
    path = tmp_path / "cold.json"
    RecordBook.create(path, NEW)
    books = [RecordBook(path) for _ in range(8)]
    start = threading.Barrier(len(books))
    conflicts = []

    def save(number):
        start.wait()
        try:
            books[number].save(NEW.adding_note(Note(TODAY, f"note {number}")))
        except RecordConflict as error:
            conflicts.append(error)

    threads = [threading.Thread(target=save, args=(number,)) for number in range(len(books))]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    kept = [note.text for file in tmp_path.iterdir() for note in load_record(file).notes]
    assert sorted(kept) == sorted(f"note {number}" for number in range(len(books)))
    assert len(conflicts) == len(books) - 1


def test_a_text_is_on_the_disk_before_its_name_is_and_the_name_before_we_say_so(book, monkeypatch):
    done = []
    fsync, rename = os.fsync, os.replace
    monkeypatch.setattr("os.fsync", lambda handle: (done.append("fsync"), fsync(handle)))
    monkeypatch.setattr("os.replace", lambda *paths: (done.append("replace"), rename(*paths)))
    book.save(FULL)
    assert done == ["fsync", "replace", "fsync"]


def test_a_full_disk_leaves_the_old_file_and_says_so(book):
    resource = pytest.importorskip("resource")
    # A real refusal by the system, in the middle of writing: files may not grow beyond 4 KB.
    long = NEW.adding_note(Note(TODAY, "x" * 5000)).adding_note(Note(TODAY, "y" * 5000))
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (4096, hard))
    try:
        with pytest.raises(RecordError, match=r"could not be saved.*choose another folder"):
            book.save(long)
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert load_record(book.path) == NEW == book.record
    assert list(book.path.parent.iterdir()) == [book.path]
    book.save(long)  # and when there is room again, all is well
    assert load_record(book.path) == long


def test_a_folder_locked_by_another_program_is_waited_for_then_refused(book, monkeypatch):
    monkeypatch.setattr(safe_file, "PATIENCE_S", 0.0)
    with safe_file.locked(book.path.parent), pytest.raises(RecordError, match="Another program"):
        book.save(FULL)
    book.save(FULL)
    assert load_record(book.path) == FULL


def test_only_what_a_killed_writer_left_is_swept_away(tmp_path):
    ours = tmp_path / ".cold.json.0123abcd"
    others = [
        tmp_path / name for name in (".cold.json.backup", "cold.json.0123abcd", ".x.0123abcd")
    ]
    for path in (ours, *others):
        path.touch()
    safe_file.clear_away(tmp_path / "cold.json")
    assert sorted(tmp_path.iterdir()) == sorted(others)


@given(st.text(max_size=400))
def test_any_repair_has_a_file_name_that_stays_in_its_folder(repair):
    name = file_name(repair)
    assert re.fullmatch(r"[a-z0-9][a-z0-9-]{0,68}\.json", name)
    assert not re.match(r"(con|prn|aux|nul|com\d|lpt\d)\.", name), "a name that Windows keeps"


def test_names_in_any_alphabet_and_names_alike_have_files_of_their_own(tmp_path):
    titles = ("холодное утро", "холодный вечер", "寒い朝", "寒い夜", "צינה", "con", "aux", "w" * 61,
              "w" * 62, "Frost", "Fröst bei Öl")  # fmt: skip
    found = {file_name(title) for title in titles}
    assert len(found) == len(titles)
    assert {"frost.json", "frost-bei-ol.json"} <= found
    for _ in range(3):
        RecordBook.create(tmp_path / file_name("Frost", tmp_path), NEW)
    assert sorted(p.name for p in tmp_path.iterdir()) == [
        "frost-2.json",
        "frost-3.json",
        "frost.json",
    ]


def test_very_many_mistakes_are_refused_soon_and_the_first_are_told():
    many = ", ".join(f'"key{n}": {n}' for n in range(300_000))
    for text in (
        TEXT.replace('"repair"', f'{many}, "repair"'),
        TEXT.replace("0.2}", f"0.2, {many}}}"),
        TEXT.replace('"entries": [', '"entries": [' + '{"sent": "QQ", "printed": 7},' * 500),
    ):
        with pytest.raises(RecordError) as caught:
            parse_record(text)
        assert len(caught.value.problems) == 100


def test_nothing_in_a_message_steers_the_screen():
    for text in (TEXT.replace('"repair"', '"a\u202eb\u001b[31m": 1, "repair"'),
                 TEXT.replace('"T"', '"\u202e"', 1)):  # fmt: skip
        with pytest.raises(RecordError) as caught:
            parse_record(text, "my\x1b[2J.json")
        assert str(caught.value).replace("\n", "").isprintable()


def test_keeping_records_and_reporting_on_them_needs_none_of_the_heavy_libraries():
    program = "import sys, mechlogic.bench.record_file, mechlogic.bench.report; print(*sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", program],
        capture_output=True,
        text=True,
        check=True,
        cwd=Path(mechlogic.__file__).parents[1],
    )
    heavy = {"sympy", "matplotlib", "scipy", "numpy", "ipywidgets", "anywidget"}
    assert set(done.stdout.split()) & heavy == set()


@pytest.mark.parametrize("key", ["entries", "checks", "notes", "closed"])
def test_a_record_that_has_lost_a_part_is_refused(key):
    data = json.loads(TEXT)
    del data[key]
    with pytest.raises(RecordError, match=f"{key}: this is missing"):
        parse_record(json.dumps(data))
