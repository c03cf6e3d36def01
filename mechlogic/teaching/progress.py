"""What a student has done: one line for each question answered, in a file beside the workbooks.

The file is plain text, a line of JSON for each thing done, and stays on this computer: nothing is
sent anywhere.  Lines are only ever added, under a lock, and the longer file takes the place of the
shorter whole or not at all (see :mod:`mechlogic.helpers.safe_file`): two notebooks that are
answered at once lose nothing of each other's, and no kill or full disk leaves half a line.  A line
that somebody spoils in an editor costs itself alone.

Which questions a workbook asks is read off its code cells, without running them.
"""

import ast
import hashlib
import json
import os
import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date
from pathlib import Path

from mechlogic.helpers import safe_file
from mechlogic.helpers.refusal import on_one_line

__all__ = [
    "FILE",
    "SEALED",
    "Kept",
    "ProgressError",
    "Workbook",
    "beside",
    "exercise_key",
    "in_done",
    "key_of",
    "workbooks",
]

FILE = "progress.jsonl"
"""What the file is called."""

SEALED = "sealed/"
"""How the key of a sealed fault begins."""

LARGEST_FILE = 2_000_000
"""Bytes of a file that are read; a whole course needs some thousands."""

LONGEST_KEY = 200
"""Characters of a key."""

ASKING = ("choice", "short_answer")
"""The functions that ask a question."""

REWORDED: dict[str, list[str]] = json.loads(
    (Path(__file__).parent / "reworded.json").read_text(encoding="utf-8")
)
"""The keys of questions asked in other words today, each with those that it had before."""

PAGE = 100_000
"""More than any number of an exercise that can be typed."""

NUMBERED = "[0-9][0-9]_*.ipynb"
"""What the workbooks of a course are called."""


class ProgressError(ValueError):
    """The file cannot be read or written; says why, and what to do."""


def beside(folder: str | os.PathLike[str] = ".") -> "Kept | None":
    """The progress kept in a folder, if workbooks lie there; None if not, and nothing is kept."""
    here = Path(folder)
    try:
        found = next(here.glob(NUMBERED), None)
    except OSError:
        return None
    return Kept(here / FILE) if found else None


def key_of(prompt: str) -> str:
    """A key for a question that was given none: the same words always have the same one."""
    words = " ".join(prompt.split())
    return f"question {hashlib.sha256(words.encode()).hexdigest()[:16]}"


def exercise_key(page: int, machine: str, kind: str, number: int) -> str:
    """The key of an exercise: the workbook's number, the machine, the kind, the number typed."""
    return f"exercise/{page}/{machine}/{kind}/{number}"


def in_done(key: str, done: frozenset[str]) -> bool:
    """Whether something is among what was done, also under a key that it had before."""
    return not done.isdisjoint((key, *REWORDED.get(key, ()), *_before_pages(key)))


def _before_pages(key: str) -> tuple[str, ...]:
    """The keys of an exercise when all workbooks shared them, and when the number held the page."""
    found = re.fullmatch(r"exercise/(\d+)/(.+)/(\d+)", key, re.DOTALL)
    if not found:
        return ()
    page, what, number = found.groups()
    return f"practice/{what}/{number}", f"practice/{what}/{int(page) * PAGE + int(number)}"


@dataclass(frozen=True)
class Kept:
    """What has been done, as it is kept in one file.

    Attributes:
        path: The file; it need not exist.
    """

    path: Path

    def read(self) -> tuple[frozenset[str], tuple[str, ...]]:
        """The keys of all that was done, and what is wrong with the file, line by line.

        Raises:
            ProgressError: If there is a file, and it cannot be read.
        """
        return self._lines_of(self._bytes())

    def _bytes(self) -> bytes:
        try:
            return self._checked(safe_file.read_bytes(self.path, LARGEST_FILE))
        except FileNotFoundError:
            return b""
        except OSError as error:
            raise self._error("read", error, "Check who may read it") from error

    def _checked(self, data: bytes) -> bytes:
        if len(data) > LARGEST_FILE:
            raise ProgressError(
                f"{self.path} is longer than {LARGEST_FILE} bytes, which is too long. "
                "Move it elsewhere; a new one is then begun."
            )
        return data

    def _lines_of(self, data: bytes) -> tuple[frozenset[str], tuple[str, ...]]:
        done, problems = set(), []
        for number, line in enumerate(data.split(b"\n"), start=1):
            if line.strip():
                try:
                    done.add(_key_in(line))
                except ValueError as error:
                    problems.append(f"{self.path}, line {number}: {error}. It is passed over.")
        return frozenset(done), tuple(problems)

    @property
    def done(self) -> frozenset[str]:
        """The keys of all that was done; none if the file cannot be read."""
        try:
            return self.read()[0]
        except ProgressError:
            return frozenset()

    def note(self, key: str, on: date | None = None) -> None:
        """Keep that something was done, once; when this returns, it is safe on the disk.

        Args:
            key: The key of it, at most 200 characters.
            on: The day; today if left out.

        Raises:
            ProgressError: If it could not be kept; what was there is as it was.
            ValueError: If the key is empty or too long.
        """
        if not 0 < len(key) <= LONGEST_KEY:
            raise ValueError(f"a key of {len(key)} characters: give it 1 to {LONGEST_KEY}.")
        day = (on or date.today()).isoformat()
        line = json.dumps({"done": key, "on": day}, ensure_ascii=True).encode() + b"\n"
        try:
            with safe_file.locked(self.path.resolve().parent):
                safe_file.clear_away(self.path)
                before = self._bytes()
                if not in_done(key, self._lines_of(before)[0]):
                    whole_lines = before if before.endswith(b"\n") or not before else before + b"\n"
                    safe_file.write_whole(self.path, self._checked(whole_lines + line))
        except OSError as error:
            raise self._error("written", error, safe_file.mend_for(error)) from error

    def reset(self) -> None:
        """Forget everything.

        Raises:
            ProgressError: If the file cannot be removed.
        """
        try:
            with safe_file.locked(self.path.resolve().parent):
                self.path.unlink(missing_ok=True)
        except OSError as error:
            raise self._error("removed", error, safe_file.mend_for(error)) from error

    def _error(self, what: str, error: OSError, mend: str) -> ProgressError:
        said = f"{self.path} cannot be {what} ({error.strerror or error})"
        said = on_one_line(said)
        return ProgressError(f"{said}. {mend.removesuffix('.')}. You can go on without it.")


def _key_in(line: bytes) -> str:
    """The key that a line holds."""
    try:
        found = json.loads(line)
    except (ValueError, RecursionError):
        raise ValueError("this is no line of JSON") from None
    key = found.get("done") if isinstance(found, dict) else None
    if not isinstance(key, str) or not 0 < len(key) <= LONGEST_KEY:
        raise ValueError('there is no "done" with a key in it')
    return key


# -- which questions there are ---------------------------------------------------------------------


@dataclass(frozen=True)
class Workbook:
    """A workbook and the questions in it.

    Attributes:
        name: The name of its file.
        title: Its first heading.
        questions: The keys of its questions, in order.
    """

    name: str
    title: str
    questions: tuple[str, ...]

    def answered(self, done: frozenset[str]) -> int:
        """How many of its questions are among what was done."""
        return sum(in_done(key, done) for key in self.questions)


def workbooks(folder: str | os.PathLike[str] = ".") -> tuple[Workbook, ...]:
    """The workbooks in a folder, in order; one that cannot be read is left out."""
    found = map(_workbook, sorted(Path(folder).glob(NUMBERED)))
    return tuple(workbook for workbook in found if workbook)


def _workbook(path: Path) -> Workbook | None:
    try:
        cells = json.loads(path.read_text(encoding="utf-8"))["cells"]
        sources = [(cell["cell_type"], "".join(cell["source"])) for cell in cells]
    except (OSError, ValueError, KeyError, TypeError, RecursionError):
        return None
    prose = "\n".join(text for kind, text in sources if kind == "markdown")
    heading = re.search(r"^#\s+(.+)$", prose, re.MULTILINE)
    code = [text for kind, text in sources if kind == "code"]
    keys = dict.fromkeys(key for text in code for key in _keys_in(text))
    return Workbook(path.name, heading[1].strip() if heading else path.stem, tuple(keys))


def _keys_in(code: str) -> Iterator[str]:
    """The keys of the questions that a cell asks, as far as they stand in it as plain text."""
    plain = "\n".join(line for line in code.split("\n") if not line.startswith(("%", "!")))
    try:
        tree = ast.parse(plain)
    except (SyntaxError, ValueError, RecursionError):
        return
    for node in ast.walk(tree):
        if isinstance(node, ast.Call) and _called(node) in ASKING:
            key = _text(keyword.value for keyword in node.keywords if keyword.arg == "key")
            prompt = _text(node.args[:1])
            if key or prompt:
                yield key or key_of(prompt)


def _called(node: ast.Call) -> str:
    return getattr(node.func, "id", "") or getattr(node.func, "attr", "")


def _text(nodes: Iterable[ast.expr]) -> str:
    values = (node.value for node in nodes if isinstance(node, ast.Constant))
    return next((value for value in values if isinstance(value, str)), "")
