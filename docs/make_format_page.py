"""Make docs/describe_a_machine.md: how to describe a machine of your own, and every key there is.

    .venv/bin/python docs/make_format_page.py

The tables and keys are those that the reader of descriptions asks for (see
``mechlogic.describing.schema``); only the sentences about them stand here.
``tests/test_format_page.py`` fails if a key has no sentence, if a sentence has lost its key, and
if the page is not what this makes.  The worked example is run when the page is made: what it shows
is what the library says.
"""

import sys
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from typing import Any

from mechlogic.describing import compare, description, roles, writing
from mechlogic.describing.schema import Key, schema
from mechlogic.model import laws
from mechlogic.model.dimensions import KINDS as KINDS_OF_DIMENSION
from mechlogic.model.keys import keys_of

PAGE = Path(__file__).with_name("describe_a_machine.md")


def _sentences(kind: type[Any], before: str = "") -> Iterator[tuple[str, str]]:
    """The keys that a class declares, each with its sentence."""
    for key in keys_of(kind).values():
        yield before + key.key, key.says
        if key.when:
            yield f"{before}when", key.when
        if key.entry:
            yield from _sentences(key.entry, f"{before}{key.key}.")


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

JOINTS: Mapping[str, str] = {
    name: (kind.__doc__ or "").split("\n\n")[0] for name, kind in laws.JOINTS.items()
}
"""What each joint is: the first sentence of its class."""

OUTPUTS: Mapping[str, str] = {
    "wheel": "A type wheel, or a block of type, one character of which faces the hammer.",
    "type_bar": "A straight bar of type that is shifted lengthwise.",
    "typebars": "A basket of typebars. One that is swung up prints; two at once meet and smudge.",
    "actions": "Levers that each do one thing. Several may act at once.",
    "line": "Contacts that put a code on the line, one for each bit.",
}
"""What each kind of output is."""

KEYS: Mapping[str, str] = {
    "machine.name": "Short name.",
    "machine.title": "Name with its kind, for headings.",
    "machine.about": "A few sentences for the reader.",
    "parts.joint": "How the part is moved: one of the joints below.",
    "parts.label": "What a person calls it; its name if left out. No two parts the same.",
    "parts.group": "The assembly that it belongs to.",
    "parts.reach": "Which access it needs: a key of `[efforts_min]`.",
    "parts.note": "A remark for the restorer.",
    "parts.moves": "Its mass and its spring, for questions of time.",
    "parts.moves.spring": "What the spring does: brings the part back to rest, or out.",
    "parts.moves.mass_g": "Mass in g of the part and of what it carries, where its travel is "
    "measured.",
    "parts.moves.spring_n_per_mm": "Rate of the spring there, in N/mm.",
    "parts.moves.preload_n": "Force of the spring, in N, where it has brought the part.",
    "parts.moves.drag_ns_per_m": "Drag of fresh oil at 20 °C, in N·s/m.",
    "parts.moves.friction_n": "Dry friction, in N.",
    "parts.moves.within_mm": "How near to its stop the part counts as arrived.",
    "parts.tolerances": "How far its dimensions may be off, where that is not as in "
    "`[tolerances]`: the same keys, as far as its joint has them.",
    "parts.adjusts": "Which of its dimensions a restorer can adjust, and how far either way: the "
    "same keys.",
    "parts.draw": "Hints for the picture; the picture finds places by itself without them.",
    "cycle.units": "Start-stop units of one character, start and stop among them.",
    "cycle.baud": "Units a second.",
    "cycle.sense_share": "Share of a character's time in which sprung parts must operate.",
    "cycle.return_share": "Share of that time in which parts must be back at rest. Both together "
    "at most 1.",
    "cycle.lead_ms": "From the closing of a keyboard's contacts to the start of the character on "
    "the line, in ms.",
    "codes.alphabet": "A published code by its name; or a list of the characters of a code of your "
    "own, in the order of their codes: 2, 4, 8, 16 … of them.",
    "codes.parity": "How the bar after the code's bits is set.",
    "codes.printing": "Runs of codes that print their own character.",
    "codes.printing.first": "First code of the run.",
    "codes.printing.last": "Last code of the run.",
    "codes.folds": "Runs of codes that print as another run does.",
    "codes.folds.first": "First code of the run.",
    "codes.folds.last": "Last code of the run.",
    "codes.folds.onto": "The code whose character the first one prints.",
    "codes.shows": "Runs of codes that all show the same thing.",
    "codes.shows.first": "First code of the run.",
    "codes.shows.last": "Last code of the run.",
    "codes.shows.what": "What they show.",
    "codes.silent": "Runs of codes that print nothing.",
    "codes.silent.first": "First code of the run.",
    "codes.silent.last": "Last code of the run.",
    "codes.no_part_in_selection": "Code bars that do not choose the character.",
    "codes.no_part_at_all": "Code bars that change nothing whatever.",
    "codes.case": "The part that makes the machine print figures once it is operated: a latch, or "
    "a part that follows one.",
    "codes.figures": "What prints in figures where the published code leaves it open.",
    "codes.figures.code": "The code.",
    "codes.figures.prints": "The character that it prints.",
    **{
        f"{joint}.gap_mm": "Lost motion: how far an input moves before it acts on this part."
        for joint in JOINTS
        if joint not in ("bit", "key")
    },
    "opposed_racks.backlash_deg": "Free turn between the pinion and its racks.",
    **{
        f"{name}.{key}": says
        for name, kind in laws.JOINTS.items()
        for key, says in _sentences(kind)
    },
    "contact.bounce_ms": "How long it bounces after it closes, in ms.",
    "wheel.lift": "The part that lifts the type.",
    "wheel.turn": "The part that turns it; left out for a block with a single column.",
    "wheel.hammer": "The part that strikes when operated; every code prints if left out.",
    "wheel.rows_mm": "Lift that brings each row to the hammer.",
    "wheel.columns_deg": "Turn that brings each column to the hammer. Needed if something turns.",
    "wheel.window_mm": "How far off its lift a character may be and still print whole. "
    "The three belong together.",
    "wheel.unreadable_mm": "How far off it may be, clipped, and still be read.",
    "wheel.type_height_mm": "Height of the characters.",
    "wheel.window_deg": "How far off its turn a character may be and still print whole. "
    "The three belong together.",
    "wheel.unreadable_deg": "How far off it may be, clipped, and still be read.",
    "wheel.type_width_deg": "Width of the characters.",
    "wheel.glyphs": "A text for each row, in the order of `rows_mm`; a blank where no type is.",
    "wheel.unused": "Type that no code prints.",
    "wheel.repeated": "Type that is there more than once.",
    "type_bar.shift": "The part that shifts the bar.",
    "type_bar.hammer": "The part that strikes when operated; every code prints if left out.",
    "type_bar.places_mm": "Shift that brings each character to the hammer.",
    "type_bar.window_mm": "How far off its shift a character may be and still print whole. "
    "The three belong together.",
    "type_bar.unreadable_mm": "How far off it may be, clipped, and still be read.",
    "type_bar.type_width_mm": "Width of the characters.",
    "type_bar.glyphs": "The characters in the order of `places_mm`; a blank where no type is.",
    "type_bar.unused": "Type that no code prints.",
    "type_bar.repeated": "Type that is there more than once.",
    "typebars.shift": "The part that chooses between the two characters of each bar.",
    "typebars.bars": "One entry for each typebar.",
    "typebars.bars.pull": "The part that swings it up.",
    "typebars.bars.type": "Its character; with a shift, its two: letter and figure.",
    "typebars.unused": "Type that no code prints.",
    "typebars.repeated": "Type that is there more than once.",
    "actions.levers": "One entry for each lever.",
    "actions.levers.lever": "The part.",
    "actions.levers.shows": "The code's name for what it does: CR, LF, BEL. It stands in a log.",
    "actions.levers.does": "What it does, in words.",
    "line.contacts": "The parts for b1, b2 and so on; that of the parity bit last.",
    "line.alphabet": "The code that is sent.",
    "line.parity": "The parity that is sent.",
}
"""What each key means."""

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
        about = KEYS.get(f"{table}.{name}", "")
        if table == "tolerances":
            about = f"{_capital(KINDS_OF_DIMENSION[name])}."
        yield f"| {shown} | {kind} | {default} | {about} |"
        if not _are_dimensions(key):
            yield from _rows(table, key.keys, f"{name}.")


def _are_dimensions(table: Key) -> bool:
    """Whether the keys of a table are kinds of dimension, which are told once."""
    return table.kind == "table" and all(key.name in KINDS_OF_DIMENSION for key in table.keys)


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def all_keys() -> set[str]:
    """Every key that needs a sentence."""
    found = schema()
    tables = {**found.tables, **found.joints, **found.outputs}
    return {
        f"{table}.{name}"
        for table, keys in tables.items()
        for name in _names(keys)
        if table != "tolerances"
    }


def _names(keys: Iterable[Key]) -> Iterator[str]:
    for key in keys:
        yield key.name
        if not _are_dimensions(key):
            yield from (f"{key.name}.{inner}" for inner in _names(key.keys))


if __name__ == "__main__":
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else PAGE
    target.write_text(page(), encoding="utf-8")
