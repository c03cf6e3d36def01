"""Numbers kept in the three files that the library writes for a reader, one way for all.

Small, so that the many processes of a test begin quickly.
"""

from datetime import date
from pathlib import Path

import mechlogic
from mechlogic.bench.record import MachineNamed, Note, Record
from mechlogic.bench.record_file import RecordBook, RecordError, load_record
from mechlogic.bench.store import Store
from mechlogic.helpers.storage import Folder
from mechlogic.teaching.progress import FILE, Kept, ProgressError

TODAY = date(2031, 2, 3)
WIND = mechlogic.load("wind")


class InRecord:
    """Numbers kept as the notes of a repair record; each save writes all of them anew."""

    refusal: type[ValueError] = RecordError

    def __init__(self, folder: Path) -> None:
        self.path = folder / "cold.json"
        if not self.path.exists():
            machine = MachineNamed("saltmere", "Saltmere printer", "sha256:0")
            RecordBook.create(self.path, Record(machine, "Cold mornings", TODAY))
        self.book = RecordBook(self.path)

    def add(self, number: int) -> None:
        self.book.save(self.book.record.adding_note(Note(TODAY, f"{number} {'.' * 300}")))

    def kept(self) -> list[int]:
        return [int(note.text.split()[0]) for note in load_record(self.path).notes]


class InProgress:
    """Numbers kept as keys of questions that were answered."""

    refusal: type[ValueError] = ProgressError

    def __init__(self, folder: Path) -> None:
        self.path = folder / FILE
        self.progress = Kept(self.path)

    def add(self, number: int) -> None:
        self.progress.note(f"{number} {'.' * 180}", TODAY)

    def kept(self) -> list[int]:
        done, problems = self.progress.read()
        assert problems == (), "a line that is not whole"
        assert not self.path.exists() or self.path.read_bytes().endswith(b"\n")
        return sorted(int(key.split()[0]) for key in done)


class InBench:
    """Numbers kept as the notes of a log on the bench, each saved as it is typed."""

    refusal: type[ValueError] = ValueError

    def __init__(self, folder: Path) -> None:
        self.path = folder / "bench-wind.json"
        self.bench = Store(Folder(folder)).bench(WIND)

    def add(self, number: int) -> None:
        before = self.bench.editor
        self.bench.put(before.write("N", "E", note=f"{number} {'.' * 300}"))
        if self.bench.trouble:
            self.bench.editor = before  # the caller will type it again
            raise ValueError(self.bench.trouble)

    def kept(self) -> list[int]:
        again = InBench(self.path.parent).bench
        assert not again.trouble, again.trouble
        return [int(line.note.split()[0]) for line in again.editor.lines]
