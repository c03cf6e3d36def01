"""Machines, logs and records whose every free text means no good, and the same ones tame.

Whatever is made of the hostile one may have no element, attribute or formula more than what is made
of the tame one.  Both have texts of the same length, so that nothing is laid out otherwise.
"""

from dataclasses import fields, is_dataclass, replace
from datetime import date
from html.parser import HTMLParser

import mechlogic
from mechlogic.bench.record import (
    Acceptance,
    CheckMade,
    Finding,
    Note,
    Record,
    Suspicion,
)
from mechlogic.describing.description import parse
from mechlogic.describing.writing import write
from mechlogic.model.faults import Fault
from mechlogic.model.logbook import Entry
from mechlogic.model.mechanism import Mechanism
from mechlogic.model.outputs import Action, Actions, Both

WORDS = (
    "<script>globalThis.letIn=1</script><img src=x onerror=letIn=1>\"'>&amp; $\\frac{a}{0}$ **b** "
    "[x](javascript:letIn=1) ]]></title></style></svg></script><svg onload=letIn=1>"
)
"""Everything that a text could try, in one."""

TAME = "".join(c if c.isalnum() else "x" for c in WORDS)
"""A text of the same length that tries nothing."""

GLYPHS = dict(zip("NESW", '<&$"', strict=True))
"""What the wind stamp prints instead, where its type is hostile too."""

DAY = date(2031, 2, 3)


def machine(name: str, words: str = WORDS):
    """A machine that ships, every free text in its description replaced, and read from its text."""
    known = mechlogic.load(name)
    parts = [
        replace(
            part,
            label=f"{words}{number}",  # no two parts may be called the same
            group=words,
            note=words,
        )
        for number, part in enumerate(known.mechanism)
    ]
    made = replace(
        known,
        title=words,
        about=words,
        mechanism=Mechanism(parts),
        output=_does(known.output, words),
        picture={
            part: {**hints, **({"name": words} if hints.get("name") else {})}
            for part, hints in known.picture.items()
        },
    )
    text = write(made)
    if name == "wind" and words == WORDS:
        for old, new in GLYPHS.items():
            text = text.replace(f'"{old}"', '"\\""' if new == '"' else f'"{new}"')
    return parse(text, "hostile")


def _does(output, words):
    match output:
        case Actions(actions):
            return Actions(tuple(Action(a.lever, a.shows, words) for a in actions))
        case Both(first, second):
            return Both(_does(first, words), _does(second, words))
    return output


def record(of, words: str = WORDS) -> Record:
    """A record of a repair with these words wherever there may be any."""
    part = next(iter(of.mechanism.parts))
    return replace(
        Record.opening(of, words[:90], DAY, words[:90]),
        entries=(Entry(0, "<", note=words), Entry(1, "$", note=words), Entry(0, "nothing")),
        suspects=(Suspicion(DAY, 2, words, "50 %"),),
        checks=(CheckMade(DAY, "typed", words, words, 1.0),),
        findings=(Finding(DAY, (Fault(part, "stuck at rest"),), words),),
        remedies=(Note(DAY, words),),
        acceptances=(Acceptance(DAY, words, "passed", words),),
        notes=(Note(DAY, words),),
    )


class _Elements(HTMLParser):
    def __init__(self):
        super().__init__(convert_charrefs=True)
        self.found, self.text, self.attributes = set(), [], []

    def handle_starttag(self, tag, attributes):
        self.found |= {(tag, name) for name, _ in attributes} | {(tag, "")}
        self.attributes += [value or "" for _, value in attributes]

    def handle_data(self, data):
        self.text.append(data)

    def handle_comment(self, data):
        self.found.add(("comment", ""))

    def unknown_decl(self, data):
        self.found.add(("declaration", ""))


def elements(html: str) -> set[tuple[str, str]]:
    """Every element in a piece of HTML, with each of its attributes."""
    parser = _Elements()
    parser.feed(html)
    parser.close()
    return parser.found


def texts(html: str) -> str:
    """Everything that a piece of HTML shows or reads out, as text."""
    parser = _Elements()
    parser.feed(html)
    parser.close()
    return "\n".join((*parser.text, *parser.attributes))


def texts_in(thing) -> list[str]:
    """Every text in a nest of dataclasses, lists and dictionaries."""
    if isinstance(thing, str):
        return [thing]
    if is_dataclass(thing):
        return [text for each in fields(thing) for text in texts_in(getattr(thing, each.name))]
    if isinstance(thing, dict):
        return [text for pair in thing.items() for one in pair for text in texts_in(one)]
    if isinstance(thing, list | tuple | set | frozenset):
        return [text for one in thing for text in texts_in(one)]
    return []
