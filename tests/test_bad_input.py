"""What is wrong with a file is said: where, what, and how to mend it; soon, and in little memory.

The tables of bad files are in the folder bad_input, a row a file.  A process of its own reads them
all, so that none of them can take this one along.  The promise is a second for each file; the
guards here are ten times as wide: they are against files that never end, not a measurement.
"""

import json
import os
import subprocess
import sys
from collections import Counter
from pathlib import Path

import pytest
from bad_input import descriptions, logs
from bad_input.cases import HERE, first_changed, made

from mechlogic.describing.description import DescriptionError, decode, read
from mechlogic.model.logbook import LogbookError, decode_logbook, read_logbook

MOST_SECONDS, MOST_MIB = 10.0, 200.0
TABLES = {"description": descriptions, "log": logs}
ROWS = [(table, row) for table, module in TABLES.items() for row in module.BAD]
ERRORS = {"description": "DescriptionError", "log": "LogbookError"}


@pytest.fixture(scope="module")
def found(tmp_path_factory):
    """What came of every bad file, by table and name."""
    out = tmp_path_factory.mktemp("bad") / "found.jsonl"
    script = Path(__file__).parent / "bad_input/measure.py"
    ran = subprocess.run([sys.executable, script, out], capture_output=True, text=True, timeout=600)
    lines = out.read_text("utf-8").splitlines()
    assert ran.returncode == 0, f"it ended after {len(lines)} files: {ran.stderr[-2000:]}"
    return {(one["table"], one["name"]): one for one in map(json.loads, lines)}


def test_there_are_many_rows_and_no_two_have_one_name():
    assert len(ROWS) >= 200
    for module in TABLES.values():
        names = Counter(row.name for row in (*module.BAD, *module.ODD))
        assert [name for name, count in names.items() if count > 1] == []


@pytest.mark.parametrize(
    ("table", "row"), ROWS, ids=[f"{table}: {row.name}" for table, row in ROWS]
)
def test_a_bad_file_is_refused_with_its_place_and_a_mend(table, row, found):
    one = found[table, row.name]
    assert one["raised"] == ERRORS[table], one["message"]
    good = TABLES[table].GOOD
    line = first_changed(made(row.change, good), good) if row.line == HERE else row.line
    told = [
        problem
        for problem in one["problems"]
        if problem["line"] == line and problem["at"].startswith(row.at)
    ]
    assert told, one["message"]
    assert any(row.says in each["what"] and row.mend in each["mend"] for each in told), told
    for problem in one["problems"]:
        assert problem["what"] and problem["mend"]
        assert problem["source"].endswith((".toml", ".csv")) and problem["source"] in one["message"]
    assert one["seconds"] < MOST_SECONDS
    assert one["mib"] < MOST_MIB


@pytest.mark.parametrize("row", descriptions.ODD, ids=lambda row: row.name)
def test_what_looks_odd_in_a_description_means_what_it_says(row):
    machine = decode(made(row.change, descriptions.GOOD), "fog.toml")
    assert f"{machine.title} prints {''.join(machine.printed)}" == row.means


@pytest.mark.parametrize("row", logs.ODD, ids=lambda row: row.name)
def test_what_looks_odd_in_a_log_means_what_it_says(row):
    assert logs.said(decode_logbook(made(row.change, logs.GOOD), "fog.csv")) == row.means


@pytest.mark.parametrize(
    ("load", "error"), [(read, DescriptionError), (read_logbook, LogbookError)], ids=ERRORS
)
def test_what_cannot_be_opened_is_named_with_a_mend(load, error, tmp_path):
    link = tmp_path / "link"
    link.symlink_to(link)
    closed = tmp_path / "closed"
    closed.write_bytes(b"")
    closed.chmod(0)
    places = [tmp_path, tmp_path / "none", tmp_path / "none/inner", tmp_path / ("x" * 300), link]
    if os.geteuid():  # to root nothing is closed
        places.append(closed)
    for path in places:
        with pytest.raises(error) as caught:
            load(path)
        (problem,) = caught.value.problems
        assert problem.source == str(path) and str(path) in str(caught.value)
        assert "cannot be opened" in problem.what and "Check name and folder" in problem.mend


@pytest.mark.parametrize(
    ("load", "good", "error"),
    [
        (decode, descriptions.GOOD, DescriptionError),
        (decode_logbook, logs.GOOD, LogbookError),
    ],
    ids=ERRORS,
)
def test_broken_off_anywhere_it_is_refused_or_it_is_whole(load, good, error):
    data = good.encode()
    for length in range(len(data)):
        try:
            load(data[:length], "some file")
        except error as refusal:
            assert all(problem.what and problem.mend for problem in refusal.problems)
            assert "some file" in str(refusal)
