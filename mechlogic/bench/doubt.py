"""What somebody typed and cannot be: a question, with what was probably meant.

A machine prints what is on its type and nothing else.  A small l on a machine that has capitals
only, or a ½ where there is none, is a slip of the fingers and no evidence; it is asked about, and
until then the entry counts for nothing.  The functions here are pure: machine and text in, question
out.  Nothing is changed without an answer.
"""

import unicodedata
from collections.abc import Collection, Iterator
from dataclasses import dataclass
from typing import Literal

from mechlogic.helpers.kept import kept
from mechlogic.helpers.refusal import on_one_line
from mechlogic.model.codes import CodeError, shown
from mechlogic.model.logbook import read_print
from mechlogic.model.machine import Machine
from mechlogic.model.seen import (
    NOTHING,
    OR,
    OVER,
    UNREADABLE,
    UNSEEN,
    alternatives,
    is_glyph,
    is_print,
    pieces,
)

__all__ = ["Choice", "Question", "can_print", "print_question", "sent_question"]

Column = Literal["sent", "printed"]


@dataclass(frozen=True, slots=True)
class Choice:
    """One answer to a question.

    Attributes:
        text: What then stands in the column.
        says: The answer in words, for a button: ``"A"``, ``"nothing was printed"``.
    """

    text: str
    says: str


@dataclass(frozen=True, slots=True)
class Question:
    """What is asked about one thing that was typed.

    Attributes:
        column: Where it stands.
        typed: What was typed.
        says: What is wrong, as a sentence.
        choices: What was probably meant, likeliest first; any other answer can be typed.
    """

    column: Column
    typed: str
    says: str
    choices: tuple[Choice, ...] = ()


def can_print(machine: Machine, printed: str) -> bool:
    """Whether a machine has all the type and the levers for what was seen, sound or not."""
    have = _shows(machine)
    return all(
        one in (NOTHING, UNREADABLE, UNSEEN) or have.issuperset(pieces(one))
        for one in alternatives(printed)
    )


def print_question(machine: Machine, typed: str) -> Question | None:
    """What to ask about a print as it was typed; None if the machine can have made it.

    Args:
        machine: The machine.
        typed: What was typed: a character, its name, ``nothing``, ``B or 8`` and so on.
    """
    if typed in ("", "\u3003"):
        says = "It is not written down what was printed."
        return Question("printed", typed, says, (_NOTHING, _UNSEEN))
    have = _shows(machine)
    try:
        seen = read_print(typed, machine.code)
    except CodeError as error:
        return Question("printed", typed, _sentence(error), tuple(_if_two(typed, have)))
    if can_print(machine, seen):
        return None
    strange = [c for one in alternatives(seen) for c in pieces(one) if c not in {*have, NOTHING}]
    says = f"{on_one_line(machine.title)} has no {' and no '.join(map(shown, strange))}."
    if any(len(one) > 1 for one in strange):
        says += " If it is a word, write its characters one by one."
    if is_glyph(seen):
        choices = [Choice(near, near) for near in _meant(seen, have)]
    else:  # each in its place: itself if it can be, or its nearest
        each = alternatives(seen)
        near = [one if can_print(machine, one) else next(_meant(one, have), "") for one in each]
        joined = (OVER if OVER in seen else OR).join(dict.fromkeys(filter(None, near)))
        choices = [Choice(joined, joined)] if joined and is_print(joined) else []
    return Question("printed", typed, says, (*choices, _UNREADABLE, _UNSEEN))


def sent_question(machine: Machine, typed: str) -> Question | None:
    """What to ask about a character that was sent, as it was typed; None if there is no doubt.

    A character that the code has and the machine's type has not, such as a small letter, may have
    been sent all the same.  It is asked about if the type has what was probably meant; the code's
    position (``6/1``) says it without doubt.
    """
    if not typed or typed == "\u3003":
        return Question("sent", typed, "It is not written down what was sent.")
    code, have = machine.code, _shows(machine)
    known = frozenset(name for name in (*code.names, *code.figures) if name and len(name) == 1)
    try:
        number = code.parse(typed)
    except CodeError as error:
        near = list(_meant(typed, known)) if len(typed) == 1 else []
        near.sort(key=lambda one: one not in have)
        return Question("sent", typed, _sentence(error), tuple(Choice(one, one) for one in near))
    if not is_glyph(typed) or typed == " " or typed in have:
        return None
    choices = [Choice(near, near) for near in _meant(typed, have & known)]
    if not choices:
        return None
    position = code.position(number)
    choices.append(Choice(position, f"really {typed}, position {position}"))
    says = f"{on_one_line(machine.title)} prints no {shown(typed)}. Was it sent?"
    return Question("sent", typed, says, tuple(choices))


@kept(most=1)
def _shows(machine: Machine) -> frozenset[str]:
    return frozenset(machine.output.glyphs)


_NOTHING = Choice(NOTHING, "nothing was printed")
_UNREADABLE = Choice(UNREADABLE, "it cannot be read")
_UNSEEN = Choice(UNSEEN, "I did not see it")


def _sentence(error: CodeError) -> str:
    return f"{error}".removesuffix(".") + ("" if error.mend.endswith("?") else ".")


def _if_two(typed: str, have: frozenset[str]) -> Iterator[Choice]:
    """Two characters may be one on top of the other, or one of the two."""
    two = [next(_meant(c, have), "") if c not in have else c for c in typed if c != " "]
    if len(two) == 2 and all(two) and two[0] != two[1]:
        yield Choice(OVER.join(two), f"{two[0]} and {two[1]} on top of each other")
        yield Choice(OR.join(two), f"{two[0]} or {two[1]}, I cannot tell")
    yield from (_UNREADABLE, _UNSEEN)


def _meant(typed: str, have: Collection[str]) -> Iterator[str]:
    """The characters that were probably meant, of those that there are, likeliest first."""
    if len(typed) != 1:
        return
    plain = typed.translate(_PLAIN)
    broken = unicodedata.normalize("NFKD", plain)
    letters = [c for c in (plain, *broken) if not unicodedata.combining(c)]
    near = [form for c in letters for form in (c, c.upper(), c.lower())]
    alike = [c for group in _ALIKE if plain in group for c in group]
    seen = {typed}
    for c in (*near, *alike):
        if c in have and c not in seen and c != " ":
            seen.add(c)
            yield c


_ALIKE = (
    "0OoQD", "1lI|i!", "5Ss", "8B", "2Zz", "6Gb", "9gq", "-_~", "'`", "xX*", "/\\:", ".,", ";:,",
    "UV", "({[<", ")}]>",
)  # fmt: skip
"""Shapes that are taken for each other on paper or at the keys (from the shapes, no source)."""

_PLAIN = str.maketrans(
    "\u2018\u2019\u201a\u00b4\u201c\u201d\u201e\u2010\u2011\u2012\u2013\u2014\u2212\u00d7\u00f7\u00b7\u2026"
    "\u0410\u0412\u0415\u041a\u041c\u041d\u041e\u0420\u0421\u0422\u0425\u0430\u0435\u043e\u0440\u0441\u0445"
    "\u0391\u0392\u0395\u0396\u0397\u0399\u039a\u039c\u039d\u039f\u03a1\u03a4\u03a5\u03a7\u00d8\u00f8\u0131",
    "''''\"\"\"------x/.." + "ABEKMHOPCTXaeopcx" + "ABEZHIKMNOPTYXOoi",
)
"""What word processors put in the place of typed characters, and letters of other alphabets."""
