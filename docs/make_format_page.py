"""Make docs/describe_a_machine.md: how to describe a machine of your own, and every key there is.

    .venv/bin/python docs/make_format_page.py

The tables and keys, and the sentences about them, are those that the classes declare for their
fields (see ``mechlogic.describing.schema``).  ``tests/test_format_page.py`` fails if a key has no
sentence, and if the page is not what this makes.  The worked example is run when the page is made:
what it shows is what the library says.
"""

import sys
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from mechlogic.describing import compare, description, roles, writing
from mechlogic.describing.schema import Key, schema
from mechlogic.model import laws, outputs
from mechlogic.model.dimensions import KINDS as KINDS_OF_DIMENSION

PAGE = Path(__file__).with_name("describe_a_machine.md")


# -- sentences -------------------------------------------------------------------------------------

TABLES: Mapping[str, str] = {
    "machine": "What the machine is called.",
    "cycle": "How fast the machine runs, for questions of time.",
    "tolerances": "How far each kind of dimension may be off, either way, in its own unit.",
    "parts": "A table `[parts.name]` for each part that moves. The name is short: letters, digits "
    "and underscores, and not `print`. The parts may stand in any order. Every part has these "
    "keys, and those of its joint.",
    "codes": "Which code the machine receives, and what each code does. These are claims: they are "
    "held against the parts when the file is read, and every code must be in one of them.",
}
"""What each table is for."""


def _first_sentences(kinds: Mapping[str, type[object]]) -> Mapping[str, str]:
    """What each joint or output is: the beginning of its class's docstring."""
    return {
        name: " ".join((kind.__doc__ or "").split("\n\n")[0].split())
        for name, kind in kinds.items()
    }


JOINTS = _first_sentences(laws.JOINTS)
OUTPUTS = _first_sentences(outputs.OUTPUTS)

KINDS: Mapping[str, str] = {
    "text": "text",
    "texts": "list of texts",
    "number": "number",
    "numbers": "list of numbers",
    "part": "name of a part",
    "parts": "names of parts",
    "code": "a code",
    "table": "table `{ … }`",
    "tables": "list of tables `[{ … }, { … }]`",
}
"""The kinds of value in words."""

# -- the worked example ----------------------------------------------------------------------------

TALLY_PRINTS = "1234ABCD"

TALLY = """\
# The ferry-stage tally stamp: three bits, a summing lever and a shoulder, eight characters.

[machine]
name = "tally"
title = "Ferry-stage tally stamp"
about = "It stamped the landing on a ticket: 1 to 4 going out, A to D coming home."

[efforts_min]
type = 0.2
cover = 5.0

[parts.bar1]
label = "code bar 1"
joint = "bit"
bit = 1
stroke_mm = 3.0
reach = "cover"

[parts.bar2]
label = "code bar 2"
joint = "bit"
bit = 2
stroke_mm = 3.0
reach = "cover"

[parts.bar3]
label = "code bar 3"
joint = "bit"
bit = 3
stroke_mm = 4.0
reach = "cover"

[parts.whiffletree]
joint = "summing_lever"
first = "bar1"
second = "bar2"
first_arm_mm = 20.0
second_arm_mm = 10.0
reach = "cover"
note = "Bar 2 lies at the short arm and counts double."

[parts.lift]
label = "type block"
joint = "half_step"
base = "whiffletree"
shoulder = "bar3"
step_mm = 4.0
reach = "cover"

[wheel]
lift = "lift"
rows_mm = [0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0]
glyphs = ["1", "2", "3", "4", "A", "B", "C", "D"]

[codes]
alphabet = ["1", "2", "3", "4", "A", "B", "C", "D"]
printing = [{ first = "1", last = "D" }]
"""

SLIP = TALLY.replace("first_arm_mm = 20.0", "first_arm = 20.0").replace(
    'second = "bar2"', 'second = "bra2"'
)

SISTER = (
    TALLY.replace('name = "tally"', 'name = "sister"')
    .replace('"C", "D"]\n\n', '"C", " "]\n\n')
    .replace('last = "D" }]', 'last = "C" }]\nsilent = [{ first = "D", last = "D" }]')
)

TEMPLATE = """\
# Copy this into a file that ends in .toml, and change it line by line.
# Lengths are in mm, angles in degrees, efforts in minutes.

[machine]
name = "mine"
title = "My machine"

# What each kind of check costs you, in minutes. The names are yours.
[efforts_min]
type = 0.2                # type a character and look
hand = 2.0                # turn the machine over by hand
cover = 10.0              # take the cover off

# One table for each part that moves. First the code bars.
[parts.bar1]
label = "code bar 1"      # what you call it
joint = "bit"             # how it is moved: here by a bit of the code
bit = 1
stroke_mm = 4.0           # how far it moves
reach = "cover"           # one of the efforts above

[parts.bar2]
label = "code bar 2"
joint = "bit"
bit = 2
stroke_mm = 4.0
reach = "cover"

# Then what touches them, and so on to the type.
[parts.first_stop]
joint = "either_pushes"   # either bar pushes it
inputs = ["bar1", "bar2"]
reach = "cover"

[parts.rack]
joint = "stepped_stops"   # driven to the first stop still in its way
stops = [
    { at_mm = 0.0, lever = "first_stop" },
    { at_mm = 5.0, lever = "bar2" },
    { at_mm = 10.0, lever = "bar1" },
]
end_mm = 15.0             # where it goes when no stop is in its way
reach = "cover"

# What it prints with.
[wheel]
lift = "rack"
rows_mm = [0.0, 5.0, 10.0, 15.0]
glyphs = ["A", "B", "C", "D"]     # one text for each row

# What the codes do. This is held against the parts.
[codes]
alphabet = ["A", "B", "C", "D"]   # 00, 01, 10, 11: b1 is the last figure
printing = [{ first = "A", last = "D" }]
"""


def example() -> Iterator[str]:
    """From a blank sheet to a file, with what the library says on the way."""
    grid = list(TALLY_PRINTS)
    told = roles.infer(dict(enumerate(TALLY_PRINTS)), grid, units=3)
    machine = description.parse(TALLY, "tally.toml")
    sister = description.parse(SISTER)
    yield from (
        "## A worked example, from a blank sheet",
        "",
        "The ferry stage at Ebbing landing had a stamp for tickets. Nobody has a drawing of it. "
        "(It is invented, like every machine here.)",
        "",
        "**1. Print all characters.** Unplug the machine before you reach in; set the code bars by "
        "hand and note what each setting prints. On this one, three bits, from 000 to 111:",
        "",
        _block(
            "b3 b2 b1   print\n"
            + "\n".join(
                f" {code >> 2}  {code >> 1 & 1}  {code & 1}     {glyph}"
                for code, glyph in enumerate(TALLY_PRINTS)
            )
        ),
        "",
        "**2. Ask which bits do what.** Write the type as rows, the lowest first:",
        "",
        _block(
            "from mechlogic.describing import roles\n\n"
            f'prints = dict(enumerate("{TALLY_PRINTS}"))\n'
            f'type_ = list("{TALLY_PRINTS}")  # eight rows of one character\n'
            'print(*roles.infer(prints, type_, units=3).says(), sep="\\n")',
            "python",
        ),
        "",
        _block("\n".join(told.says())),
        "",
        "**3. Look.** With the cover off you see one lever between bars 1 and 2 that carries the "
        "block at a pin nearer to bar 2, and bar 3 shifts all of it. So it is a whiffletree and a "
        "shoulder. Measure the strokes and the arms.",
        "",
        "**4. Write it down.** A table for each part, then the type, then what the codes do:",
        "",
        _block(TALLY, "toml"),
        "",
        "**5. Load it.** A slip of the pen is refused, with its line and what to do:",
        "",
        _block('import mechlogic\n\nmachine = mechlogic.load("tally.toml")', "python"),
        "",
        _block(_refusal(SLIP)),
        "",
        "Once it loads, every code has been followed through the parts and prints what you wrote. "
        "Everything else works with it as with the machines of the library: "
        f"`machine.good_print(5)` is `{machine.good_print(5)!r}`.",
        "",
        "**6. Save and compare.** `mechlogic.describing.writing.save(machine, path)` writes it "
        "in this layout, without your comments. The sister stamp had lost its D, and so has its "
        "description; `compare.compare(machine, sister).report()` says:",
        "",
        _block("\n".join(compare.compare(machine, sister).report())),
        "",
    )


def _refusal(text: str) -> str:
    try:
        description.parse(text, "tally.toml")
    except description.DescriptionError as error:
        return str(error)
    raise AssertionError("the slip is not refused")


def _block(text: str, language: str = "") -> str:
    return f"```{language}\n{text.rstrip()}\n```"


# -- the page --------------------------------------------------------------------------------------


def page() -> str:
    """The whole page, as Markdown."""
    description.parse(TEMPLATE)  # what is offered to be copied must be right
    writing.write(description.parse(TALLY))
    return "\n".join([*_introduction(), *example(), *_reference()]) + "\n"


def _introduction() -> Iterator[str]:
    yield from (
        "<!-- Made by docs/make_format_page.py: change that, not this. -->",
        "# Describe your own machine",
        "",
        "A machine is a text file in [TOML](https://toml.io): tables in square brackets, a key and "
        "a value on each line, `#` before a remark. No programming is needed. Describe the parts "
        "and how each is moved; what the machine prints follows from that, and so do its logic, "
        "its picture and the diagnosis.",
        "",
        "- Lengths are in mm, angles in degrees, efforts in minutes.",
        "- A displacement counts from the part's rest.",
        '- A code is written as its character (`"A"`), its name (`"SP"`, `"CR"`) or its '
        'column and row in the code table (`"4/1"`). Bit 1 is the lowest.',
        "- Numbers are decimals and are kept exactly as written.",
        "",
        "Unplug and lock off a machine before you measure in it; springs and capacitors keep their "
        "energy.",
        "",
        "## A template to copy",
        "",
        _block(TEMPLATE, "toml"),
        "",
    )


def _reference() -> Iterator[str]:
    found = schema()
    yield from ("## Every table and key", "", "Keys in **bold** must be given.", "")
    yield from _section("[machine]", TABLES["machine"], _rows("machine", found.tables["machine"]))
    yield from (
        "### [efforts_min]", "",
        "What each kind of check costs you, in minutes: one key for each, above 0. The names are "
        "yours; a part's `reach` is one of them, and says what must be taken off to see it. Three "
        "names have a meaning of their own: `type` is one character typed, `hand` a turn by hand, "
        "`source` another source of signals; the usual minutes stand in for them if left out.", "",
    )  # fmt: skip
    for name in sorted(found.tables.keys() - {"machine", "parts", "codes"}):
        rows = _rows(name, found.tables[name])
        yield from _section(f"[{name}]", f"{TABLES[name]} It may be left out.", rows)
    yield from _section("[parts.…]", TABLES["parts"], _rows("parts", found.tables["parts"]))
    yield from ("## The joints", "")
    for name, keys in found.joints.items():
        yield from _section(f'joint = "{name}"', JOINTS[name], _rows(name, keys))
    yield from (
        "## What it prints with", "",
        "One of these tables, or two, such as typebars and actions.", "",
    )  # fmt: skip
    for name, keys in found.outputs.items():
        yield from _section(f"[{name}]", OUTPUTS[name], _rows(name, keys))
    yield from ("## What the codes do", "")
    yield from _section("[codes]", TABLES["codes"], _rows("codes", found.tables["codes"]))


def _section(title: str, about: str, rows: Iterable[str]) -> Iterator[str]:
    yield from (
        f"### {title}",
        "",
        about,
        "",
        "| key | value | if left out | |",
        "|---|---|---|---|",
    )
    yield from (*rows, "")


def _rows(table: str, keys: Iterable[Key], within: str = "") -> Iterator[str]:
    for key in keys:
        name = f"{within}{key.name}"
        shown = f"**`{name}`**" if key.needed else f"`{name}`"
        kind = " or ".join(KINDS[kind] for kind in key.kind.split(" or "))
        if key.choices and name != "joint":
            kind += ": " + ", ".join(f'`"{choice}"`' for choice in key.choices)
        default = f"`{key.default}`" if key.default else "" if key.needed else "none"
        yield f"| {shown} | {kind} | {default} | {key.says} |"
        if not _are_dimensions(key):
            yield from _rows(table, key.keys, f"{name}.")


def _are_dimensions(table: Key) -> bool:
    """Whether the keys of a table are kinds of dimension, which are told once."""
    return table.kind == "table" and all(key.name in KINDS_OF_DIMENSION for key in table.keys)


def all_keys() -> Iterator[tuple[str, Key]]:
    """Every key, with the path to it."""
    found = schema()
    for table, keys in {**found.tables, **found.joints, **found.outputs}.items():
        yield from _within(table, keys)


def _within(path: str, keys: Iterable[Key]) -> Iterator[tuple[str, Key]]:
    for key in keys:
        yield f"{path}.{key.name}", key
        yield from _within(f"{path}.{key.name}", key.keys)


if __name__ == "__main__":
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else PAGE
    target.write_text(page(), encoding="utf-8")
