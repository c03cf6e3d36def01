"""Logs, records and answers outlive kills, full disks, locked folders and company.

A longer run, with its figures: MECHLOGIC_KILLS=100 python -m pytest -n0 -s -k kill
tests/test_nothing_lost.py
"""

import contextlib
import errno
import os
import re
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from random import Random

import pytest
from numbered import TODAY, InBench, InProgress, InRecord
from screens import inside

import mechlogic
from mechlogic.bench.record_file import load_record
from mechlogic.teaching.progress import FILE, Kept
from mechlogic.widgets import Progress, choice
from mechlogic.widgets.record_box import RecordBox

KILLS = int(os.environ.get("MECHLOGIC_KILLS", "20"))
ROOT = Path(__file__).parents[1]
NOBODY = 65534
PAGE = 4096

needs_fork = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs a system that can fork")
needs_users = pytest.mark.skipif(not hasattr(os, "seteuid"), reason="needs a system with users")


all_files = pytest.mark.parametrize("kind", [InRecord, InProgress, InBench])


# --- Killed ---

CHILD = """
import os, signal, sys
from pathlib import Path

sys.path.insert(0, "tests")
import numbered

kind, folder = getattr(numbered, sys.argv[1]), Path(sys.argv[2])


def killed_at(step):
    '''Die before that line of safe_file, counted from 1 as they are run; 0: never.'''
    count = 0

    def each(frame, event, arg):
        nonlocal count
        if frame.f_code.co_filename.endswith("safe_file.py"):
            count += event == "line"
            if event == "line" and count == step:
                os.kill(os.getpid(), signal.SIGKILL)
            return each

    sys.settrace(each if step else None)


for line in sys.stdin:  # one child for each line, so that Python starts only once
    child = os.fork()
    if not child:
        os.write(1, b"child %d\\n" % os.getpid())
        step, most = map(int, line.split())
        file = kind(folder)
        number = len(file.kept())
        killed_at(step)
        while most:
            file.add(number)
            os.write(1, b"%d\\n" % number)
            number, most = number + 1, most - 1
        os._exit(0)
    _, status = os.waitpid(child, 0)
    print("dead", os.waitstatus_to_exitcode(status), flush=True)
"""


@dataclass
class Writers:
    """Writers, one after the other, each a process; what they said was done."""

    process: subprocess.Popen[str]

    def begin(self, step: int, most: int) -> int:
        """Let a writer begin that dies before a step and writes that many; its process."""
        print(step, most, file=self.process.stdin, flush=True)
        return int(self.said().split()[1])

    def said(self) -> str:
        return self.process.stdout.readline()

    def ended(self) -> tuple[list[int], int]:
        """What else was reported done, and how the writer ended: 0 or minus the signal."""
        done = []
        while not (line := self.said()).startswith("dead"):
            done.append(int(line))
        return done, int(line.split()[1])


@contextlib.contextmanager
def writers(kind: type, folder: Path) -> Iterator[Writers]:
    with subprocess.Popen(
        [sys.executable, "-c", CHILD, kind.__name__, str(folder)],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        cwd=ROOT,
    ) as process:
        yield Writers(process)
        process.stdin.close()


@needs_fork
@all_files
def test_a_kill_at_any_moment_loses_nothing_that_was_reported_done(kind, tmp_path):
    random, reported, midway, began = Random(19), [], 0, time.monotonic()
    file = kind(tmp_path)
    with writers(kind, tmp_path) as writing:
        for _ in range(KILLS):
            child = writing.begin(step=0, most=-1)  # on and on
            for _ in range(random.randrange(4)):  # however slow the computer, some are written
                reported.append(int(writing.said()))
            time.sleep(random.uniform(0, 0.008))
            os.kill(child, signal.SIGKILL)
            more, status = writing.ended()
            assert status == -signal.SIGKILL
            reported += more
            kept = file.kept()
            assert kept == list(range(len(kept)))
            assert set(reported) <= set(kept)
            midway += len(list(tmp_path.iterdir())) > 1
    assert len(reported) >= KILLS
    print(
        f"\n{kind.__name__}: {KILLS} kills, {midway} of them with a file half exchanged; "
        f"{len(reported)} reported done, {len(kept)} kept; {time.monotonic() - began:.1f} s"
    )
    kind(tmp_path).add(len(kept))  # what killed writers left beside the file goes with the next
    assert list(tmp_path.iterdir()) == [file.path]


@needs_fork
@all_files
def test_a_kill_before_each_step_of_writing_leaves_the_old_file_or_the_new(kind, tmp_path):
    file, seen = kind(tmp_path), set()
    with writers(kind, tmp_path) as writing:
        for step in range(1, 200):
            before = len(file.kept())
            writing.begin(step, most=1)
            reported, status = writing.ended()
            after = file.kept()
            assert after == list(range(len(after)))
            assert len(after) in (before, before + 1)
            seen.add((len(after) - before, len(reported)))
            if status == 0:
                break
            assert status == -signal.SIGKILL and reported == []
    assert status == 0, "it never came to an end"
    # Some died before the exchange, some after it but before they could tell, and one told.
    assert seen == {(0, 0), (1, 0), (1, 1)}


# --- No room, no permission ---


def mounted(folder: Path, *how: str) -> None:
    """Mount something on a folder, or skip, and say why."""
    if not sys.platform.startswith("linux"):
        pytest.skip("mounts a small disk as Linux does")
    done = subprocess.run(["mount", *how, str(folder)], capture_output=True, text=True)
    if done.returncode:
        pytest.skip(f"no small disk can be mounted here: {done.stderr.strip()}")


def unmounted(folder: Path) -> None:
    subprocess.run(["umount", str(folder)], check=True)


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """A disk of 256 kB."""
    folder = tmp_path / "disk"
    folder.mkdir()
    mounted(folder, "-t", "tmpfs", "-o", "size=256k", "tmpfs")
    try:
        yield folder
    finally:
        unmounted(folder)


def fill(folder: Path, free: int) -> Path:
    """Fill a disk until that many bytes are free."""
    filler = folder / "filler"
    with contextlib.suppress(OSError), open(filler, "wb", buffering=0) as file:
        while file.write(bytes(PAGE)):
            pass
    room = os.statvfs(folder)
    assert room.f_bavail == 0, "the disk is not full"
    with open(filler, "r+b") as file:
        file.truncate(filler.stat().st_size - free)
    return filler


@all_files
def test_a_full_disk_keeps_the_old_file_and_says_so_however_much_is_left(kind, small_disk):
    file = kind(small_disk)
    for number in range(50):
        file.add(number)
    before = file.path.read_bytes()
    assert len(before) > 2 * PAGE, "or it would fit in"
    for free in (0, PAGE, 2 * PAGE):
        filler = fill(small_disk, free)
        with pytest.raises(kind.refusal, match=r"No space left on device.*Free some space"):
            file.add(50)
        assert file.path.read_bytes() == before
        filler.unlink()
        assert list(small_disk.iterdir()) == [file.path], "nothing half written takes up room"
    file.add(50)  # with room again, the same thing can be kept
    assert file.kept() == list(range(51)) == kind(small_disk).kept()


@all_files
@pytest.mark.parametrize("number", [errno.ENOSPC, errno.EDQUOT, errno.EIO])
def test_a_disk_that_takes_half_and_no_more_keeps_the_old_file(kind, number, tmp_path, monkeypatch):
    # Where no small disk can be mounted: fsync is where many network disks first tell.
    def fail(_):
        raise OSError(number, os.strerror(number))

    file = kind(tmp_path)
    file.add(0)
    with monkeypatch.context() as context:
        context.setattr("os.fsync", fail)
        with pytest.raises(kind.refusal, match=re.escape(os.strerror(number))):
            file.add(1)
    assert file.kept() == [0]
    assert list(tmp_path.iterdir()) == [file.path]


@all_files
def test_a_failure_told_after_the_exchange_is_no_quarrel_with_oneself(kind, tmp_path, monkeypatch):
    fsync, calls = os.fsync, []

    def fail_second(handle):
        calls.append(handle)
        if len(calls) == 2:  # the folder's, when the new file already has the name
            raise OSError(errno.EIO, os.strerror(errno.EIO))
        fsync(handle)

    file = kind(tmp_path)
    with monkeypatch.context() as context:
        context.setattr("os.fsync", fail_second)
        with pytest.raises(kind.refusal):
            file.add(0)
    file.add(0)
    assert file.kept() == [0]
    assert list(tmp_path.iterdir()) == [file.path]


@contextlib.contextmanager
def as_nobody() -> Iterator[None]:
    """As a user whom permissions hold back, which they do not do with root."""
    if os.geteuid():
        yield
        return
    os.seteuid(NOBODY)
    try:
        yield
    finally:
        os.seteuid(0)


@needs_users
@all_files
@pytest.mark.parametrize("what", ["folder", "file"])
def test_a_folder_or_file_that_may_only_be_read_is_left_alone_and_named(kind, what):
    with tempfile.TemporaryDirectory() as made:  # pytest's own folders are closed to nobody
        folder = Path(made)
        folder.chmod(0o777)
        file = kind(folder)
        file.add(0)
        before = file.path.read_bytes()
        if what == "folder":
            file.path.chmod(0o666)
            folder.chmod(0o555)
        else:
            file.path.chmod(0o444)
        with (
            as_nobody(),
            pytest.raises(kind.refusal, match=r"Permission denied.*You may not write here"),
        ):
            file.add(1)
        assert file.path.read_bytes() == before
        assert list(folder.iterdir()) == [file.path]
        folder.chmod(0o777)
        file.path.chmod(0o666)
        file.add(1)
        assert file.kept() == [0, 1]


@all_files
def test_a_disk_that_can_only_be_read_holds_what_it_held_and_says_so(kind, small_disk):
    file = kind(small_disk)
    file.add(0)
    mounted(small_disk, "-o", "remount,ro")
    with pytest.raises(kind.refusal, match=r"Read-only file system.*on another"):
        file.add(1)
    assert file.kept() == [0]
    mounted(small_disk, "-o", "remount,rw")
    file.add(1)
    assert file.kept() == [0, 1]


# --- Two at once ---

TOGETHER = """
import sys
from pathlib import Path

sys.path.insert(0, "tests")
import numbered
from mechlogic.bench.record_file import RecordConflict

file = getattr(numbered, sys.argv[1])(Path(sys.argv[2]))
first, told = int(sys.argv[3]), 0
print("ready", flush=True)
sys.stdin.readline()
for number in range(first, first + 200):
    try:
        file.add(number)
    except RecordConflict:
        told += 1
print(told)
"""


def together(kind: type, folder: Path) -> list[int]:
    """Two processes write 200 numbers each at once; how often each was told of the other."""
    command = [sys.executable, "-c", TOGETHER, kind.__name__, str(folder)]
    both = [
        subprocess.Popen(
            [*command, str(first)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            cwd=ROOT,
        )
        for first in (0, 200)
    ]
    for process in both:
        assert process.stdout.readline() == "ready\n"
    for process in both:
        print("go", file=process.stdin, flush=True)
    told = [int(process.communicate(timeout=120)[0]) for process in both]
    assert [process.returncode for process in both] == [0, 0]
    return told


def test_of_two_notebooks_that_keep_200_answers_each_at_once_all_400_are_there(tmp_path):
    together(InProgress, tmp_path)
    assert InProgress(tmp_path).kept() == list(range(400))
    assert list(tmp_path.iterdir()) == [tmp_path / FILE]


def test_of_two_programs_that_save_200_notes_each_in_one_record_all_400_are_there(tmp_path):
    path = InRecord(tmp_path).path
    told = together(InRecord, tmp_path)
    assert sorted(told) == [0, 1], "one is told, once, and goes on in a file of its own"
    files = sorted(tmp_path.iterdir())
    assert files == [tmp_path / "cold-2.json", path]
    kept = [[int(note.text.split()[0]) for note in load_record(file).notes] for file in files]
    assert {number for numbers in kept for number in numbers} == set(range(400))
    for numbers in kept:
        assert len(set(numbers)) == len(numbers), "nothing twice in one record"
    assert len(load_record(path).notes) >= 200, "who was first loses nothing in the common file"


def test_of_two_tabs_that_type_200_entries_each_into_one_log_all_400_are_there(tmp_path):
    together(InBench, tmp_path)
    assert sorted(InBench(tmp_path).kept()) == list(range(400))
    assert list(tmp_path.iterdir()) == [tmp_path / "bench-wind.json"]


# --- As the reader meets it ---


class Desk:
    """A record box with a note in hand."""

    def __init__(self, folder: Path) -> None:
        self.box = RecordBox(mechlogic.load("wind"), folder, today=lambda: TODAY)

    def start(self) -> None:
        self.fill("What the repair is about", "Cold mornings")
        self.press("Start a new record")

    def open(self) -> None:
        self.box._chooser.value = self.box.folder / "cold-mornings.json"
        self.press("Open")

    def _hinted(self, hint: str):
        return next(one for one in inside(self.box) if getattr(one, "placeholder", "") == hint)

    def fill(self, hint: str, text: str) -> None:
        self._hinted(hint).value = text

    def write(self, text: str) -> str:
        self.fill("Anything else", text)
        return self.press("Write it down", -1)

    @property
    def in_hand(self) -> str:
        return self._hinted("Anything else").value

    def press(self, words: str, which: int = 0) -> str:
        found = [one for one in inside(self.box) if getattr(one, "description", "") == words]
        found[which].click()
        return re.sub("<[^>]*>", "", self.box._said.value)

    @property
    def notes(self) -> list[str]:
        return [note.text for note in self.box.book.record.notes]


def test_at_a_full_disk_the_box_says_so_and_the_note_stays_in_hand(small_disk):
    desk = Desk(small_disk)
    desk.start()
    assert "Saved in" in desk.write("brown oil")
    filler = fill(small_disk, 0)
    said = desk.write("late again")
    assert "No space left on device" in said and "Free some space on the disk" in said
    assert (desk.in_hand, desk.notes) == ("late again", ["brown oil"])
    assert "brown oil" in desk.box._page.value
    filler.unlink()
    assert "Saved in" in desk.press("Write it down", -1)
    assert desk.in_hand == ""
    assert [note.text for note in load_record(desk.box.book.path).notes] == desk.notes
    assert desk.notes == ["brown oil", "late again"]


def test_on_a_disk_that_can_only_be_read_the_box_opens_shows_and_explains(small_disk):
    desk = Desk(small_disk)
    desk.start()
    desk.write("brown oil")
    mounted(small_disk, "-o", "remount,ro")
    again = Desk(small_disk)
    again.open()
    assert again.notes == ["brown oil"]
    assert "choose a folder on another one" in again.write("late again")
    assert again.in_hand == "late again"
    assert "choose a folder on another one" in again.press("Report as a web page")
    other = Desk(small_disk / "deeper")
    other.start()
    assert "choose a folder on another one" in other.box._said.value


def test_two_boxes_on_one_record_keep_what_either_wrote_and_the_second_is_told(tmp_path):
    here, there = Desk(tmp_path), Desk(tmp_path)
    here.start()
    there.box._look()
    there.open()
    assert "Saved in cold-mornings.json" in here.write("mine")
    said = there.write("yours")
    assert "somebody else has saved this record" in said and "Nothing is lost" in said
    assert there.in_hand == "", "it is safe, in the other file"
    assert "Saved in cold-mornings-2.json" in there.write("more")
    assert "Saved in cold-mornings.json" in here.write("last")
    kept = {path.stem: [n.text for n in load_record(path).notes] for path in tmp_path.iterdir()}
    assert kept == {"cold-mornings": ["mine", "last"], "cold-mornings-2": ["yours", "more"]}


def test_an_answer_on_a_full_disk_stays_right_and_is_kept_when_there_is_room(
    small_disk, monkeypatch
):
    monkeypatch.chdir(small_disk)
    (small_disk / "01_first.ipynb").write_text("{}")
    filler = fill(small_disk, 0)
    question = choice("Which?", ["a", "b"], right="a")
    assert question.answer("a") and question.state == "right"
    assert question.trouble.startswith("This answer is not kept: ")
    assert "Free some space on the disk" in question.trouble
    filler.unlink()
    assert question.answer("a") and question.trouble == ""
    assert choice("Which?", ["a", "b"], right="a").answered_before


def test_a_list_of_answers_that_cannot_be_forgotten_says_why(small_disk):
    Kept(small_disk / FILE).note("01/cut")
    mounted(small_disk, "-o", "remount,ro")
    progress = Progress(small_disk)
    progress.reset()
    said = re.sub("<[^>]*>", "", progress._page.value)
    assert "Read-only file system" in said and "choose a folder on another one" in said
    assert Kept(small_disk / FILE).done == {"01/cut"}
