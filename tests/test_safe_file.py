"""Files that are no files, names that no file can have, and a program that holds one."""

import errno
import json
import os
import threading
from dataclasses import replace

import pytest

import mechlogic
from mechlogic.bench.doubt import print_question, sent_question
from mechlogic.bench.log_editor import LogEditor
from mechlogic.bench.record_file import RecordError, load_record
from mechlogic.describing.description import DescriptionError, parse, read
from mechlogic.helpers import safe_file
from mechlogic.model.logbook import LogbookError, parse_logbook, read_logbook
from mechlogic.teaching.progress import Kept, ProgressError

READERS = [
    (read_logbook, LogbookError),
    (load_record, RecordError),
    (read, DescriptionError),
    (lambda path: Kept(path).read(), ProgressError),
]
readers = pytest.mark.parametrize(("reads", "refusal"), READERS)


@readers
@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs a system with pipes")
def test_a_pipe_or_device_is_refused_and_not_waited_for(reads, refusal, tmp_path):
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    for path in (pipe, os.devnull, tmp_path):
        with pytest.raises(refusal, match=r"no ordinary file|directory"):
            reads(path)


@readers
@pytest.mark.parametrize("name", ["a\0b", "a\ud800b"])
def test_a_name_that_no_file_can_have_is_refused_as_such(reads, refusal, name, tmp_path):
    with pytest.raises(refusal, match="no file can have such a name"):
        reads(tmp_path / name)
    with pytest.raises(OSError, match="no file can have such a name"):
        safe_file.write_whole(tmp_path / name, b"")


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="needs a system with pipes")
def test_a_device_or_pipe_is_never_replaced(tmp_path):
    pipe = tmp_path / "pipe"
    os.mkfifo(pipe)
    link = tmp_path / "link"
    link.symlink_to(os.devnull)
    for path in (pipe, link):
        with pytest.raises(OSError, match="no ordinary file"):
            safe_file.write_whole(path, b"x")
    assert pipe.is_fifo() and link.is_symlink()
    assert sorted(tmp_path.iterdir()) == [link, pipe]


def held(times: int, replace=os.replace):
    """An exchange of files that another program holds up so many times."""
    left = [times]

    def try_it(old, new):
        left[0] -= 1
        if left[0] >= 0:
            raise PermissionError(errno.EACCES, "The process cannot access the file")
        replace(old, new)

    return try_it


def test_a_file_that_is_held_for_a_moment_is_tried_again(tmp_path, monkeypatch):
    path = tmp_path / "a.json"
    safe_file.write_whole(path, b"old")
    monkeypatch.setattr("os.replace", held(3))
    safe_file.write_whole(path, b"new")
    assert path.read_bytes() == b"new"


def test_a_file_that_is_held_for_good_is_as_it_was_and_the_advice_fits(tmp_path, monkeypatch):
    path = tmp_path / "a.json"
    safe_file.write_whole(path, b"old")
    monkeypatch.setattr("os.replace", held(10**9))
    monkeypatch.setattr(safe_file, "HELD_S", 0.05)
    with pytest.raises(OSError, match="another program holds this file") as caught:
        safe_file.write_whole(path, b"new")
    assert "close it there" in safe_file.mend_for(caught.value)
    assert path.read_bytes() == b"old" and list(tmp_path.iterdir()) == [path]


def test_a_pipe_with_a_writer_does_not_feed_a_reader(tmp_path):
    pipe = tmp_path / "pipe.csv"
    os.mkfifo(pipe)
    reading = os.open(pipe, os.O_RDONLY | os.O_NONBLOCK)
    writer = threading.Thread(target=pipe.write_bytes, args=(b"sent,printed\nA,A\n",))
    writer.start()
    with pytest.raises(LogbookError, match="no ordinary file"):
        read_logbook(pipe)
    writer.join()
    os.close(reading)


STEERING = "\x1b[2J\u202ebad\u2066\x07"


@pytest.mark.parametrize(
    "make",
    [
        lambda: read_logbook(f"{STEERING}.csv"),
        lambda: load_record(f"{STEERING}.json"),
        lambda: read(f"{STEERING}.toml"),
        lambda: parse_logbook(f"sent,printed,{STEERING}\nA,A,\n"),
        lambda: parse_logbook(f"sent,printed\n{STEERING},A\nA,{STEERING}\n"),
        lambda: parse(f'[machine]\nname = "x"\n"{json.dumps(STEERING)[1:-1]}" = 1\n'),
        lambda: parse(
            f'[machine]\nname = "{json.dumps(STEERING)[1:-1]}"\n[parts.a]\njoint = "x"\n'
        ),
        lambda: LogEditor(replace(mechlogic.load("wind"), title=STEERING)).change(3),
    ],
)
def test_nothing_in_a_file_steers_the_screen_of_whoever_reads_the_message(make):
    with pytest.raises(ValueError, match=r"[a-z]") as caught:
        make()
    said = str(caught.value)
    assert all(line.isprintable() for line in said.split("\n")), ascii(said)


def test_a_question_says_nothing_that_steers_the_screen():
    machine = replace(mechlogic.load("wind"), title=STEERING)
    for question in (print_question(machine, "½"), sent_question(machine, "½")):
        assert question.says.isprintable()
