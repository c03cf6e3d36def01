"""A reader's own claim about a part, typed in words: ``b1 or not (b2 and b3)``.

The grammar is our own, and small; what is typed is never evaluated::

    claim = both { "or" both }
    both  = one { "and" one }
    one   = { "not" } ( NAME | "(" claim ")" )

``|``, ``&`` and ``~`` mean the same as ``or``, ``and`` and ``not``.  A NAME is a code bit, or a key
of a machine that has keys.
"""

import re
from collections.abc import Mapping
from dataclasses import dataclass

from sympy import And, Not, Or, Symbol
from sympy.logic.boolalg import Boolean

from mechlogic.explaining.formulas import bits
from mechlogic.explaining.proofs import operated_when
from mechlogic.explaining.words import Places, capitalised, measure, the
from mechlogic.helpers.refusal import Refusal
from mechlogic.helpers.sentences import listed
from mechlogic.model.machine import Machine
from mechlogic.model.mechanism import Mechanism
from mechlogic.model.table import Rows, tabulate

LONGEST = 200
"""The most letters of a claim."""

DEEPEST = 10
"""The most brackets that stand within each other."""

JOINS = ("or", "|", "and", "&")


class ClaimError(Refusal):
    """A claim that cannot be read; the message says at which letter of the text, counted from 1."""


def names(mechanism: Mechanism) -> tuple[str, ...]:
    """What a claim may speak of: the code bits, lowest first, and the keys."""
    return (*bits(mechanism), *mechanism.keys)


def read(text: str, known: tuple[str, ...]) -> Boolean:
    """The claim as a SymPy expression.

    Args:
        text: The claim; capital letters are as good as small ones.
        known: The names that it may speak of.

    Raises:
        ClaimError: If it cannot be read.
    """
    if len(text) > LONGEST:
        what = f"the claim has {len(text)} letters; {LONGEST} are the most"
        raise ClaimError(what, "Make a shorter claim")
    return _Reader(text, known).whole()


class _Reader:
    """Reads the words of a claim from left to right; each method reads what its name says."""

    def __init__(self, text: str, known: tuple[str, ...]) -> None:
        self.known: Mapping[str, str] = {name.lower(): name for name in known}
        found = [(one[0], one.start() + 1) for one in re.finditer(r"\w+|\S", text)]
        self.words = [*found, ("", len(text) + 1)]
        self.depth = 0

    def whole(self) -> Boolean:
        claim = self.claim()
        word, _ = self.words[0]
        if word == ")":
            raise self.wrong("no bracket is open here", "Delete it, or write ( before")
        if word:
            raise self.wrong('"and" or "or" is missing before this', "Write one of them")
        return claim

    def claim(self) -> Boolean:
        ways = [self.both()]
        while self.takes("or", "|"):
            ways.append(self.both())
        return Or(*ways)

    def both(self) -> Boolean:
        needed = [self.one()]
        while self.takes("and", "&"):
            needed.append(self.one())
        return And(*needed)

    def one(self) -> Boolean:
        holds = True
        while self.takes("not", "~"):
            holds = not holds
        found = self.bracket() if self.words[0][0] == "(" else self.name()
        return found if holds else Not(found)

    def bracket(self) -> Boolean:
        _, opened = self.words[0]
        if self.depth == DEEPEST:
            what = f"more than {DEEPEST} brackets within each other"
            raise self.wrong(what, "Make a simpler claim")
        self.takes("(")
        self.depth += 1
        found = self.claim()
        if not self.takes(")"):
            what = f"the bracket of letter {opened} is not closed"
            raise self.wrong(what, 'Write ) here, or "and" or "or" if the claim goes on')
        self.depth -= 1
        return found

    def name(self) -> Boolean:
        word, _ = self.words[0]
        known = listed(self.known.values(), "or")
        if word.lower() in (*JOINS, ")", ""):
            raise self.wrong("a name is missing here", f"Write {known}")
        if word.lower() not in self.known:
            mend = f'Use {known}, joined by "and", "or" and "not", with ( and )'
            raise self.wrong("nothing is called that", mend)
        return Symbol(self.known[self.words.pop(0)[0].lower()])

    def takes(self, *words: str) -> bool:
        """Whether one of these words comes next; if so, go past it."""
        comes = self.words[0][0].lower() in words
        if comes:
            self.words.pop(0)
        return comes

    def wrong(self, what: str, mend: str) -> ClaimError:
        """What to say about the word that comes next."""
        word, letter = self.words[0]
        shown = f'"{word}"' if word else "the end"
        return ClaimError(f"At letter {letter}, {shown}: {what}", mend)


@dataclass(frozen=True)
class Answer:
    """Whether a claim is true, in words.

    Attributes:
        says: The sentences.
        holds: Whether it is true.
        setting: The setting of the code bars, or the code of the key, that refutes it; 0 if it is
            true.
    """

    says: str
    holds: bool
    setting: int


def answer(machine: Machine, part: str, cut: int, text: str) -> Answer:
    """Prove or refute a claim of when a part has passed a cut.

    Args:
        machine: The machine.
        part: Name of the part.
        cut: Number of the cut, from 0.
        text: When the reader thinks that it has passed, as the grammar above has it.

    Raises:
        ClaimError: If the claim cannot be read.
    """
    mechanism = machine.mechanism
    claim = read(text, names(mechanism))
    proof = operated_when(mechanism, part, claim, cut)
    unit, places = mechanism.unit(part), mechanism.laws[part].places
    who, mark = the(machine.label(part)), measure(places[cut + 1], unit)
    mark += " or further" * (cut + 2 < len(places))
    about = f"{who} stands at {mark} exactly when {claim}."
    latches = [the(machine.label(name)) for name in mechanism.latches]
    if mechanism.upstream(part).intersection(mechanism.latches):
        about += f" Before, {listed(latches)} stood at rest."
    if proof:
        return Answer(f"Proved: {about} All {proof.cases} settings agree.", True, 0)
    assert proof.refuted_by is not None  # a claim that is refuted is so by a setting
    at = tabulate(mechanism, Rows((proof.refuted_by,))).in_row(0)
    here = measure(places[at[part]], unit)
    thinks = "does not stand" if at[part] > cut else "stands"
    shown = f"{_setting(machine, at)}, {who} stands at {here}; by the claim it {thinks} at {mark}."
    return Answer(f"Refuted: {about} {capitalised(shown)}", False, proof.refuted_by)


def _setting(machine: Machine, at: Places) -> str:
    """Which bits are set, or which key is pressed."""
    mechanism = machine.mechanism
    pressed = [the(machine.label(name)) for name in mechanism.keys if at[name]]
    if pressed:
        return f"with {listed(pressed)} pressed"
    those = [f"b{bar.bit}" for name, bar in mechanism.bars.items() if at[name]]
    return f"with only {listed(those)} set" if those else "with no bit set"
