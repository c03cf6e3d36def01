"""A whole case in one file, for another club: the machine, its logs, its records, pictures.

The file is a ZIP archive (PKWARE's APPNOTE), which any computer can look into:

====================  =======================================================================
``case.json``         what this is, in which version; which machine; and the names of all else
``machine.toml``      the machine's description
``logs/….csv``        logs
``records/….json``    repair records
``pictures/….png``    pictures, PNG or JPEG
====================  =======================================================================

A strange file is opened safely or refused with its reason.  Nothing is ever unpacked to a disk, and
nothing in it is run.  There are limits on the size and number of everything, on what is said in the
archive and on what comes out of it; names that lead elsewhere, files that ``case.json`` does not
name, links, passwords and pictures that are none are refused.
"""

import io
import os
import re
import zipfile
import zlib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field
from typing import TypeVar

from mechlogic.bench.record import MAX_LINE, Record
from mechlogic.bench.record_file import decode_record, format_record
from mechlogic.bench.store import Which
from mechlogic.describing import writing
from mechlogic.describing.description import DescriptionError, decode
from mechlogic.helpers import safe_file
from mechlogic.helpers.plain_data import dumps, load, plain
from mechlogic.helpers.reading import FileRefused, opened, text_of
from mechlogic.helpers.refusal import Problem
from mechlogic.model.codes import shown
from mechlogic.model.logbook import Logbook, LogbookError, decode_logbook, format_logbook
from mechlogic.model.machine import Machine

__all__ = ["FORMAT", "Case", "decode_case", "format_case", "read_case", "write_case"]

FORMAT = "mechlogic case 1"
"""What ``case.json`` begins with."""

MOST_FILES = 300
"""The most files in a case."""

MAX_BYTES = 50_000_000
"""The longest case, and the most that may come out of it."""

MAX_PICTURE = 10_000_000
"""The longest picture, in bytes."""

NAME = r"[a-z0-9][a-z0-9-]{0,79}"
_FILE = re.compile(rf"logs/{NAME}\.csv|records/{NAME}\.json|pictures/{NAME}\.(png|jpg)")

T = TypeVar("T")


@dataclass(frozen=True)
class Case:
    """Everything about one machine and its trouble.

    Attributes:
        machine: The machine.
        which: Its serial number and owner.
        title: What the case is about, on one line.
        logs: Logs, by name.
        records: Repair records, by name.
        pictures: PNG or JPEG files, by name.

    Names are small Latin letters, figures and hyphens, see ``safe_file.safe_name``; those of
    pictures end in ``.png`` or ``.jpg``.
    """

    machine: Machine
    which: Which
    title: str = ""
    logs: Mapping[str, Logbook] = field(default_factory=dict)
    records: Mapping[str, Record] = field(default_factory=dict)
    pictures: Mapping[str, bytes] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class _Contents:
    """What ``case.json`` says."""

    machine: Which
    files: tuple[str, ...]
    title: str = ""

    def __post_init__(self) -> None:
        if len(self.title) > MAX_LINE or not self.title.isprintable():
            raise ValueError(f"title: not on one line, or longer than {MAX_LINE} characters")


def format_case(case: Case) -> bytes:
    """A case as the bytes of its file; equal cases give equal bytes.

    Raises:
        ValueError: If a name or picture could not be read back, or there is too much of anything.
    """
    files = {f"logs/{name}.csv": format_logbook(log).encode() for name, log in case.logs.items()}
    for name, record in case.records.items():
        files[f"records/{name}.json"] = format_record(record).encode()
    files |= {f"pictures/{name}": data for name, data in case.pictures.items()}
    contents = _Contents(case.which, tuple(sorted(files)), case.title)
    first = {
        "case.json": dumps({"format": FORMAT} | plain(contents)).encode(),
        "machine.toml": writing.write(case.machine).encode(),
    }
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, data in (first | dict(sorted(files.items()))).items():
            archive.writestr(zipfile.ZipInfo(name), data, zipfile.ZIP_DEFLATED)
    decode_case(packed.getvalue(), "this case")  # FileRefused is a ValueError
    return packed.getvalue()


def write_case(case: Case, path: str | os.PathLike[str]) -> None:
    """Write a case to a file, whole or not at all.

    Raises:
        ValueError: As :func:`format_case`.
        OSError: If it cannot be written.
    """
    safe_file.write_whole(path, format_case(case))


def read_case(path: str | os.PathLike[str]) -> Case:
    """The case in a file.

    Raises:
        FileRefused: If it is strange or wrong in any way, with every reason found.
    """
    return decode_case(opened(path, MAX_BYTES), str(path))


def decode_case(data: bytes, source: str) -> Case:
    """The case in the bytes of a file; as :func:`read_case`."""
    files = _unpacked(data, source)
    for name in ("case.json", "machine.toml"):
        if name not in files:
            raise FileRefused.of(source, 0, f"there is no {name} in it", _ASK)
    inside = f"{source}, case.json"
    contents = load(text_of(files.pop("case.json"), inside, MAX_BYTES), inside, _Contents, FORMAT)
    named, found = set(contents.files), set(files) - {"machine.toml"}
    for name in sorted(named ^ found)[:1]:
        what = f"case.json names no {shown(name)}" if name in found else f"{shown(name)} is missing"
        raise FileRefused.of(source, 0, what, _ASK)
    try:
        machine = decode(files["machine.toml"], f"{source}, machine.toml")
    except DescriptionError as error:
        raise FileRefused(error.problems) from None
    problems: list[Problem] = []
    logs = _each(files, "logs", lambda d, s: decode_logbook(d, s, machine.code), source, problems)
    records = _each(files, "records", decode_record, source, problems)
    pictures = _each(files, "pictures", _picture, source, problems)
    if problems:
        raise FileRefused(problems)
    return Case(machine, contents.machine, contents.title, logs, records, pictures)


_ASK = "Ask for the file once more"


def _each(
    files: Mapping[str, bytes],
    folder: str,
    read: Callable[[bytes, str], T],
    source: str,
    problems: list[Problem],
) -> dict[str, T]:
    """The files of one kind, by name, and what is wrong with them."""
    found: dict[str, T] = {}
    for name, data in files.items():
        if name.startswith(f"{folder}/"):
            short = name.partition("/")[2]
            key = short if folder == "pictures" else short.rpartition(".")[0]
            try:
                found[key] = read(data, f"{source}, {name}")
            except (FileRefused, LogbookError) as error:
                problems += error.problems
    return found


def _picture(data: bytes, source: str) -> bytes:
    kind = "jpg" if data.startswith(b"\xff\xd8\xff") else "png"
    if kind == "png" and not data.startswith(b"\x89PNG\r\n\x1a\n"):
        raise FileRefused.of(source, 0, "this is no PNG or JPEG picture", "Leave it out")
    if not source.endswith(f".{kind}"):
        raise FileRefused.of(source, 0, f"this is a {kind} picture by another name", "Rename it")
    if len(data) > MAX_PICTURE:
        raise FileRefused.of(source, 0, f"a picture of {len(data)} bytes", "Make it smaller")
    return data


# -- unpacking -------------------------------------------------------------------------------------


def _unpacked(data: bytes, source: str) -> dict[str, bytes]:
    """The files in an archive, in memory only."""

    def refused(what: str, mend: str = _ASK) -> FileRefused:
        return FileRefused.of(source, 0, what, mend)

    if len(data) > MAX_BYTES:
        raise refused(f"this is more than {MAX_BYTES} bytes", "Leave out some pictures")
    if not data.startswith(b"PK\x03\x04"):
        raise refused("this is no case file", "Choose a file that was saved as a case")
    if data.count(b"PK\x01\x02") > 2 * MOST_FILES:  # before an archive of a million is listed
        raise refused(f"there are more than {MOST_FILES} files in it", "Make two cases of it")
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            return dict(_members(archive, refused))
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, RuntimeError, UnicodeError,
            ValueError, OverflowError, zipfile.LargeZipFile, LookupError) as error:  # fmt: skip
        if isinstance(error, FileRefused):
            raise
        raise refused("the archive is damaged") from None


def _members(
    archive: zipfile.ZipFile, refused: Callable[..., FileRefused]
) -> Iterator[tuple[str, bytes]]:
    seen: set[str] = set()
    room = MAX_BYTES
    if len(archive.infolist()) > MOST_FILES:
        raise refused(f"there are more than {MOST_FILES} files in it", "Make two cases of it")
    for member in archive.infolist():
        name = member.filename
        if name not in ("case.json", "machine.toml") and not _FILE.fullmatch(name):
            raise refused(f"{shown(name)} has no place in a case")
        if name in seen:
            raise refused(f"{shown(name)} is in it twice")
        seen.add(name)
        if member.flag_bits & 1:
            raise refused(f"{name} is locked with a password", "Ask for one without a password")
        if member.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
            raise refused(f"{name} is packed in a way that is not read here")
        if member.external_attr >> 28 == 0xA:
            raise refused(f"{name} is a link and no file")
        with archive.open(member) as file:
            data = file.read(room + 1)
        room -= len(data)
        if room < 0:
            raise refused(f"more than {MAX_BYTES} bytes come out of it")
        yield name, data
