"""The published codes: which combination of bits stands for which character.

A code is a number. Bit b1 of the standards is the number's lowest bit, b2 the next, and so on, so
the capital A of the seven-unit code (b1 and b7 set) is 1 + 64 = 65. A set bit is a mark, a hole in
the tape, a one.

>>> SEVEN_UNIT.parse("A"), SEVEN_UNIT.position(65), SEVEN_UNIT.name(13)
(65, '4/1', 'CR')
>>> "".join("#" if bit else "." for bit in FIVE_UNIT.bits(FIVE_UNIT.code("Y")))
'#.#.#'

Sources: ECMA-6 (6th ed., 1991), International Reference Version, which is also ISO/IEC 646 and
ITU-T T.50; ITU-T S.1 for the five-unit code; ISO 1177 and ITU-T V.4 for parity.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from difflib import get_close_matches
from functools import cached_property
from typing import Literal

from mechlogic.helpers.refusal import Refusal

__all__ = [
    "ALPHABETS",
    "FIVE_UNIT",
    "PARITIES",
    "SEVEN_UNIT",
    "Code",
    "CodeError",
    "character_named",
    "runs_of",
    "with_parity",
]


class Setting(int):
    """How the code bars stand: the bits of a code, b1 the lowest, and its parity bit behind them.

    Where a code has no parity bit the number is that of the code.
    """


class CodeError(Refusal):
    """A character, name, position or number that a code does not have."""


@dataclass(frozen=True, repr=False)
class Code:
    """A published code: a name for every combination of its bits.

    title    what the code is called, for headings and messages
    units    how many bits b1, b2, … a character has, parity not counted
    source   the standard or the file that the table was taken from; it makes no other code
    names    for each code in turn the graphic character itself, or the standard's abbreviation
             of two or more letters: SP, CR, DEL
    figures  the same for the figures case, where the code has one; None where the standard leaves
             the combination to national use. Empty for a code with one case.

    Raises ValueError if a table has the wrong length, or cannot be read back without doubt.
    """

    title: str
    units: int
    source: str = field(compare=False)
    names: tuple[str, ...]
    figures: tuple[str | None, ...] = ()

    def __post_init__(self) -> None:
        for table in (self.names, self.figures or self.names):
            if len(table) != len(self):
                raise ValueError(f"{self.title}: {len(table)} names for {len(self)} codes")
            named = [name for name in table if name is not None]
            if strange := [n for n in named if len(n) != 1 and n not in _CHARACTER_OF]:
                raise ValueError(f"{self.title}: no character is known by {shown(strange[0])}")
            if len(set(named)) != len(named):
                raise ValueError(f"{self.title}: the same name stands for two codes")

    def __repr__(self) -> str:
        return f"<Code: {self.title}>"

    def __len__(self) -> int:
        """How many combinations there are: 2 to the power of `units`."""
        return 1 << self.units

    def name(self, code: int, *, figures: bool = False) -> str:
        """The standard's name: 'A', 'SP', 'CR'. Raises CodeError if there is none."""
        self._check(code)
        name = self.figures[code] if figures and self.figures else self.names[code]
        if name is None:
            raise CodeError(
                f"the {self.title} leaves the figures case of {self.name(code)} to national use",
                "Say in the machine's description what it prints there",
            )
        return name

    def character(self, code: int, *, figures: bool = False) -> str:
        r"""The character itself: 'A', ' ', '\r'. Raises CodeError if there is none.

        The shifts LTRS and FIGS are given as the control characters SI and SO, and WRU as ENQ.
        """
        return _character_of(self.name(code, figures=figures))

    def code(self, character: str) -> int:
        """The code of one character, in whichever case has it. Raises CodeError if none has."""
        try:
            return self._code_of[character]
        except KeyError:
            raise CodeError(
                f"{shown(character)} is not in the {self.title}", self._mend(character)
            ) from None

    def parse(self, text: str) -> int:
        """The code meant by `text`, which may be written in three ways.

        - One character is that character itself: 'A', '5', '/', ' '.
        - Column and row of the code table: '4/1', or '04/01' as ISO/IEC 2022 writes it. The row is
          b1 to b4, the column the bits above. (For the five-unit code this is our own notation.)
        - A name of two or more letters, in capitals or not: the standard's abbreviation, 'CR', or
          Unicode's full name, 'COMMERCIAL AT', 'LINE FEED'.

        No two of these can be mistaken for each other: a lone character is always itself, only a
        position has digits on both sides of a stroke, and names begin with a letter. Blanks around
        the text are ignored, unless it is one blank and nothing else: that is the space.

        Raises CodeError, with the nearest thing that would have been right.
        """
        if len(text) != 1:
            text = text.strip()
        if len(text) == 1:
            return self.code(text)
        if position := re.fullmatch(r"([0-9]{1,2})/([0-9]{1,2})", text):
            column, row = int(position[1]), int(position[2])
            if row < 16 and column << 4 | row < len(self):
                return column << 4 | row
            raise CodeError(
                f"there is no position {text} in the {self.title}",
                f"Positions run from 0/0 to {self.position(len(self) - 1)}, column before row",
            )
        if (code := self._code_named.get(text.upper())) is not None:
            return code
        if (character := character_named(text)) in self._code_of:
            return self._code_of[character]
        raise CodeError(f"{shown(text)} is not a character of the {self.title}", self._mend(text))

    def position(self, code: int) -> str:
        """Column and row in the code table, '4/1' for the capital A of the seven-unit code."""
        self._check(code)
        return f"{code >> 4}/{code & 15}"

    def bits(self, code: int) -> tuple[bool, ...]:
        """The bits b1, b2, … in that order, True where set."""
        self._check(code)
        return tuple(bool(code >> i & 1) for i in range(self.units))

    def complement(self, code: int) -> int:
        """The code in which every bit is the other way about: R for Y in the five-unit code."""
        self._check(code)
        return code ^ (len(self) - 1)

    def _check(self, code: int) -> None:
        if not 0 <= code < len(self):
            raise CodeError(
                f"{code} is not a code of {self.units} units",
                f"Codes run from 0 to {len(self) - 1}; leave the parity bit off",
            )

    @cached_property
    def _code_named(self) -> dict[str, int]:
        """Code by name; the letters case comes last so that it wins where both have the name."""
        return {
            name: code
            for table in (self.figures, self.names)
            for code, name in enumerate(table)
            if name is not None
        }

    @cached_property
    def _code_of(self) -> dict[str, int]:
        return {_character_of(name): code for name, code in self._code_named.items()}

    def _mend(self, text: str) -> str:
        """The nearest thing to `text` that this code does have."""
        if not text.strip():
            return "Write SP for a space, NUL for the code with no bit set"
        plain = _PLAIN.get(text) or unicodedata.normalize("NFKD", text[0])[0]
        for near in (plain, plain.upper(), plain.lower()):
            if len(text) == 1 and near in self._code_of:
                return f"Did you mean {shown(near)}?"
        names = [name for name in self._code_named if len(name) > 1]
        if len(text) > 1 and (close := get_close_matches(text.upper(), names, n=3, cutoff=0.6)):
            return f"Did you mean {' or '.join(close)}?"
        some = ", ".join(name for name in ("SP", "CR", "LF") if name in names)
        by_name = f" a name such as {some}," if some else ""
        return f"Write one character of the code,{by_name} or a position such as 0/1"


def runs_of(codes: Iterable[int]) -> Iterator[tuple[int, int]]:
    """(first, last) of each unbroken run of rising codes."""
    run: list[int] = []
    for code in codes:
        if run and code > run[-1] + 1:
            yield run[0], run[-1]
            run = []
        run.append(code)
    if run:
        yield run[0], run[-1]


def with_parity(code: int, units: int, kind: Literal["even", "odd"] = "even") -> int:
    """`code` with a parity bit added above its `units` bits: b8 after seven.

    The bit is chosen so that the number of set bits, itself included, is even or odd as asked.
    Start-stop lines use even parity, synchronous lines odd (ISO 1177, ITU-T V.4).
    Raises ValueError if the code has more bits than `units` or the kind is neither.
    """
    if kind not in ("even", "odd"):
        raise ValueError(f"parity is 'even' or 'odd', not {kind!r}")
    if not 0 <= code < 1 << units:
        raise ValueError(f"{code} is not a code of {units} units; leave its parity bit off")
    parity = code.bit_count() % 2 ^ (kind == "odd")
    return code | parity << units


def character_named(name: str) -> str:
    """The one character Unicode knows by `name`, which may be in small letters; '' if none."""
    try:
        character = unicodedata.lookup(name.upper())
    except KeyError:
        return ""
    return character if len(character) == 1 else ""


STEP = "STEP"


def is_function(name: str) -> bool:
    """Whether this names what a machine can do besides printing.

    That is the name of a control character of a published code, such as CR, or our own STEP: the
    carriage moves on by a column.
    """
    return name == STEP or (name in _CHARACTER_OF and name != "SP")


def shown(text: str) -> str:
    """`text` in quotes for a message: on one line, no control characters, and not too long.

    What looks like another letter, or sits on one, is named: a Cyrillic a, an accent by itself.
    """
    quoted = repr(text if len(text) <= 40 else text[:39] + "…")
    strange = [unicodedata.name(c, "") for c in dict.fromkeys(quoted) if _looks_like_another(c)]
    return f"{quoted} (with {' and '.join(strange[:2])})" if strange else quoted


def _looks_like_another(c: str) -> bool:
    """Whether a character is a letter of another alphabet than ours, or an accent by itself."""
    if c.isascii() or unicodedata.category(c)[0] not in "LM":
        return False
    return not unicodedata.name(c, "LATIN").startswith("LATIN")


def _character_of(name: str) -> str:
    return name if len(name) == 1 else _CHARACTER_OF[name]


# ECMA-6, columns 0 and 1: the control characters. IS4 to IS1 are the separators FS, GS, RS and US
# of other books; both names are read.
_CONTROLS = (
    "NUL SOH STX ETX EOT ENQ ACK BEL BS  HT  LF  VT  FF  CR  SO  SI  "
    "DLE DC1 DC2 DC3 DC4 NAK SYN ETB CAN EM  SUB ESC IS4 IS3 IS2 IS1"
).split()

# ECMA-6, columns 2 to 7. The first place is SP and the last DEL, which print nothing.
_GRAPHICS = (
    " !\"#$%&'()*+,-./"
    "0123456789:;<=>?"
    "@ABCDEFGHIJKLMNO"
    "PQRSTUVWXYZ[\\]^_"
    "`abcdefghijklmno"
    "pqrstuvwxyz{|}~ "
)

# The characters behind the names. WRU asks "who are you?" and so is ENQ; the shifts take the two
# characters the seven-unit code has for the same errand.
_CHARACTER_OF = {
    **{name: chr(i) for i, name in enumerate(_CONTROLS)},
    "SP": " ",
    "DEL": "\x7f",
    "WRU": "\x05",
    "LTRS": "\x0f",
    "FIGS": "\x0e",
}

# What word processors and spreadsheets like to put in place of the typed character.
_PLAIN = {"‘": "'", "’": "'", "“": '"', "”": '"', "–": "-", "—": "-", "−": "-"}

SEVEN_UNIT = Code(
    "seven-unit code",
    units=7,
    source="ECMA-6 (6th ed., 1991), IRV = ISO/IEC 646 = ITU-T T.50",
    names=(*_CONTROLS, "SP", *_GRAPHICS[1:-1], "DEL"),
)
"""The seven-unit code, International Reference Version (the same as ASCII)."""

# ITU-T S.1, from memory, every entry: combination number, letters case, figures case, b1 to b5.
# The figures of F, G and H are for national use and left unassigned here. The standard has no
# abbreviations for the functions; WRU, BEL, LTRS, FIGS and NUL are common practice.
_ITA2 = """
     1  A     -     11000      12  L     )     01001      23  W     2     11001
     2  B     ?     10011      13  M     .     00111      24  X     /     10111
     3  C     :     01110      14  N     ,     00110      25  Y     6     10101
     4  D     WRU   10010      15  O     9     00011      26  Z     +     10001
     5  E     3     10000      16  P     0     01101      27  CR    CR    00010
     6  F     none  10110      17  Q     1     11101      28  LF    LF    01000
     7  G     none  01011      18  R     4     01010      29  LTRS  LTRS  11111
     8  H     none  00101      19  S     '     10100      30  FIGS  FIGS  11011
     9  I     8     01100      20  T     5     00001      31  SP    SP    00100
    10  J     BEL   11010      21  U     7     11100      32  NUL   NUL   00000
    11  K     (     11110      22  V     =     01111
"""


def _five_unit() -> Code:
    words = _ITA2.split()
    rows = zip(words[1::4], words[2::4], words[3::4], strict=True)
    table = {int(bits[::-1], 2): (letters, figures) for letters, figures, bits in rows}
    return Code(
        "five-unit code",
        units=5,
        source="ITU-T S.1, International Telegraph Alphabet No. 2 (from memory)",
        names=tuple(table[code][0] for code in range(32)),
        figures=tuple(None if table[code][1] == "none" else table[code][1] for code in range(32)),
    )


FIVE_UNIT = _five_unit()
"""The five-unit code, letters and figures case."""

ALPHABETS: Mapping[str, Code] = {"seven-unit": SEVEN_UNIT, "five-unit": FIVE_UNIT}
"""The published codes by the names that a description has for them."""

PARITIES = {kind: kind for kind in ("even", "odd", "none")}
"""How a parity bit may be set, by the name that a description has for it."""
