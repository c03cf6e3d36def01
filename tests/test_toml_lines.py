"""Every table, key and list item of a TOML text is found on its own line."""

import tomllib

import pytest

from mechlogic.helpers.toml_lines import lines_of
from mechlogic.machines import FOLDER

TRICKY = '''\
# [comment]
name = "a # b [c] = d"
about = """
[not.a.table]
not_a_key = 1 \\"""
still = 'not'"""
path = 'C:\\'   # a backslash ends nothing here

[ parts . "bar 1" ]  # a head with blanks and quotes
joint = "bit"
stroke_mm = 4.5
'at' = [
    1.5, 2.5,  # two on a line
    3.5,
]
stops = [
    { at_mm = 0.0, lever = "a" },

    { at_mm = 5.0, lever = "}" },
]
raw = \'\'\'
x = 1
\'\'\'
last = [[1, 2], []]

[[codes.printing]]
first = "2/0"
[[codes.printing]]
first = "4/0"
last = "5/15"
[codes.printing.more]
inner.dotted = 07:32:00
when = 1979-05-27 07:32:00Z'''


@pytest.mark.parametrize(
    ("path", "line"),
    [
        (("name",), 2),
        (("about",), 3),
        (("path",), 7),
        (("parts",), 9),
        (("parts", "bar 1"), 9),
        (("parts", "bar 1", "stroke_mm"), 11),
        (("parts", "bar 1", "at"), 12),
        (("parts", "bar 1", "at", 1), 13),
        (("parts", "bar 1", "at", 2), 14),
        (("parts", "bar 1", "stops", 0, "lever"), 17),
        (("parts", "bar 1", "stops", 1), 19),
        (("parts", "bar 1", "stops", 1, "lever"), 19),
        (("parts", "bar 1", "raw"), 21),
        (("parts", "bar 1", "last", 0, 1), 24),
        (("codes", "printing"), 26),
        (("codes", "printing", 0, "first"), 27),
        (("codes", "printing", 1), 28),
        (("codes", "printing", 1, "last"), 30),
        (("codes", "printing", 1, "more"), 31),
        (("codes", "printing", 1, "more", "inner", "dotted"), 32),
        (("codes", "printing", 1, "more", "when"), 33),
    ],
)
def test_a_thing_is_found_on_its_line(path, line):
    assert lines_of(TRICKY)[path] == line


def paths(value, path=()):
    """Every path in parsed TOML."""
    if path:
        yield path
    items = value.items() if isinstance(value, dict) else enumerate(value)
    for key, inner in items:
        if isinstance(inner, dict | list):
            yield from paths(inner, (*path, key))
        else:
            yield (*path, key)


@pytest.mark.parametrize(
    "text", [TRICKY, *(path.read_text("utf-8") for path in sorted(FOLDER.glob("*.toml")))]
)
def test_everything_that_is_read_has_a_line_and_nothing_else_has(text):
    assert set(lines_of(text)) == set(paths(tomllib.loads(text)))


def test_an_empty_text_has_no_lines():
    assert lines_of("") == lines_of("# nothing\n\n") == {}
