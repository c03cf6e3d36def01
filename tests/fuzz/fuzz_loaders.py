"""Files that no person would write, for the loaders of descriptions and of logs.

    python tests/fuzz/fuzz_loaders.py description --minutes 10
    python tests/fuzz/fuzz_loaders.py log --minutes 10 --seed 7
    python tests/fuzz/fuzz_loaders.py log --minutes 10 --engine atheris

The files are made from the machines and logs that ship: lines and bytes are lost, doubled,
exchanged and put in from a list of nasty pieces.  A loader may take a file, or refuse it with its
own error, which names the file and has a mend for each problem.  Anything else is a finding: it is
printed, and its file is kept in the folder --keep.  The exit code is 1 if there was one.

The engine ``plain`` draws blindly, and the same seed always makes the same files.  The engine
``atheris`` (pip install atheris) makes them in the same ways, and is led by the code they reach.
"""

import argparse
import hashlib
import os
import resource
import signal
import sys
import tempfile
import time
import traceback
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from random import Random
from types import FrameType

ROOT = Path(__file__).parents[2]

MOST_SECONDS = 1.0
"""Seconds of the processor that a loader may take for one file."""

MOST_MIB = 200
"""How far the memory of the whole run may rise while one file is read."""

NAME = "harbour/some file"
"""What the files are called; a refusal must name it."""

PIECES: tuple[bytes, ...] = tuple(
    piece.encode("utf-8", "surrogatepass")
    for piece in (
        *('"', "'", '"""', "'''", "[", "]", "[[", "]]", "{", "}", "=", ".", ",", ";", "\t", "#"),
        *("\n", "\r", "\r\n", "\\", "\\u0000", "\\ud800", "\x00", "\ufeff", "\ud800"),
        *("nan", "inf", "-inf", "1e400", "-1", "0", "1_0", "0x" + "f" * 5000, "9" * 5000, "4,5"),
        *("1979-05-27", "07:32:00", "1979-05-27T07:32:00Z", "true", "false", "1e-400", "0.1"),
        *(
            "а",
            "e\u0301",
            "\u200b",
            "\u202e",
            "\u2028",
            "\u0301" * 40,
            "Ω",
            "＝",
            "𝕏",
            "…",
            "“",
            "”",
        ),
        *("=1+1", "+1", "-1", "@SUM(A1)", "'=1", "A+LF", "++LF", "=+CR", "STEP", "SP", "3/13"),
        *("13-Mar", "99/99", "4/1", "LTRS", "FIGS", "nothing", "unreadable", "yes", "speed"),
        *("sent", "printed", "driven", "oil", "clipped", "gap", "note", "sent,printed\n"),
        *("[parts.bar1]\n", "[parts.x]\n", 'joint = "bit"\n', 'joint = "follow"\n', "bit = 1\n"),
        *(
            'input = "x"\n',
            "a.b.c.d.e = 1\n",
            "[a.b.c.d.e]\n",
            "x = [" * 9,
            "{x = " * 9,
            "[]",
            "{}",
        ),
        *("[codes]\n", "[wheel]\n", "[[wheel]]\n", "[machine]\n", "ratio = 0.5\n", "note = 'x'\n"),
        *("gap_mm = 1.0\n", "tolerances = { gap_mm = 0.1 }\n", "adjusts = { offset_mm = 1 }\n"),
        *("moves = { mass_g = 1, spring_n_per_mm = 1 }\n", "bounce_ms = 1\n", "draw = { x = 1 }\n"),
    )
)
"""What is put in."""


class Broken(Exception):
    """A loader that did something else than to take a file or to refuse it properly."""


class _Slow(BaseException):
    """A loader that does not come back; no loader can mistake it for an error of its own."""


def check_description(data: bytes) -> bool:
    """Hand bytes to the loader of descriptions; whether it took them.

    Raises:
        Broken: If it did not refuse them as it must.
    """
    from mechlogic.describing.description import DescriptionError, decode

    try:
        decode(data, NAME)
    except DescriptionError as error:
        _look_at(str(error), error.problems)
        return False
    return True


def check_log(data: bytes) -> bool:
    """Hand bytes to the loader of logs; whether it took them.  What it takes must survive saving.

    Raises:
        Broken: If it did not refuse them as it must, or lost something.
    """
    from mechlogic.model.codes import FIVE_UNIT, SEVEN_UNIT
    from mechlogic.model.logbook import (
        LogbookError,
        decode_logbook,
        format_logbook,
        parse_logbook,
    )

    code = FIVE_UNIT if data[-1:] == b"5" else SEVEN_UNIT
    try:
        log = decode_logbook(data, NAME, code)
    except LogbookError as error:
        _look_at(str(error), error.problems)
        return False
    if parse_logbook(format_logbook(log), NAME, code).entries != log.entries:
        raise Broken("the log is another one when it is read again")
    return True


def _look_at(message: str, problems: Sequence[object]) -> None:
    """A refusal names the file, and each problem says what is wrong and how to mend it."""
    if not problems or NAME not in message:
        raise Broken(f"the refusal does not name the file: {message[:200]!r}")
    for problem in problems:
        if not (getattr(problem, "what", "") and getattr(problem, "mend", "")):
            raise Broken(f"there is no mend in {str(problem)[:200]!r}")


@dataclass(frozen=True)
class Target:
    """A loader, the good files to begin with, and how bytes are handed to it."""

    check: Callable[[bytes], bool]
    good: tuple[bytes, ...]


def target(name: str) -> Target:
    """The loader of that name: ``description`` or ``log``."""
    if name == "description":
        folders, kind, check = (ROOT / "mechlogic/machines", ROOT / "workbooks/machines"), "toml", 0
    else:
        folders, kind, check = (ROOT / "workbooks/logs",), "csv", 1
    files = [path for folder in folders for path in sorted(folder.glob(f"*.{kind}"))]
    return Target((check_description, check_log)[check], tuple(f.read_bytes() for f in files))


# -- making files ----------------------------------------------------------------------------------


def altered(data: bytes, others: Sequence[bytes], rng: Random) -> bytes:
    """A file with something wrong in one place or several."""
    for _ in range(rng.choice((1, 1, 1, 2, 3, 6))):
        data = rng.choice(WAYS)(data, others, rng)
    return data[: 1 << 20]


def _lines(data: bytes, others: Sequence[bytes], rng: Random) -> bytes:
    """Some lines lost, doubled, exchanged, or taken from another file."""
    lines = data.splitlines(keepends=True) or [b""]
    at = rng.randrange(len(lines))
    until = at + rng.choice((0, 1, 1, 1, 2, 5, 40))
    more = rng.choice(others).splitlines(keepends=True) or [b""]
    begin = rng.randrange(len(more))
    put = rng.choice(([], lines[at:until] * 2, more[begin : begin + 1], [rng.choice(lines)]))
    lines[at:until] = put
    return b"".join(lines)


def _value(data: bytes, others: Sequence[bytes], rng: Random) -> bytes:
    """What stands between two separators, changed for a nasty piece or for another one."""
    marks = [i for i, c in enumerate(data) if c in b'=,[]{}\n"']
    if len(marks) < 2:
        return rng.choice(PIECES) + data
    one = rng.randrange(len(marks) - 1)
    other = rng.randrange(len(marks) - 1)
    piece = rng.choice((rng.choice(PIECES), data[marks[other] + 1 : marks[other + 1]]))
    return data[: marks[one] + 1] + piece + data[marks[one + 1] :]


def _bytes(data: bytes, others: Sequence[bytes], rng: Random) -> bytes:
    """Some bytes lost, changed or put in."""
    at = rng.randrange(len(data) + 1)
    until = at + rng.choice((0, 0, 1, 2, 9))
    put = rng.choice((b"", rng.randbytes(1), rng.randbytes(3), rng.choice(PIECES)))
    return data[:at] + put + data[until:]


def _many(data: bytes, others: Sequence[bytes], rng: Random) -> bytes:
    """One piece, over and over."""
    at = rng.randrange(len(data) + 1)
    line = rng.choice(data.splitlines(keepends=True) or [b"x"])
    piece = rng.choice((rng.choice(PIECES), rng.choice(PIECES) + rng.choice(PIECES), line))
    often = min(rng.choice((3, 30, 300, 30_000)), (1 << 20) // len(piece))
    return data[:at] + piece * often + data[at:]


def _cut(data: bytes, others: Sequence[bytes], rng: Random) -> bytes:
    """The file broken off."""
    return data[: rng.randrange(len(data) + 1)]


def _encoded(data: bytes, others: Sequence[bytes], rng: Random) -> bytes:
    """Saved by another program."""
    text = data.decode("utf-8", "replace")
    kind = rng.choice(("utf-16", "utf-16-le", "utf-16-be", "latin-1", "utf-8-sig", "utf-32", "CR"))
    if kind == "CR":
        return text.replace("\n", "\r").encode()
    return text.encode(kind, "replace")


WAYS: tuple[Callable[[bytes, Sequence[bytes], Random], bytes], ...] = (
    *(_lines,) * 6,
    *(_value,) * 8,
    *(_bytes,) * 6,
    _many,
    _cut,
    _encoded,
)
"""The ways to alter a file; the commoner ones stand here more than once."""


# -- trying them -----------------------------------------------------------------------------------


@dataclass
class Run:
    """One run over many files.

    Attributes:
        tried, taken: How many files were tried, and how many of them the loader took.
        slowest: Seconds of the processor that the slowest one took.
        findings: For each kind of finding what was said, and the first file that showed it.
    """

    target: Target
    tried: int = 0
    taken: int = 0
    slowest: float = 0.0
    findings: dict[str, bytes] = field(default_factory=dict)
    most_seconds: float = MOST_SECONDS

    def warm(self) -> None:
        """Try the good files, which must be taken or refused like any other."""
        for data in self.target.good:
            self.target.check(data)

    def try_(self, data: bytes) -> None:
        """Try one file and note what is wrong with how it went."""
        self.tried += 1
        begin, memory = time.process_time(), _mib()
        signal.setitimer(signal.ITIMER_VIRTUAL, 20 * self.most_seconds)
        try:
            self.taken += self.target.check(data)
        except _Slow:
            self._note("it does not come back", data)
        except Exception as error:
            frame = traceback.extract_tb(error.__traceback__)[-1]
            said = f"{type(error).__name__} in {frame.name}, line {frame.lineno}: {error}"
            self._note(said[:300], data)
        finally:
            signal.setitimer(signal.ITIMER_VIRTUAL, 0)
        taken = time.process_time() - begin
        self.slowest = max(self.slowest, taken)
        if taken > self.most_seconds:
            self._note(f"it takes {taken:.0f} s", data)
        if (now := _mib()) > memory + MOST_MIB:
            self._note(f"it takes {now - memory:.0f} MiB", data)

    def _note(self, said: str, data: bytes) -> None:
        self.findings.setdefault(said, data)


def _mib() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def _does_not_come_back(signal_number: int, frame: FrameType | None) -> None:
    raise _Slow


def plain(run: Run, seed: int, seconds: float, most: int | None = None) -> None:
    """Draw files until the time is over, or so many have been tried."""
    rng, good = Random(seed), run.target.good
    end = time.monotonic() + seconds
    pool = list(good)
    while time.monotonic() < end and run.tried != most:
        data = altered(rng.choice(pool), good, rng)
        taken = run.taken
        run.try_(data)
        if run.taken > taken and len(data) < 50_000:  # go on from what was taken, too
            pool.append(data)
            if len(pool) > len(good) + 200:
                del pool[len(good)]


def with_atheris(run: Run, seed: int, seconds: float, done: Callable[[], None]) -> None:
    """The same, led by the code that is reached.  Once the time is over *done* ends the program."""
    import atheris

    def mutate(data: bytes, largest: int, seed: int) -> bytes:
        rng = Random(seed)
        if rng.random() < 0.3:
            return bytes(atheris.Mutate(data, largest))
        return altered(data, run.target.good, rng)[:largest]

    end = time.monotonic() + seconds
    run.most_seconds *= 5  # what is watched is slower

    def try_(data: bytes) -> None:
        run.try_(data)
        if time.monotonic() > end:  # libFuzzer neither returns nor takes an ordinary exit for one
            done()
            os.kill(os.getpid(), signal.SIGKILL)

    corpus = Path(tempfile.mkdtemp(prefix="fuzz-corpus-"))
    for number, data in enumerate(run.target.good):
        (corpus / str(number)).write_bytes(data)
    options = [f"-seed={seed}", "-max_len=40000", "-timeout=3600", "-rss_limit_mb=0"]
    options += ["-verbosity=0", f"-artifact_prefix={corpus}/stopped-"]
    atheris.Setup([sys.argv[0], *options, str(corpus)], try_, custom_mutator=mutate)
    atheris.Fuzz()


def main() -> int:
    """Run as the command line says."""
    words = argparse.ArgumentParser(description="Hostile files for the two loaders.")
    words.add_argument("loader", choices=("description", "log"))
    words.add_argument("--minutes", type=float, default=1.0)
    words.add_argument("--seed", type=int, default=1)
    words.add_argument("--engine", choices=("plain", "atheris"), default="plain")
    words.add_argument("--keep", type=Path, help="where the files of findings are kept")
    given = words.parse_args()
    sys.path.insert(0, str(ROOT))
    if given.engine == "atheris":
        import atheris

        with atheris.instrument_imports(include=["mechlogic", "tomllib"]):
            import mechlogic.describing.description
            import mechlogic.model.logbook  # noqa: F401
    signal.signal(signal.SIGVTALRM, _does_not_come_back)
    run = Run(target(given.loader))
    run.warm()
    keep = given.keep or Path(tempfile.mkdtemp(prefix="fuzz-"))
    if given.engine == "plain":
        plain(run, given.seed, 60 * given.minutes)
        _report(run, keep)
    elif child := os.fork():
        os.waitpid(child, 0)
    else:
        with_atheris(run, given.seed, 60 * given.minutes, lambda: _report(run, keep))
    return 1 if any(keep.glob("*")) else 0


def _report(run: Run, keep: Path) -> None:
    for said, data in run.findings.items():
        keep.mkdir(parents=True, exist_ok=True)
        path = keep / hashlib.sha256(data).hexdigest()[:16]
        path.write_bytes(data)
        print(f"{said}\n  {path} ({len(data)} bytes)")
    print(
        f"{run.tried} files, {run.taken} of them taken; the slowest took {run.slowest:.2f} s, "
        f"memory {_mib():.0f} MiB; findings: {len(run.findings)}",
        flush=True,
    )


if __name__ == "__main__":
    sys.exit(main())
