"""The command line: what it says, and that it refuses in words."""

import os
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
import zipfile
from pathlib import Path

import pytest

import mechlogic
from mechlogic.__main__ import main

ROOT = Path(__file__).parent.parent
COLD = ROOT / "workbooks" / "logs" / "cold_morning.csv"


def test_a_log_is_diagnosed(capsys):
    assert main(["diagnose", str(COLD)]) == 0
    first = capsys.readouterr().out.splitlines()[0]
    assert first.endswith("middle stop lever: slow to return")


def test_the_next_character_is_named(tmp_path, capsys):
    log = mechlogic.from_lines("TIDE 0412", "TYDE 0412")
    mechlogic.write_logbook(log, tmp_path / "tide.csv")
    assert main(["diagnose", str(tmp_path / "tide.csv")]) == 0
    assert "Type next: " in capsys.readouterr().out


def test_a_picture_is_drawn_with_its_style(tmp_path):
    assert main(["picture", "wind", str(tmp_path / "wind.svg")]) == 0
    text = (tmp_path / "wind.svg").read_text(encoding="utf-8")
    assert text.startswith("<svg")
    assert "<style>" in text


def test_the_sheets_of_an_evening_are_made(tmp_path, capsys):
    assert main(["handouts", str(tmp_path / "new"), "--machine", "wind", "--teams", "1"]) == 0
    names = capsys.readouterr().out.splitlines()
    assert names
    assert all(Path(name).stat().st_size for name in names)


def test_the_course_is_put_where_the_reader_wants_it(tmp_path, capsys):
    assert main(["workbooks", str(tmp_path / "mine")]) == 0
    assert (tmp_path / "mine" / "03_bench.ipynb").exists()
    (tmp_path / "mine" / "03_bench.ipynb").write_text("changed", encoding="utf-8")
    assert main(["workbooks", str(tmp_path / "mine")]) == 0
    assert "Left as it is" in capsys.readouterr().out
    assert (tmp_path / "mine" / "03_bench.ipynb").read_text(encoding="utf-8") == "changed"


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["diagnose", "no_such.csv"], "no_such.csv"),
        (["diagnose", str(COLD), "--machine", "saltmer"], "Did you mean saltmere"),
        (["check", str(ROOT / "workbooks/machines/tarrow_first_try.toml")], "line 25"),
        (["picture", "wind", "no/such/folder/wind.svg"], "no such folder"),
        (["handouts", ".", "--machine", "wind", "--teams", "0"], "number of teams"),
    ],
)
def test_what_cannot_be_done_is_refused_in_words(words, says, capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert main(words) == 1
    assert says in capsys.readouterr().err


@pytest.fixture
def reading():
    """Start the reading room on a folder, and give its address; it is ended afterwards."""
    rooms = []

    def start(folder):
        with socket.socket() as probe:
            probe.bind(("127.0.0.1", 0))
            port = probe.getsockname()[1]
        command = [sys.executable, "-m", "mechlogic", "read", str(folder), "--quiet"]
        rooms.append(subprocess.Popen([*command, f"--port={port}"], start_new_session=True))
        return f"http://127.0.0.1:{port}/"

    yield start
    for room in rooms:
        os.killpg(room.pid, signal.SIGTERM)
        room.wait()


def answer(address):
    for _ in range(300):
        try:
            return urllib.request.urlopen(address)
        except urllib.error.URLError:
            time.sleep(0.1)
    raise AssertionError(f"nothing answers at {address}")


@pytest.mark.skipif(os.name == "nt", reason="ends the room by its process group")
def test_the_reading_room_opens_the_course_and_may_fetch_from_itself_only(reading, tmp_path):
    address = reading(tmp_path / "mine")
    with answer(address + "voila/render/00_start_here.ipynb") as page:
        assert "A machine with two bits" in page.read().decode()
        policy = page.headers["Content-Security-Policy"]
    assert "default-src 'self'" in policy
    assert "http" not in policy


@pytest.mark.skipif(os.name == "nt", reason="ends the room by its process group")
def test_the_reading_room_serves_a_site_that_was_built(reading, tmp_path):
    (tmp_path / "offline.js").write_text("", encoding="utf-8")
    (tmp_path / "index.html").write_text("the site", encoding="utf-8")
    with answer(reading(tmp_path)) as page:
        assert page.read() == b"the site"


def test_a_wheel_brings_the_course_and_nothing_of_a_readers_own(tmp_path):
    folder = tmp_path / "checkout"
    ignored = shutil.ignore_patterns(".*", "tests", "docs")
    shutil.copytree(ROOT, folder, ignore=ignored)
    (folder / "workbooks" / "records").mkdir(exist_ok=True)
    (folder / "workbooks" / "records" / "mine.json").write_text("{}", encoding="utf-8")
    build = "from hatchling.build import build_wheel; print(build_wheel('.'))"
    done = subprocess.run(
        [sys.executable, "-c", build], cwd=folder, check=True, capture_output=True, text=True
    )
    names = zipfile.ZipFile(folder / done.stdout.splitlines()[-1]).namelist()
    assert "mechlogic/workbooks/00_start_here.ipynb" in names
    assert "mechlogic/workbooks/logs/cold_morning.csv" in names
    assert "mechlogic/site/wheels.txt" in names
    assert not [name for name in names if "mine.json" in name]
