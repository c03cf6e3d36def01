"""The bench, as far as Python sees it: what is filled in, and what it then says."""

import re
from datetime import UTC, datetime

import ipywidgets as w
import pytest
from traitlets.utils.bunch import Bunch

import mechlogic
from mechlogic import Entry, Logbook
from mechlogic.widgets.log_bench import LogBench
from mechlogic.words import parts_in_order

MACHINE = mechlogic.load("saltmere")


def inside(widget):
    yield widget
    for child in getattr(widget, "children", ()):
        yield from inside(child)


def find(bench, kind, said):
    return next(
        widget
        for widget in inside(bench)
        if isinstance(widget, kind)
        and said in (getattr(widget, "description", ""), getattr(widget, "placeholder", ""))
    )


def text(page):
    return re.sub("<[^>]*>", " ", page.value)


def press(bench, said):
    find(bench, w.Button, said).click()


FURTHER = "Look further: two faults at once, faults that come and go"


@pytest.fixture
def bench(tmp_path):
    (tmp_path / "three.csv").write_text("sent,printed\nT,T\nG,U\nA,A\n")
    return LogBench(MACHINE, tmp_path)


def add(bench, sent, printed):
    find(bench, w.Text, "A, CR, 4/1").value = sent
    find(bench, w.Text, "A, nothing").value = printed
    press(bench, "Add entry")


@pytest.mark.parametrize(
    ("written", "noted"),
    [("A", "A"), (" nothing ", "nothing"), ("Unreadable", "unreadable"), ("SP", " "), ("4/1", "A")],
)
def test_a_print_is_written_as_in_a_log(bench, written, noted):
    add(bench, "a".upper(), written)
    assert bench.logbook.entries == (Entry(ord("A"), noted),)


def test_a_print_that_is_none_is_refused_with_its_mend(bench):
    add(bench, "A", "nothin")
    assert bench.logbook.entries == ()
    assert "Did you mean nothing?" in text(bench._problems)


@pytest.mark.parametrize("allowed", [0, 1, 2])
def test_looking_further_says_what_was_searched(bench, allowed):
    bench.show(Logbook((Entry(ord("T"), "T"), Entry(ord("G"), "U"))))
    assert text(bench._bounds).strip() == ""
    find(bench, w.Dropdown, "Entries that may have been misread").value = allowed
    press(bench, FURTHER)
    counted = ("no misread entry", "up to 1 misread entry", "up to 2 misread entries")[allowed]
    assert "every set of at most two faults" in text(bench._bounds)
    assert f"counting {counted}." in text(bench._bounds)
    bench.show(bench.logbook)  # the usual suspects again
    assert text(bench._bounds).strip() == ""


def test_one_misread_entry_that_hides_the_truth_may_be_allowed_for(bench):
    """Of two stuck parts; one entry was noted wrongly."""
    true = (mechlogic.Fault("left_stop", "stuck at rest"), mechlogic.Fault("slide1", "half-way"))
    behaviour = mechlogic.Behaviour(MACHINE, true)
    codes = [*range(0x40, 0x60)]
    rows = MACHINE.rows(codes)
    (world, *_) = behaviour.worlds()
    prints = MACHINE.prints(behaviour.table(rows, rows.every, world), rows)
    seen = {t: glyph for glyph, there in prints.items() for t in range(32) if there >> t & 1}
    entries = [Entry(code, seen[t]) for t, code in enumerate(codes)]
    entries[5] = Entry(codes[5], "~")
    bench.show(Logbook(tuple(entries)))
    allowed = find(bench, w.Dropdown, "Entries that may have been misread")
    found = []
    for allowed.value in (0, 1):
        press(bench, FURTHER)
        found.append(bench.diagnosis.find(true) is not None)
    assert found == [False, True]


def test_the_menu_of_parts_is_in_the_order_of_a_person(bench):
    menu = find(bench, w.Dropdown, "Part")
    assert tuple(menu.options) == tuple((MACHINE.label(n), n) for n in parts_in_order(MACHINE))


def test_the_menu_of_logs_is_never_blank(bench):
    menu = find(bench, w.Dropdown, "Log")
    assert menu.label == "choose a log …"
    menu.index = 1
    assert len(bench.logbook) == 3
    press(bench, "Start an empty log")
    assert (menu.label, len(bench.logbook)) == ("choose a log …", 0)
    menu.index = 1
    sent, printed = (box for box in inside(bench) if isinstance(box, w.Textarea))
    sent.value, printed.value = "AB", "AC"
    press(bench, "Take as the log")
    assert (menu.label, len(bench.logbook)) == ("choose a log …", 2)


@pytest.mark.parametrize("content", [b"sent,printed\nA,A\n", b"neither,nor\n"])
def test_a_file_is_loaded_and_the_button_counts_no_files_afterwards(bench, content):
    upload = find(bench, w.FileUpload, "Load a file …")
    day = datetime(2031, 2, 3, tzinfo=UTC)
    upload.value = (
        Bunch(name="x.csv", type="", size=len(content), content=content, last_modified=day),
    )
    assert upload.value == ()
    assert bool(text(bench._problems).strip()) == (len(bench.logbook) == 0)
