"""One file holds a whole case; a strange one is opened safely or refused with its reason."""

import io
import random
import zipfile
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest

import mechlogic
from mechlogic import machines
from mechlogic.bench.record import Note, Record
from mechlogic.bench.store import Which
from mechlogic.helpers.reading import FileRefused
from mechlogic.helpers.storage import Folder, InMapping
from mechlogic.machines import case_file, own
from mechlogic.machines.case_file import Case, decode_case, format_case, read_case, write_case

MACHINE = mechlogic.load("wind")
PNG = b"\x89PNG\r\n\x1a\n" + bytes(30)
CASE = Case(
    MACHINE,
    Which("wind", "17", "Клуб"),
    "Cold mornings",
    {"monday": mechlogic.from_lines("NESW", "NEEW", MACHINE.code)},
    {"first": Record.opening(MACHINE, "Frost", date(2031, 2, 3)).adding_note(
        Note(date(2031, 2, 3), "brown oil"))},
    {"arm.png": PNG, "slide.jpg": b"\xff\xd8\xff\xe0" + bytes(30)},
)  # fmt: skip


def test_a_case_comes_back_as_it_was_and_equal_cases_have_equal_bytes(tmp_path):
    path = tmp_path / "frost.case"
    write_case(CASE, path)
    again = read_case(path)
    assert (again.which, again.title) == (CASE.which, CASE.title)
    assert again.logs["monday"].entries == CASE.logs["monday"].entries
    assert (again.records, again.pictures) == (CASE.records, CASE.pictures)
    assert again.machine.mechanism.parts.keys() == MACHINE.mechanism.parts.keys()
    assert again.machine.printed == MACHINE.printed
    assert format_case(CASE) == path.read_bytes() == format_case(again)


def files() -> dict[str, bytes]:
    with zipfile.ZipFile(io.BytesIO(format_case(CASE))) as archive:
        return {name: archive.read(name) for name in archive.namelist()}


def packed(members: dict[str, bytes] | list[tuple[zipfile.ZipInfo | str, bytes]]) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in members.items() if isinstance(members, dict) else members:
            archive.writestr(name, data)
    return out.getvalue()


def a_link() -> zipfile.ZipInfo:
    link = zipfile.ZipInfo("logs/monday.csv")
    link.create_system, link.external_attr = 3, 0o120777 << 16
    return link


def locked(data: bytes) -> bytes:
    """The same archive, said to be locked with a password."""
    changed = bytearray(data)
    for mark, at in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        changed[data.index(mark) + at] |= 1
    return bytes(changed)


STRANGE = {
    "nothing": (lambda: b"", "no case file"),
    "a picture": (lambda: PNG, "no case file"),
    "another archive": (lambda: packed({"a.txt": b"x"}), "'a.txt' has no place"),
    "half of it": (lambda: format_case(CASE)[:900], "damaged"),
    "a byte changed": (lambda: format_case(CASE).replace(b"PK\x05\x06", b"PK\x05\x07"), "damaged"),
    "a way out": (lambda: packed(files() | {"../evil.csv": b""}), "has no place"),
    "an absolute name": (lambda: packed(files() | {"/etc/passwd": b""}), "has no place"),
    "a drive": (lambda: packed(files() | {"logs/c:evil.csv": b""}), "has no place"),
    "a program": (lambda: packed(files() | {"run.py": b"print(1)"}), "has no place"),
    "a page": (lambda: packed(files() | {"pictures/x.svg": b"<svg/>"}), "has no place"),
    "one too many": (lambda: packed(files() | {"logs/more.csv": b"sent,printed\n"}), "names no"),
    "one too few": (lambda: packed({k: v for k, v in files().items() if "csv" not in k}),
                    "'logs/monday.csv' is missing"),
    "no contents": (lambda: packed({"machine.toml": b""}), "there is no case.json"),
    "no machine": (lambda: packed({"case.json": files()["case.json"]}), "no machine.toml"),
    "twice": (lambda: packed([*files().items(), ("logs/monday.csv", b"")]), "twice"),
    "a link": (lambda: packed([(a_link(), b"/etc/passwd")]), "is a link"),
    "a password": (lambda: locked(format_case(CASE)), "locked with a password"),
    "very many": (lambda: packed({f"logs/x{n}.csv": b"" for n in range(400)}), "more than 300"),
    "a million": (lambda: b"PK\x03\x04" + b"PK\x01\x02" * 100_000, "more than 300"),
    "a bomb": (lambda: packed(files() | {"logs/big.csv": bytes(60_000_000)}), "come out of it"),
    "too long": (lambda: b"PK\x03\x04" + bytes(case_file.MAX_BYTES), "more than 50000000 bytes"),
    "no picture": (lambda: packed(files() | {"pictures/arm.png": b"<svg onload=x>"}), "no PNG"),
    "a false name": (lambda: packed(files() | {"pictures/slide.jpg": PNG}), "by another name"),
    "newer": (lambda: packed(files() | {"case.json": b'{"format": "mechlogic case 2"}'}), "newer"),
    "no JSON": (lambda: packed(files() | {"case.json": b"{"}), "not valid JSON"),
    "a wrong machine": (lambda: packed(files() | {"machine.toml": b"[machine"}), "machine.toml"),
    "a wrong log": (lambda: packed(files() | {"logs/monday.csv": b"sent,printed\nN,NN\n"}),
                    "logs/monday.csv, line 2, printed"),
    "a wrong record": (lambda: packed(files() | {"records/first.json": b"{}"}),
                       "not a repair record"),
}  # fmt: skip


@pytest.mark.filterwarnings("ignore:Duplicate name")
@pytest.mark.parametrize("name", STRANGE)
def test_a_strange_file_is_refused_with_its_reason(name, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    make, says = STRANGE[name]
    with pytest.raises(FileRefused) as caught:
        decode_case(make(), "frost.case")
    assert says in str(caught.value)
    assert all(problem.mend for problem in caught.value.problems)
    assert list(tmp_path.iterdir()) == [], "nothing is unpacked"


def test_a_torn_case_is_refused_or_read_but_breaks_nothing():
    whole, rng = format_case(CASE), random.Random(5)
    for _ in range(300):
        torn = bytearray(whole)
        for _ in range(rng.randint(1, 4)):
            torn[rng.randrange(len(torn))] = rng.randrange(256)
        try:
            decode_case(bytes(torn), "torn.case")
        except FileRefused as error:
            assert error.problems


def test_what_could_not_be_read_back_is_not_written():
    for wrong in (
        replace(CASE, pictures={"../x.png": PNG}),
        replace(CASE, pictures={"x.png": b"text"}),
        replace(CASE, logs={"My log": CASE.logs["monday"]}),
        replace(CASE, title="two\nlines"),
    ):
        with pytest.raises(ValueError, match=r"[a-z]"):
            format_case(wrong)


# -- machines of one's own ---


@pytest.mark.parametrize("make", [lambda folder: Folder(folder / "kept"), lambda _: InMapping()])
def test_my_own_machine_once_described_is_listed_everywhere(make, tmp_path):
    storage = make(tmp_path)
    assert own.kept_machines(storage) == ({}, ())
    text = (machines.FOLDER / "wind.toml").read_bytes()
    for name in ("attic", "чердак", "barn"):
        own.keep(storage, text.replace(b'name = "wind"', f'name = "{name}"'.encode(), 1), name)
    assert sorted(own.kept_machines(storage)[0]) == ["attic", "barn", "чердак"]
    own.forget(storage, "barn")
    assert sorted(own.kept_machines(storage)[0]) == ["attic", "чердак"]


def test_a_wrong_description_is_not_kept_and_a_spoilt_file_hides_no_other(tmp_path):
    storage = Folder(tmp_path)
    with pytest.raises(mechlogic.DescriptionError):
        own.keep(storage, b"[machine")
    assert storage.names() == []
    own.keep(storage, (machines.FOLDER / "wind.toml").read_bytes())
    (Path(tmp_path) / "machine-odd.toml").write_bytes(b"[machine")
    found, problems = own.kept_machines(storage)
    assert list(found) == ["wind"] and "machine-odd.toml" in problems[0]
