"""What is typed is kept: after a restart, in a second tab, in a browser, on a disk that is full."""

import json
from collections.abc import MutableMapping

import pytest
from hypothesis import given
from hypothesis import strategies as st

import mechlogic
from mechlogic.bench.log_editor import LogEditor
from mechlogic.bench.store import Store, Which
from mechlogic.helpers.storage import Folder, InMapping
from mechlogic.model.faults import Fault

MACHINE = mechlogic.load("wind")


@pytest.fixture(params=["folder", "mapping"])
def storage(request, tmp_path):
    return Folder(tmp_path / "kept") if request.param == "folder" else InMapping(prefix="bench/")


def sent(kept) -> str:
    return "".join(line.sent for line in kept.editor.lines)


def typing(kept, text: str) -> None:
    for character in text:
        assert kept.put(kept.editor.write(character, character)), kept.trouble


def test_log_history_and_hypothesis_are_there_again(storage):
    kept = Store(storage).bench(MACHINE)
    typing(kept, "NES")
    kept.put(kept.editor.change(2, printed="½", note="odd").remove(1).undo())
    kept.put(hypothesis=[Fault("slide", "slow to return")])
    again = Store(storage).bench(MACHINE)
    assert again.editor == kept.editor
    assert again.hypothesis == kept.hypothesis
    assert again.editor.questions, "what is questioned is still questioned"
    assert again.editor.redo().lines == kept.editor.redo().lines
    while again.editor.done:
        again.put(again.editor.undo())
    assert sent(again) == ""


def test_each_machine_has_a_file_of_its_own_whatever_it_is_called(storage):
    store = Store(storage)
    sisters = [
        ("", ""),
        ("17", ""),
        ("", "17"),
        ("1", "7"),
        ("17", "клуб"),
        ("17", "音楽"),
        ("con", ""),
    ]
    for number, (serial, owner) in enumerate(sisters):
        typing(store.bench(MACHINE, serial, owner), "NESWNES"[: number + 1])
    for number, (serial, owner) in enumerate(sisters):
        assert sent(store.bench(MACHINE, serial, owner)) == "NESWNES"[: number + 1]
    assert set(store.machines()) == {Which("wind", *sister) for sister in sisters}


def test_the_file_is_plain_json_with_a_line_for_each_entry(tmp_path):
    kept = Store(Folder(tmp_path)).bench(MACHINE, "17", "club")
    typing(kept, "NE")
    (path,) = tmp_path.iterdir()
    text = path.read_text("utf-8")
    assert json.loads(text)["machine"] == {"kind": "wind", "serial": "17", "owner": "club"}
    assert '    {"sent": "N", "printed": "N"},\n    {"sent": "E", "printed": "E"}\n' in text
    path.write_text(text.replace('"printed": "E"', '"printed": "S"', 1), "utf-8")
    assert kept.refresh(), "somebody may mend it by hand"
    assert [line.printed for line in kept.editor.lines] == ["N", "S"]
    assert not kept.editor.done, "steps that no longer lead there are forgotten"


def test_a_second_tab_sees_what_the_first_has_typed_and_both_are_kept(storage):
    here, there = Store(storage).bench(MACHINE), Store(storage).bench(MACHINE)
    typing(here, "NE")
    assert sent(there) == ""
    typing(there, "SW")
    assert sent(there) == "NESW"
    assert sent(here) == "NE" and here.refresh() and sent(here) == "NESW"
    assert not here.refresh()
    here.put(here.editor.remove(1))
    there.put(there.editor.change(4, printed="E"))
    here.refresh()
    assert [line.printed for line in here.editor.lines] == ["E", "S", "E"]
    assert here.editor == there.editor


def test_two_that_change_the_same_line_are_both_kept_and_the_second_is_told(storage):
    here, there = Store(storage).bench(MACHINE), Store(storage).bench(MACHINE)
    typing(here, "NE")
    there.refresh()
    here.put(here.editor.change(1, printed="S"))
    there.put(there.editor.change(1, printed="W"))
    assert "bench-wind-2.json" in there.trouble and "bench-wind.json" in there.trouble
    assert storage.names() == ["bench-wind-2.json", "bench-wind.json"]
    assert Store(storage).bench(MACHINE).editor.lines[0].printed == "S"
    assert there.editor.lines[0].printed == "W"


words = st.lists(st.sampled_from(["N", "E", "S", "W"]), max_size=4)


@given(words, st.lists(st.tuples(st.booleans(), words), max_size=6))
def test_two_tabs_that_only_write_lose_nothing_in_any_order(first, turns):
    storage = InMapping()
    tabs = [Store(storage).bench(MACHINE) for _ in range(2)]
    typing(tabs[0], "".join(first))
    for which, text in turns:
        typing(tabs[which], "".join(text))
    everything = sorted([*first, *(c for _, text in turns for c in text)])
    assert sorted(sent(Store(storage).bench(MACHINE))) == everything


@pytest.mark.parametrize(
    "data",
    [b"", b"{", b"\xff", b"[]", b'{"format": "mechlogic bench 9"}', b"[" * 100_000,
     b'{"format": "mechlogic bench 1", "machine": {"kind": "wind"}, "lines": [7]}'],
)  # fmt: skip
def test_a_file_that_cannot_be_read_is_left_alone_and_the_log_goes_on_beside_it(data, tmp_path):
    path = tmp_path / "bench-wind.json"
    path.write_bytes(data)
    kept = Store(Folder(tmp_path)).bench(MACHINE)
    assert "That file is as it was" in kept.trouble
    typing(kept, "N")
    assert path.read_bytes() == data
    assert (tmp_path / "bench-wind-2.json").exists()


class NoRoom(MutableMapping):
    """A browser's storage that is full until somebody makes room."""

    def __init__(self):
        self.held, self.full = {}, True

    def __setitem__(self, key, value):
        if self.full:
            raise RuntimeError("QuotaExceededError")
        self.held[key] = value

    def __getitem__(self, key):
        return self.held[key]

    def __delitem__(self, key):
        del self.held[key]

    def __iter__(self):
        return iter(self.held)

    def __len__(self):
        return len(self.held)


def test_without_room_what_is_typed_stays_in_memory_and_is_kept_once_there_is_some():
    texts = NoRoom()
    kept = Store(InMapping(texts)).bench(MACHINE)
    assert not kept.put(kept.editor.write("N", "N"))
    assert "QuotaExceededError" in kept.trouble and "in memory only" in kept.trouble
    assert sent(kept) == "N"
    texts.full = False
    assert kept.put(kept.editor.write("E", "E")) and kept.trouble == ""
    assert sent(Store(InMapping(texts)).bench(MACHINE)) == "NE"


def test_of_a_very_long_history_the_last_steps_are_kept(storage):
    kept = Store(storage).bench(MACHINE)
    editor = LogEditor(MACHINE).write("N" * 4000, "nothing")
    kept.put(editor.clear().undo().clear().write("E", "E"))
    again = Store(storage).bench(MACHINE).editor
    assert again.can_go_back
    assert len(again.undo().undo()) == 4000


@pytest.mark.parametrize("name", ["../x.json", "a/b.json", ".hidden", "", "A.json", "con\0.json"])
def test_no_name_leads_out_of_the_place(name, storage):
    for use in (lambda: storage.read(name, 9), lambda: storage.write(name, b""),
                lambda: storage.remove(name)):  # fmt: skip
        with pytest.raises(OSError, match="no file can have such a name"):
            use()
