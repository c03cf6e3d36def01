"""One line of the table of benchmarks, and how it is timed."""

from collections.abc import Callable, Iterable, Iterator
from statistics import median
from time import process_time
from typing import NamedTuple


class Figure(NamedTuple):
    """Something the library does, beside another way to do it.

    Attributes:
        what: What is done.
        seconds: Computing time that the library takes.
        other: The other way; empty if there is none to compare with.
        ratio: How many times as long the other way takes.
    """

    what: str
    seconds: float
    other: str = ""
    ratio: float = 0.0


def seconds(action: Callable[[], object], times: int = 5) -> float:
    """Computing time of an action that is done once before: the median of a few."""
    action()
    return median(_once(action) for _ in range(times))


def _once(action: Callable[[], object]) -> float:
    start = process_time()
    action()
    return process_time() - start


def lines(figures: Iterable[Figure]) -> Iterator[str]:
    """The table, a line for each figure."""
    yield f"{'what':54}{'time':>10}   {'the other way':36}{'as long':>12}"
    for figure in figures:
        times = f"{float(f'{figure.ratio:.2g}'):,g} times" if figure.other else ""
        yield f"{figure.what:54}{written(figure.seconds):>10}   {figure.other:36}{times:>12}"


def written(took: float) -> str:
    """A time with the unit that suits it."""
    for unit, size in (("s", 1.0), ("ms", 1e-3), ("µs", 1e-6)):
        if took >= size:
            return f"{took / size:.3g} {unit}"
    return f"{took / 1e-9:.3g} ns"
