"""How the work grows with the code's bits and with the number of parts.  A report, not a test.

    python tests/bench/growth.py               # the table; a few minutes
    python tests/bench/growth.py figures.json  # the same, kept for docs/make_growth_picture.py

Machines are invented (see invented.py).  Each method is tried on each of them in a process of its
own, which may take a minute and two gigabytes.  Where the library says that a machine is too much
for a method, its words stand below the table.  Times are computing times of one process, in
seconds.
"""

import json
import multiprocessing
import random
import resource
import signal
import sys
from collections.abc import Callable, Iterable, Iterator
from contextlib import suppress
from time import process_time
from typing import Any, NamedTuple

import scipy.optimize  # noqa: F401  its loading is not counted
from invented import wheel_machine

from mechlogic import Behaviour, Entry, Fault, Logbook
from mechlogic.acceptance.testcards import smallest_sequence
from mechlogic.bench.diagnosis import _pairs, classes
from mechlogic.bench.evidence import Evidence
from mechlogic.bench.search import minimal_sets
from mechlogic.model.behaviour import World
from mechlogic.model.faults import iter_pairs, single_faults
from mechlogic.model.machine import Machine, spread
from mechlogic.model.table import tabulate
from mechlogic.widgets.frames import frames
from mechlogic.widgets.web_page import web_page

SECONDS, BYTES = 90, 2 << 30
BRIEF = 0.1
"""What keeps no result is repeated for so many seconds."""
BITS = range(4, 13)
PARTS = (12, 20, 30, 50, 75, 100, 150, 200, 250)
BITS_OF_PARTS = 6
"""The machines that grow in parts have so many bits."""


class Point(NamedTuple):
    """One method on one machine.

    Attributes:
        method: What was done.
        size: How many bits, or parts.
        seconds: Computing time; None if it was not done.
        said: Why it was not done, in the library's words, or what it came to.
    """

    method: str
    size: int
    seconds: float | None
    said: str = ""


def table(machine: Machine) -> object:
    return tabulate(machine.mechanism, machine.all_codes)


def transitions(machine: Machine) -> object:
    return _pairs.__wrapped__(machine)  # worked out anew each time


def pairs(machine: Machine) -> str:
    """Every pair of faults held against sixteen entries by a machine with two stuck bars."""
    first, *_, last = machine.mechanism.bars
    stuck = Behaviour(machine, (Fault(first, "stuck at rest"), Fault(last, "stuck operated")))
    codes = random.Random(1).choices(range(len(machine.code)), k=16)
    rows = machine.rows(codes)
    prints = machine.prints(stuck.table(rows, rows.every, World()), rows)
    log = Logbook(tuple(map(Entry, codes, spread(prints, len(codes)))), machine.code)
    singles = single_faults(machine.mechanism)
    minimal_sets(Evidence(machine, log), faults=singles)
    return f"{1 + len(singles) + len(list(iter_pairs(machine.mechanism)))} sets"


def smallest_text(machine: Machine) -> str:
    return smallest_sequence(machine).claim


def picture(machine: Machine) -> str:
    return f"{len(json.dumps(frames(machine))) / 1e3:.0f} kB"


def page(machine: Machine) -> str:
    return f"{len(web_page(machine)) / 1e3:.0f} kB"


METHODS: dict[str, Callable[[Machine], object]] = {
    "table of all codes": table,
    "all transitions": transitions,
    "classes of single faults": classes,
    "every pair of faults, log of 16": pairs,
    "smallest acceptance text": smallest_text,
    "tables of the live picture": picture,
    "page without Python": page,
}


def measured(method: str, size: int, machine: Machine) -> Point:
    """One method on one machine, in a process of its own."""
    here, there = multiprocessing.Pipe(duplex=False)
    child = multiprocessing.get_context("fork").Process(
        target=_try, args=(METHODS[method], machine, there)
    )
    child.start()
    there.close()
    told: tuple[float | None, str] = None, f"not done in {SECONDS} s and {BYTES >> 30} GiB"
    with suppress(EOFError):
        told = here.recv()
    child.join()
    return Point(method, size, *told)


def _try(method: Callable[[Machine], object], machine: Machine, pipe: Any) -> None:
    resource.setrlimit(resource.RLIMIT_AS, (BYTES, BYTES))
    resource.setrlimit(resource.RLIMIT_CPU, (SECONDS, SECONDS))
    signal.signal(signal.SIGXCPU, signal.SIG_DFL)
    start = process_time()
    try:
        said, times = method(machine), 1
        while method in (table, transitions) and process_time() - start < BRIEF:
            method(machine)
            times += 1
    except MemoryError:
        return
    except ValueError as refusal:
        pipe.send((None, str(refusal)))
    else:
        pipe.send(((process_time() - start) / times, said if isinstance(said, str) else ""))


def grown(machines: Iterable[tuple[int, Machine]]) -> Iterator[Point]:
    """Each method on each machine; none is tried on larger ones once it came to no end."""
    lost: set[str] = set()
    for size, machine in machines:
        for method in METHODS:
            if method not in lost:
                yield (point := measured(method, size, machine))
                print(*point, sep=", ", file=sys.stderr, flush=True)
                if point.seconds is None:
                    lost.add(method)


def report(title: str, points: list[Point]) -> Iterator[str]:
    sizes = sorted({point.size for point in points})
    at = {(point.method, point.size): point for point in points}
    yield f"{title:32}" + "".join(f"{size:>8}" for size in sizes)
    for method in METHODS:
        row = [at.get((method, size)) for size in sizes]
        cells = ("" if p is None else "–" if p.seconds is None else f"{p.seconds:.3g}" for p in row)
        yield f"{method:32}" + "".join(f"{cell:>8}" for cell in cells)
    for point in points:
        if point.seconds is None:
            yield f"{point.method}, {point.size}: {point.said}"
    last = {p.method: p for p in points if p.said and p.seconds is not None}
    for point in last.values():
        yield f"({point.method}, {point.size}: {point.said})"
    yield ""


def main() -> None:
    kept = {}
    for name, machines in (
        ("bits of the code", ((n, wheel_machine(n)) for n in BITS)),
        ("parts", ((n, wheel_machine(BITS_OF_PARTS, n)) for n in PARTS)),
    ):
        points = list(grown(machines))
        print("\n".join(report(f"{name}; seconds", points)), flush=True)
        kept[name] = points
    if len(sys.argv) > 1:
        with open(sys.argv[1], "w", encoding="utf-8") as file:
            json.dump(kept, file, indent=1, ensure_ascii=False)


if __name__ == "__main__":
    main()
