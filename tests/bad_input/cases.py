"""What a row of the tables is, and the few ways in which a good file is spoilt.

A change takes the good file as text and gives bytes, or another text, which is saved as UTF-8.
"""

import re
from collections.abc import Callable
from pathlib import Path
from typing import NamedTuple

FOLDER = Path(__file__).parent
HERE = -1
"""The line of a row that is the first one in which the file differs from the good one."""

Change = Callable[[str], str | bytes]


class Bad(NamedTuple):
    """A file that must be refused.

    Attributes:
        name: What is wrong with it.
        change: How it is made from the good one.
        line: The line that is named, from 1; 0 where it is the file as a whole, HERE where it is
            the first that was changed.
        at: The table and key that are named, or the column; empty for the whole.
        says: Words of what is said to be wrong.
        mend: Words of how it is mended.
    """

    name: str
    change: Change
    line: int
    at: str
    says: str
    mend: str


class Odd(NamedTuple):
    """A file that looks odd and is right.

    Attributes:
        name: What is odd.
        change: How it is made from the good one.
        means: A few words on what is read: a function of what was loaded says them.
    """

    name: str
    change: Change
    means: str


def put(*pairs: str) -> Change:
    """Old for new, old for new, …; each old text stands there once."""

    def change(text: str) -> str:
        for old, new in zip(pairs[::2], pairs[1::2], strict=True):
            assert text.count(old) == 1, f"{old!r} stands there {text.count(old)} times"
            text = text.replace(old, new)
        return text

    return change


def until(old: str) -> Change:
    """Broken off behind some words."""
    return lambda text: text[: text.index(old) + len(old)]


def whole(data: str | bytes) -> Change:
    """Something else altogether."""
    return lambda text: data


def more(end: str) -> Change:
    """With something added at the end."""
    return lambda text: text + end


def saved_as(encoding: str, *pairs: str) -> Change:
    """Saved in another encoding, some words perhaps changed before."""
    return lambda text: put(*pairs)(text).encode(encoding)


def made(change: Change, good: str) -> bytes:
    """The bytes of a spoilt file."""
    spoilt = change(good)
    return spoilt.encode("utf-8", "surrogatepass") if isinstance(spoilt, str) else spoilt


def first_changed(data: bytes, good: str) -> int:
    """The first line, from 1, that differs between two files, whatever their line ends."""
    pairs = zip(re.split(rb"\r\n|\r|\n", data), good.encode().split(b"\n"), strict=False)
    differ = (number for number, (one, other) in enumerate(pairs, start=1) if one != other)
    return next(differ, min(data.count(b"\n"), good.count("\n")) + 1)
