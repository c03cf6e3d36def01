"""Where everything in a TOML text stands, so that a mistake can be reported with its line.

``tomllib`` reads a text but forgets the lines.  This goes through the same text again, only for
its shape.  It is meant for texts that ``tomllib`` has accepted, and trusts that they are valid.

``tomllib`` copies a key of a thousand steps a thousand times, and every line below it again.  So
:func:`too_deep` looks at a text before that; it takes any text at all.
"""

import re
import tomllib
from collections.abc import Iterator, Mapping

Path = tuple[str | int, ...]
"""Keys from the outermost table inwards; an item of a list goes by its number, from 0."""

Lines = dict[Path, int]

DEEPEST = 30
"""The most steps of a dotted key, and the most brackets within brackets."""

# A text that is not closed ends with its line, or with the file if it may have several lines: so
# each letter is gone through once, whatever stands there.
_TOKEN = re.compile(
    r'"""(?:\\.|[^\\])*?(?:"""+|\\?\Z)' + r"|'''.*?(?:'''+|\Z)"  # texts over several lines
    r"|" + r'"(?:\\[^\n]|[^"\\\n])*\\?"?' + r"|'[^'\n]*'?"  # texts on one
    r"|\#[^\n]*|[][{},=.\n]|[^][{},=.\n\s\"'\#]+",
    re.DOTALL,
)


def too_deep(text: str) -> int:
    """The line, from 1, of the first thing more than :data:`DEEPEST` steps deep; 0 if none is."""
    brackets = steps = 0
    for token, line in _tokens(text):
        if token in ("[", "{"):
            brackets += 1
        elif token in ("]", "}"):
            brackets = max(0, brackets - 1)
        steps = steps + 1 if token == "." else 0 if token in _BETWEEN else steps
        if max(brackets, steps) > DEEPEST:
            return line
    return 0


_BETWEEN = frozenset("=,\n[]{}")


def lines_of(text: str) -> Mapping[Path, int]:
    """The line, from 1, of every table, key and list item of a valid TOML text."""
    tokens, lines, n_items = _Tokens(text), Lines(), dict[Path, int]()
    table: Path = ()
    while tokens.next:
        if tokens.next == "\n":
            tokens.take()
        elif tokens.next == "[":
            table = _head(tokens, lines, n_items)
        else:
            _entry(tokens, lines, table)
    return lines


def _tokens(text: str) -> Iterator[tuple[str, int]]:
    """The tokens of a text, comments and blanks left out, each with its line."""
    line = 1
    for match in _TOKEN.finditer(text):
        if not match[0].startswith("#"):
            yield match[0], line
        line += match[0].count("\n")


class _Tokens:
    """The tokens of a text, comments and blanks left out, taken one by one."""

    def __init__(self, text: str) -> None:
        self._rest = _tokens(text)
        self.next, self.line = "", 1
        self.take()

    def take(self) -> str:
        """The next token; at the end of the text, nothing."""
        taken = self.next
        self.next, self.line = next(self._rest, ("", self.line))
        return taken

    def skip(self, *tokens: str) -> None:
        while self.next and self.next in tokens:
            self.take()


def _head(tokens: _Tokens, lines: Lines, n_items: dict[Path, int]) -> Path:
    """The table that begins here: ``[a.b]``, or one more item of a list, ``[[a.b]]``."""
    line = tokens.line
    tokens.take()
    is_item = tokens.next == "["
    tokens.skip("[")
    path: Path = ()
    for key in _keys(tokens, "]"):
        path = (*_last_item(path, n_items), key)
        lines.setdefault(path, line)
    tokens.skip("]")
    if is_item:
        n_items[path] = n_items.get(path, 0) + 1
        path = _last_item(path, n_items)
    lines[path] = line
    return path


def _last_item(path: Path, n_items: Mapping[Path, int]) -> Path:
    return (*path, n_items[path] - 1) if path in n_items else path


def _keys(tokens: _Tokens, end: str) -> Iterator[str]:
    """The keys of a dotted key, up to the token that ends it."""
    while tokens.next and tokens.next != end:
        key = tokens.take()
        if key != ".":
            yield tomllib.loads(f"key = {key}")["key"] if key[0] in "\"'" else key
    tokens.take()


def _entry(tokens: _Tokens, lines: Lines, path: Path) -> None:
    """A key and its value."""
    line = tokens.line
    for key in _keys(tokens, "="):
        path = (*path, key)
        lines.setdefault(path, line)
    _value(tokens, lines, path)


def _value(tokens: _Tokens, lines: Lines, path: Path) -> None:
    opened = tokens.next
    if opened == "[":
        tokens.take()
        tokens.skip("\n")
        number = 0
        while tokens.next and tokens.next != "]":
            lines[*path, number] = tokens.line
            _value(tokens, lines, (*path, number))
            tokens.skip("\n", ",")
            number += 1
        tokens.take()
    elif opened == "{":
        tokens.take()
        while tokens.next and tokens.next != "}":
            _entry(tokens, lines, path)
            tokens.skip("\n", ",")
        tokens.take()
    else:
        while tokens.next and tokens.next not in (",", "]", "}", "\n"):
            tokens.take()
