"""Where everything in a JSON text stands, so that a mistake can be reported with its line.

``json`` reads a text but forgets the lines.  This goes through the same text again, only for its
shape.  It is meant for texts that ``json`` has accepted, and trusts that they are valid.
"""

import json
import re
from collections.abc import Iterator, Mapping

__all__ = ["Path", "lines_of", "shown_path"]

Path = tuple[str | int, ...]
"""Keys from the outermost object inwards; an item of a list goes by its number, from 0."""

_TOKEN = re.compile(r'"(?:\\.|[^"\\])*"|[][{},:]|\n|[^][{},:"\s]+')


def lines_of(text: str) -> tuple[Mapping[Path, int], tuple[Path, ...]]:
    """The line, from 1, of every key and list item, and the keys that stand there twice."""
    lines: dict[Path, int] = {(): 1}
    twice: list[Path] = []
    path: list[str | int] = []
    awaits_key = False
    for token, line in _tokens(text):
        if token in ("]", "}"):
            path.pop()
            awaits_key = False
        elif token == ",":
            last = path[-1]
            awaits_key = isinstance(last, str)
            if isinstance(last, int):
                path[-1] = last + 1
        elif awaits_key:
            path[-1] = json.loads(token)
            awaits_key = False
            if tuple(path) in lines:
                twice.append(tuple(path))
            lines.setdefault(tuple(path), line)
        elif token != ":":
            lines.setdefault(tuple(path), line)
            if token == "[":
                path.append(0)
            elif token == "{":
                path.append("")
                awaits_key = True
    return lines, tuple(twice)


def _tokens(text: str) -> Iterator[tuple[str, int]]:
    line = 1
    for match in _TOKEN.finditer(text):
        if match[0] == "\n":
            line += 1
        else:
            yield match[0], line


def shown_path(path: Path) -> str:
    """A path as a person reads it, items counted from 1: ``checks, item 2, minutes``."""
    return ", ".join(f"item {key + 1}" if isinstance(key, int) else key for key in path)
