"""The bench, as far as Python sees it: what is filled in, and what it then says."""

import random
import re
from base64 import b64decode
from dataclasses import replace
from datetime import UTC, datetime
from html import unescape
from pathlib import Path
from struct import unpack

import ipywidgets as w
import pytest
from plain_runs import SALTMERE, plain
from screens import inside
from traitlets.utils.bunch import Bunch

import mechlogic
from mechlogic import Entry, Fault, Logbook, machines
from mechlogic.bench.pages import SHOWN_AT_FIRST
from mechlogic.bench.story import hypothesis_label, suspect_label
from mechlogic.explaining.words import parts_in_order
from mechlogic.machines import names
from mechlogic.machines.case_file import decode_case
from mechlogic.widgets.log_bench import LogBench
from mechlogic.widgets.log_sheet import LogSheet, keys_of

MACHINE = mechlogic.load("saltmere")


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


FURTHER = "Look further"


@pytest.fixture
def bench(tmp_path):
    (tmp_path / "three.csv").write_text("sent,printed\nT,T\nG,U\nA,A\n")
    return LogBench(MACHINE, tmp_path, storage=None)


def tell(bench, *ops, seq=1):
    """As the browser tells it."""
    bench.sheet._told(None, {"client": "a page", "seq": seq, "ops": ops}, [])


def add(bench, sent, printed):
    write = {"do": "write", "sent": sent, "printed": printed, "driven": "speed", "gap": ""}
    tell(bench, write, seq=len(bench.kept.editor) + 1)


@pytest.mark.parametrize(
    ("written", "noted"),
    [("A", "A"), (" nothing ", "nothing"), ("Unreadable", "unreadable"), ("SP", " "), ("4/1", "A")],
)
def test_a_print_is_written_as_in_a_log(bench, written, noted):
    add(bench, "a".upper(), written)
    assert bench.logbook.entries == (Entry(ord("A"), noted),)


def test_a_print_that_is_none_is_questioned_and_counts_for_nothing(bench):
    add(bench, "A", "½")
    (line,) = bench.sheet.state["lines"]
    assert "no '½'" in line["question"]["says"]
    assert ["1", "1"] in line["question"]["choices"]  # its nearest shape
    assert [entry.printed for entry in bench.logbook] == ["unseen"]
    tell(bench, {"do": "answer", "number": 1, "column": "printed", "text": "1"}, seq=2)
    assert [entry.printed for entry in bench.logbook] == ["1"]
    assert bench.sheet.state["lines"][0]["question"] is None


def test_a_machine_of_ones_own_and_the_hypothesis_are_there_the_next_day(tmp_path):
    def open_it():
        return LogBench(MACHINE, tmp_path, any_machine=True, storage=tmp_path / "kept")

    own = (machines.FOLDER / "wind.toml").read_bytes().replace(b'name = "wind"', b'name = "mine"')
    bench = open_it()
    bring_machine(bench, "mine.toml", own)
    add(bench, "N", "E")
    part = find(bench, w.Dropdown, "Part")
    part.value = part.options[-1][1]
    find(bench, w.Dropdown, "is").index = 1
    press(bench, "Test against the log")
    thought = find(bench, w.Dropdown, "is").value

    again = open_it()
    assert again.machine is MACHINE
    choose_machine(again, "Saltmere wind stamp (my own)")
    assert again.machine.name == "mine"
    assert [(entry.sent, entry.printed) for entry in again.logbook] == [(0, "E")]
    assert find(again, w.Dropdown, "is").value == thought


def test_two_tabs_on_one_log_undo_nothing_of_each_other(tmp_path):
    here, there = (LogBench(MACHINE, tmp_path, storage=tmp_path / "kept") for _ in range(2))
    for bench, character in ((here, "A"), (there, "B"), (here, "C"), (here, "D"), (there, "E")):
        tell(
            bench,
            {
                "do": "write",
                "sent": character,
                "printed": character,
                "driven": "speed",
                "gap": "",
            },
            seq=ord(character),
        )
    assert [line["sent"] for line in there.sheet.state["lines"]] == list("ABCDE")
    assert len(there.logbook) == 5


def test_what_the_browser_tells_twice_is_done_once(bench):
    """It tells a batch again if it does not know that it is safe."""
    write = {"do": "write", "sent": "THE", "printed": "TXE", "driven": "speed", "gap": ""}
    tell(bench, write, seq=1)
    tell(bench, write, seq=1)
    assert [entry.printed for entry in bench.logbook] == ["T", "X", "E"]
    assert bench.sheet.acked == {"client": "a page", "seq": 1}


def test_an_emptied_log_comes_back(bench):
    add(bench, "A", "B")
    tell(bench, {"do": "clear"}, seq=2)
    assert len(bench.logbook) == 0 and "Undo" in bench.sheet.state["says"]
    tell(bench, {"do": "undo"}, seq=3)
    assert [entry.printed for entry in bench.logbook] == ["B"]


def test_lines_are_changed_removed_put_in_and_moved(bench):
    add(bench, "THE", "THE")
    tell(bench, {"do": "change", "number": 2, "changes": {"printed": "X", "oil": "cold"}}, seq=10)
    tell(bench, {"do": "move", "number": 2, "to": 3}, {"do": "remove", "number": 1}, seq=11)
    tell(bench, {"do": "insert", "number": 1, "sent": "Q", "printed": "Q"}, seq=12)
    seen = [(line["sent"], line["printed"], line["oil"]) for line in bench.sheet.state["lines"]]
    assert seen == [("Q", "Q", "unknown"), ("E", "E", "unknown"), ("H", "X", "cold")]
    assert [line["wrong"] for line in bench.sheet.state["lines"]] == [False, False, True]


def test_a_paste_is_added_and_what_is_refused_is_said(bench):
    add(bench, "A", "A")
    tell(bench, {"do": "paste", "text": "TIDE\nTYDE\n0412\n0412\n"}, seq=2)
    assert len(bench.logbook) == 9
    assert "8 entries taken" in bench.sheet.state["says"]


def test_a_line_that_is_not_there_is_refused_and_the_rest_is_done(bench):
    add(bench, "A", "A")
    change = {"do": "change", "number": 1, "changes": {"note": "n"}}
    tell(bench, {"do": "remove", "number": 7}, change, seq=2)
    assert "there is no line 7" in bench.sheet.state["says"]
    assert bench.logbook.entries[0].note == "n"


@pytest.fixture
def handed_over(monkeypatch):
    """The files that benches give to the browser: the name of each, and what is in it."""
    sent = []
    monkeypatch.setattr(LogSheet, "send", lambda self, *message: sent.append(message))
    return sent


def test_the_log_and_the_case_are_handed_over_as_files(bench, handed_over):
    add(bench, "A", "B")
    tell(bench, {"do": "save_log"}, {"do": "save_case"}, seq=2)
    (log, (csv,)), (case, (data,)) = handed_over
    assert (log, case) == ({"file": "saltmere_log.csv"}, {"file": "saltmere_case.zip"})
    assert mechlogic.parse_logbook(csv.decode("utf-8-sig")).entries == bench.logbook.entries
    assert decode_case(data, "the case").logs["bench"].entries == bench.logbook.entries


@pytest.mark.parametrize("name", ["saltmere", "mine"])
def test_a_case_that_was_saved_is_opened_at_another_club_with_machine_owner_and_log(
    name, tmp_path, handed_over
):
    machine = MACHINE if name == "saltmere" else replace(MACHINE, name="mine", title="Mine")
    here = LogBench(machine, (), storage=tmp_path / "here")
    here._sisters["owner"].value = "R. Pell"
    add(here, "THE", "TXE")
    tell(here, {"do": "save_case"}, seq=2)
    ((file, (data,)),) = handed_over
    there = LogBench(mechlogic.load("wind"), LOGS, any_machine=True, storage=tmp_path / "there")
    for _ in range(2):  # opened again, nothing is there twice
        bring_machine(there, file["file"], data)
        assert (there.machine.name, there.kept.which.owner) == (name, "R. Pell")
        assert there.logbook.entries == here.logbook.entries
    bring_machine(there, "case.zip", data[: len(data) // 2])
    assert "case.zip" in text(there._problems)
    assert there.logbook.entries == here.logbook.entries


def test_picture_type_map_and_suspects_are_handed_over_on_one_page(bench, handed_over):
    bench._sisters["owner"].value = "A <b>club</b>"
    add(bench, "T", "T")
    tell(bench, {"do": "print_out"}, seq=2)
    ((name, (data,)),) = handed_over
    page = data.decode()
    assert name == {"file": "saltmere_print_out.html"}
    assert "A &lt;b&gt;club&lt;/b&gt;" in page and "<script" not in page
    assert 'class="ml-wheel"' in page and "mechlogic-scene" in page
    for suspect in bench.diagnosis.suspects[:SHOWN_AT_FIRST]:
        assert suspect_label(MACHINE, suspect.members) in unescape(page)


def test_what_is_on_the_bench_is_there_the_next_day(tmp_path):
    first = LogBench(MACHINE, (), storage=tmp_path / "bench")
    add(first, "THE", "TXE")
    tell(first, {"do": "clear"}, seq=9)
    tell(first, {"do": "undo"}, seq=10)
    again = LogBench(MACHINE, (), storage=tmp_path / "bench")
    assert again.logbook.entries == first.logbook.entries
    assert again.sheet.state["undo"]


@pytest.mark.parametrize("allowed", [0, 1, 2])
def test_looking_further_says_what_was_searched(bench, allowed):
    bench.show(Logbook((Entry(ord("S"), "S"), Entry(ord("T"), "Q"))))
    assert text(bench._bounds).strip() == ""
    find(bench, w.Dropdown, "Misread entries").value = allowed
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
    entries[5] = Entry(codes[5], "?")
    bench.show(Logbook(tuple(entries)))
    allowed = find(bench, w.Dropdown, "Misread entries")
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


def load_log(bench, content):
    upload = find(bench, w.FileUpload, "Log file")
    day = datetime(2031, 2, 3, tzinfo=UTC)
    upload.value = (
        Bunch(name="x.csv", type="", size=len(content), content=content, last_modified=day),
    )


@pytest.mark.parametrize("content", [b"sent,printed\nA,A\n", b"neither,nor\n"])
def test_a_file_is_loaded_and_the_button_counts_no_files_afterwards(bench, content):
    load_log(bench, content)
    assert find(bench, w.FileUpload, "Log file").value == ()
    assert bool(text(bench._problems).strip()) == (len(bench.logbook) == 0)


def test_a_log_that_names_another_machine_is_refused_where_there_is_no_other(bench):
    add(bench, "A", "A")
    load_log(bench, b"# machine: wind\nsent,printed\nA,A\n")
    assert "taken on wind, not on saltmere" in text(bench._problems)
    assert len(bench.logbook) == 1


# -- another machine -------------------------------------------------------------------------------

LOGS = Path(__file__).parents[1] / "workbooks" / "logs"


@pytest.fixture
def any_bench():
    return LogBench(MACHINE, LOGS, any_machine=True, storage=None)


def choose_machine(bench, title):
    find(bench, w.Dropdown, "Machine").label = title


def bring_machine(bench, name, content):
    find(bench, w.FileUpload, "Machine file").value = (
        Bunch(
            name=name,
            type="",
            size=len(content),
            content=content,
            last_modified=datetime(2031, 1, 1, tzinfo=UTC),
        ),
    )


def logs_on_offer(bench):
    return [label for label, _ in find(bench, w.Dropdown, "Log").options[1:]]


@pytest.mark.parametrize("name", [name for name in names() if name != MACHINE.name])
def test_any_machine_goes_on_the_bench_with_its_own_logs(any_bench, name):
    wanted = mechlogic.load(name)
    choose_machine(any_bench, wanted.title)
    assert any_bench.machine.name == name
    assert any_bench.logbook.entries == ()
    logs = logs_on_offer(any_bench)
    assert logs == [p.stem.replace("_", " ") for p in sorted(LOGS.glob(f"{name}_*.csv"))]
    find(any_bench, w.Dropdown, "Log").label = logs[0]
    assert any_bench.diagnosis.machine.name == name
    assert any_bench.diagnosis.evidence.misprints
    parts = [part for _, part in find(any_bench, w.Dropdown, "Part").options]
    assert set(parts) == set(wanted.mechanism.parts)


def test_a_log_puts_the_machine_that_it_names_on_the_bench(any_bench):
    load_log(any_bench, b"# machine: wind\nsent,printed\nN,E\n")
    assert any_bench.machine.name == "wind"
    assert find(any_bench, w.Dropdown, "Machine").value == "wind"
    assert [entry.printed for entry in any_bench.logbook] == ["E"]


def test_back_on_the_first_machine_its_logs_are_there_again(any_bench):
    before = logs_on_offer(any_bench)
    choose_machine(any_bench, mechlogic.load("wind").title)
    choose_machine(any_bench, MACHINE.title)
    assert any_bench.machine is MACHINE
    assert logs_on_offer(any_bench) == before != []


def test_a_machine_of_ones_own_is_brought_and_can_be_brought_again_once_mended(any_bench):
    patient = any_bench.patient()
    own = (machines.FOLDER / "wind.toml").read_bytes().replace(b'name = "wind"', b'name = "mine"')
    bring_machine(any_bench, "mine.toml", own)
    assert any_bench.machine.name == "mine"
    assert find(any_bench, w.Dropdown, "Machine").value == "my own mine"
    assert patient.children[0].machine is any_bench.machine
    assert logs_on_offer(any_bench) == []
    add(any_bench, "N", "E")
    assert any_bench.diagnosis.machine.name == "mine"
    first = any_bench.machine
    bring_machine(any_bench, "mine.toml", own)
    assert any_bench.machine is not first, "the mended file is what counts"


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"\xff\xfe", "this is UTF-16, not UTF-8"),
        (b"name = <b>", "there is no value that can be read"),
        (b"", "mine"),
    ],
)
def test_a_description_that_is_wrong_is_told_as_the_loader_words_it(any_bench, content, said):
    add(any_bench, "A", "A")
    bring_machine(any_bench, "mine.toml", content)
    assert "mine.toml" in text(any_bench._problems) and said in text(any_bench._problems)
    assert "<b>" not in any_bench._problems.value
    assert any_bench.machine is MACHINE
    assert len(any_bench.logbook.entries) == 1, "nothing that was there is lost"


def test_where_the_list_is_hardly_enough_the_bench_says_so_and_searches_more_by_itself(bench):
    entries = [Entry(ord(sent), seen) for sent, seen in zip("ABCDEFGHJ", "ZBYDXFWHV", strict=True)]
    bench.show(Logbook(tuple(entries)))
    assert "every set of at most two faults" in text(bench._bounds)
    assert bench.diagnosis.enough < 0.5
    assert "probably something that is not on the list" in text(bench._summary)
    first, *others = re.findall(r'value="([\d.]+)"', bench._suspects.value)
    assert float(first) == pytest.approx(bench.diagnosis.off_list, abs=1e-4)
    assert all(float(other) <= bench.diagnosis.enough + 1e-4 for other in others)


def test_where_the_list_is_enough_what_is_not_on_it_stands_last_and_nothing_more_is_searched(bench):
    bench.show(mechlogic.read_logbook(LOGS / "cold_morning.csv", MACHINE.code))
    *_, last = re.findall(r'value="([\d.]+)"', bench._suspects.value)
    assert float(last) == pytest.approx(bench.diagnosis.off_list, abs=1e-4)
    assert 0 < bench.diagnosis.off_list < 0.5
    assert text(bench._bounds) == "" and "probably something" not in text(bench._summary)


def test_the_likeliest_suspect_is_shown_in_the_mechanism(bench):
    tabs = find_tabs(bench)
    tabs.selected_index = tabs.titles.index("Mechanism")
    (view,) = bench._mechanism.children
    assert view.faults == () and "machine is shown in good order" in text(bench._told)
    bench.show(mechlogic.read_logbook(LOGS / "cold_morning.csv", MACHINE.code))
    assert view.faults == bench.diagnosis.suspects[0].members[0]
    assert view.picked == view.faults[0].part
    assert "Shown with this possible cause: middle stop lever" in text(bench._told)
    bench.show(Logbook(()))
    assert view.faults == ()


def replayed(view):
    """What the picture shows of the entries that it plays, read from its tables as it does."""
    worlds = [(tables := view.frames)[drive] for drive in ("speed", "hand")]
    columns = [unpack(f"<{len(b) // 2}H", b) for b in map(b64decode, tables["columns"])]
    memory, shown = view.play["memory"], []
    for setting, chance, by_hand in view.play["cycles"]:
        world = worlds[by_hand][memory * tables["chances"] + chance]
        shown.append(tables["texts"][columns[world["printed"]][setting]])
        memory = columns[world["next"]][setting]
    return shown


@pytest.mark.parametrize(
    "fault",
    [
        Fault("middle_stop", "slow to return"),
        Fault("slide2", "half-way"),
        Fault("bar3", "stuck at rest"),
    ],
    ids=str,
)
def test_a_suspect_that_is_picked_plays_every_misprint_as_it_was_printed(bench, fault):
    rng = random.Random(str(fault))
    has_type = [code for code in range(128) if MACHINE.good_print(code) == MACHINE.code.name(code)]
    log = SALTMERE.type(plain((fault,)), rng.choices(has_type, k=60), rng)
    bench.show(Logbook(tuple(log)))
    suspect = next(one for one in bench.diagnosis.considered if (fault,) in one.members)
    label = hypothesis_label(MACHINE, suspect.members[0])
    bench._shield.pressed = [label, 1]
    tabs = find_tabs(bench)
    assert tabs.titles[tabs.selected_index] == "Mechanism"
    (view,) = bench._mechanism.children
    wrong = bench.diagnosis.evidence.wrong
    assert wrong and suspect.misfits == ()
    for number, t in enumerate([*wrong, wrong[0]]):  # after the last one, the first again
        played = log[max(0, t - 1) : t + 1]
        assert replayed(view) == [entry.printed for entry in played]
        code = MACHINE.code
        assert [setting % len(code) for setting, *_ in view.play["cycles"]] == [
            entry.sent for entry in played
        ]
        said = unescape(text(bench._told))
        assert f"Misprint {number % len(wrong) + 1} of {len(wrong)}. Entry {t + 1}: " in said
        late = t > 0 and fault.mode == "slow to return"  # then it matters what came before
        after = f" after {code.name(log[t - 1].sent)}" if late else ""
        assert f"Entry {t + 1}: when {code.name(log[t].sent)} comes{after}, " in said
        assert f"and {log[t].printed} is printed where {code.name(log[t].sent)} belongs." in said
        press(bench, "Next misprint ▶")
    assert [log[t] for t in wrong] == [e for e in log if e.printed != MACHINE.good_print(e.sent)]


def find_tabs(bench):
    return next(one for one in inside(bench) if isinstance(one, w.Tab))


def test_a_phone_has_a_key_for_every_character_that_can_be_sent_once():
    for name in names():
        code = machines.load(name).code
        keys = [key for group in keys_of(code) for key in group]
        assert sorted(keys) == sorted(set(keys))
        assert {code.parse(key) for key in keys} == set(range(len(code)))


def test_two_machines_of_one_kind_have_a_log_each_and_the_last_is_back_the_next_day(tmp_path):
    def next_day():
        return LogBench(MACHINE, [], storage=tmp_path / "bench")

    bench = next_day()
    for serial, written in (("17", "A"), ("18", "B")):
        bench._sisters["serial"].value = serial
        add(bench, "A", written)
        assert [entry.printed for entry in bench.logbook] == [written]
    again = next_day()
    assert again._sisters["serial"].value == "18"
    assert [entry.printed for entry in again.logbook] == ["B"]
    assert set(again._sisters["serial"].options) == {"17", "18"}
    again._sisters["serial"].value = "17"
    assert [entry.printed for entry in again.logbook] == ["A"]
    assert again.sheet.state["key"] != bench.sheet.state["key"]


def test_what_is_typed_while_another_tab_has_the_sister_goes_to_its_own_log(tmp_path):
    """Two tabs, two machines of one kind: each tab goes on with the machine that it shows."""
    tabs = [LogBench(MACHINE, [], storage=tmp_path / "b") for _ in range(2)]
    for serial, tab in zip(("17", "18"), tabs, strict=True):
        tab._sisters["serial"].value = serial
    for written, tab in zip("AB", tabs, strict=True):
        add(tab, "A", written)
    assert [[entry.printed for entry in tab.logbook] for tab in tabs] == [["A"], ["B"]]
