"""Bad input that comes through a widget: it says what is wrong, and goes on working.

The files are those of the tables in bad_input.  A traceback would end a test here, as it would end
a click in a notebook without a word.
"""

import html
import json
import re
from datetime import UTC, date, datetime

import ipywidgets as w
import pytest
from bad_input import descriptions, logs
from bad_input.cases import made
from records import HOSTILE
from screens import inside
from traitlets.utils.bunch import Bunch

import mechlogic
from mechlogic.widgets import DescribeBox, LogBench, RecordBox, RolesBox, SealedBox

WIND = mechlogic.load("wind")
DAY = datetime(2031, 2, 3, tzinfo=UTC)
ODD_TEXTS = [
    *HOSTILE,
    *(
        "",
        " ",
        "\0",
        "\ud800",
        "\u202e",
        "\u200b",
        "а",
        "é",
        "e\u0301",
        "nan",
        "1e400",
        "-1",
        "4,5",
    ),
    *(
        "13-Mar",
        "=1+1",
        "9/9",
        "9" * 5000 + "/1",
        "x" * 100_000,
        "\n" * 1000,
        "[" * 1000,
        '"' * 999,
    ),
]


def uploads(screen, kind):
    """The buttons of a screen that take a file of a kind."""
    return [x for x in inside(screen) if isinstance(x, w.FileUpload) and kind in x.accept]


def bring(button, name, data):
    """Choose a file in a browser's dialog."""
    button.value = (
        Bunch(name=name, type="", size=len(data), content=memoryview(data), last_modified=DAY),
    )


def said(screen):
    """All that a screen says, as text."""
    pages = " ".join(x.value for x in inside(screen) if isinstance(x, w.HTML))
    return html.unescape(re.sub("<style>.*?</style>|<[^>]*>", " ", pages, flags=re.DOTALL))


def menu_of(screen, said):
    (menu,) = (x for x in inside(screen) if isinstance(x, w.Dropdown) and x.description == said)
    return menu


def text_boxes(screen):
    return [x for x in inside(screen) if isinstance(x, w.Text | w.Textarea)]


def press(screen, *words):
    """Press every button that says one of these words; every one at all, if none are given."""
    for button in [x for x in inside(screen) if isinstance(x, w.Button)]:
        if not words or any(word in button.description for word in words):
            button.click()


@pytest.fixture(autouse=True)
def no_traceback(caplog):
    """What a button's callback raises is only logged where there is no notebook."""
    yield
    assert [record.getMessage() for record in caplog.records] == []


# -- files -----------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    return LogBench(WIND, tmp_path_factory.mktemp("logs"), True, storage=None)


@pytest.mark.parametrize("row", logs.BAD, ids=lambda row: row.name)
def test_the_log_bench_says_what_is_wrong_with_a_log(bench, row):
    (button,) = uploads(bench, ".csv")
    before = bench.logbook
    bring(button, "fog<b>.csv", made(row.change, logs.GOOD))
    assert "fog<b>.csv" in said(bench)
    assert bench.logbook is before


@pytest.mark.parametrize("row", descriptions.BAD, ids=lambda row: row.name)
def test_the_log_bench_says_what_is_wrong_with_a_machine(bench, row):
    (button,) = uploads(bench, ".toml")
    before = bench.machine
    bring(button, "fog<b>.toml", made(row.change, descriptions.GOOD))
    assert "fog<b>.toml" in said(bench)
    assert row.says in said(bench)
    assert bench.machine is before


def test_the_log_bench_says_what_is_wrong_with_the_logs_in_its_folder(tmp_path):
    (tmp_path / "folder.csv").mkdir()
    (tmp_path / "gone.csv").write_text("sent,printed\n")
    for number, row in enumerate(logs.BAD):
        (tmp_path / f"bad{number}.csv").write_bytes(made(row.change, logs.GOOD))
    bench = LogBench(WIND, tmp_path, storage=None)
    (tmp_path / "gone.csv").unlink()
    menu = menu_of(bench, "Log")
    paths = [value for _, value in menu.options if value]
    assert len(paths) == len(logs.BAD) + 2
    for path in paths:
        menu.value = path
        assert str(path) in said(bench) and not bench.logbook.entries
        assert ("cannot be opened" in said(bench)) == (path.stem in ("folder", "gone"))


@pytest.fixture(scope="module")
def describe(tmp_path_factory):
    return DescribeBox("", tmp_path_factory.mktemp("machines"))


def as_text(row):
    """A row as a text that can be typed; those that are wrong only as bytes cannot."""
    try:
        return made(row.change, descriptions.GOOD).decode("utf-8", "surrogatepass")
    except UnicodeDecodeError:
        return ""


@pytest.mark.parametrize(
    "row", [row for row in descriptions.BAD if as_text(row)], ids=lambda row: row.name
)
def test_the_describe_box_says_what_is_wrong(describe, row):
    describe.text.value = as_text(row)
    press(describe, "Check")
    assert describe.machine is None
    assert "to mend" in said(describe)
    assert len(describe.page.value) < 100_000


RECORD = {
    "format": "mechlogic repair record 1",
    "machine": {"name": "wind", "title": "Wind", "digest": ""},
    "repair": "x",
    "restorer": "",
    "opened": "2031-02-03",
    "closed": None,
    "code": "seven-unit",
    "entries": [],
}
BAD_RECORDS = {
    "empty": b"",
    "blank": b" \n",
    "no JSON": b"fog",
    "broken off": json.dumps(RECORD).encode()[:-9],
    "parts missing": json.dumps(RECORD).encode(),
    "a list": b"[]",
    "a number": b"1e999",
    "NaN": b"NaN",
    "an endless number": b"9" * 20_000,
    "another format": b'{"format": "fog 1"}',
    "a later format": b'{"format": "mechlogic repair record 999"}',
    "deep": b"[" * 100_000,
    "deep objects": b'{"a":' * 100_000,
    "twice": b'{"format": "mechlogic repair record 1", "format": 1}',
    "Latin-1": "{'é'}".encode("latin-1"),
    "UTF-16": json.dumps(RECORD).encode("utf-16"),
    "NUL": b"\0" * 1000,
    "10 MB": b"[" + b"1," * 5_000_000 + b"1]",
    "wrong kinds": json.dumps(dict.fromkeys(RECORD, 7) | {"format": RECORD["format"]}).encode(),
    "markup": json.dumps(RECORD | {"<script>": 1, "closed": "<img src=x>"}).encode(),
    "bytes": bytes(range(256)),
}


@pytest.mark.parametrize("name", BAD_RECORDS)
def test_the_record_box_says_what_is_wrong_with_a_record(name, tmp_path):
    path = tmp_path / "bad<b>.json"
    path.write_bytes(BAD_RECORDS[name])
    box = RecordBox(WIND, tmp_path, today=lambda: date(2031, 2, 3))
    menu_of(box, "Records").value = path
    press(box)
    assert box.book is None
    press(box, "Open")
    assert "bad<b>.json" in said(box) and path.read_bytes() == BAD_RECORDS[name]


@pytest.mark.parametrize("name", ["folder.json", "gone.json"])
def test_a_record_that_is_a_folder_or_has_gone_is_said_to_be_so(name, tmp_path):
    (tmp_path / "folder.json").mkdir()
    (tmp_path / "gone.json").write_text("{}")
    box = RecordBox(WIND, tmp_path, today=lambda: date(2031, 2, 3))
    menu_of(box, "Records").value = tmp_path / name
    (tmp_path / "gone.json").unlink()
    press(box, "Open")
    assert box.book is None and f"{name}: it cannot be opened" in said(box)


# -- what is typed ---------------------------------------------------------------------------------


def type_everywhere(screen, text):
    boxes = text_boxes(screen)
    assert boxes
    for box in boxes:
        box.value = text


@pytest.mark.parametrize("text", ODD_TEXTS, ids=range(len(ODD_TEXTS)))
def test_whatever_is_typed_into_the_box_of_descriptions_it_stays_in_its_folder(text, tmp_path):
    folder = tmp_path / "kept"
    folder.mkdir()
    box = DescribeBox("", folder)
    type_everywhere(box, text)
    press(box)
    assert said(box).strip()
    assert [path.name for path in tmp_path.iterdir()] == ["kept"]
    assert all(path.parent == folder for path in folder.rglob("*"))


@pytest.mark.parametrize("text", ODD_TEXTS, ids=range(len(ODD_TEXTS)))
def test_whatever_is_typed_into_the_box_of_records_it_stays_in_its_folder(text, tmp_path):
    folder = tmp_path / "kept"
    box = RecordBox(WIND, folder, today=lambda: date(2031, 2, 3))
    type_everywhere(box, text)
    press(box, "Start")
    type_everywhere(box, text)
    press(box)
    assert said(box).strip()
    assert {path.name for path in tmp_path.iterdir()} <= {"kept"}
    assert all(path.parent == folder for path in folder.rglob("*"))


@pytest.mark.parametrize("text", ODD_TEXTS, ids=range(len(ODD_TEXTS)))
def test_whatever_is_typed_into_the_other_boxes_they_answer(text, roles, sealed, bench):
    for screen, words in (
        (roles, ("What does",)),
        (sealed, ("At speed", "Turning")),
        (bench, ("Add", "Lay", "Take as", "Empty")),
    ):
        type_everywhere(screen, text)
        press(screen, *words)
        assert said(screen).strip()


@pytest.fixture(scope="module")
def roles():
    return RolesBox()


@pytest.fixture(scope="module")
def sealed():
    return SealedBox(WIND)
