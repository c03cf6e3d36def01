"""Test cards: what to send to a machine to be sure that it is well, and what each text can show.

After a repair a card says: send this, and hold the print beside that.  The small cards are as
small as can be, proved by integer programming; the long ones are comfortable and walk through
every change.  With every card comes what it cannot show, and why.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from itertools import product

from mechlogic.acceptance.coverage import (
    Coverage,
    coverage,
    missing_text,
    readability,
    showing,
    shows_as_much,
)
from mechlogic.bench.diagnosis import classes
from mechlogic.explaining.words import the
from mechlogic.helpers.covers import (
    SECONDS,
    Found,
    Step,
    all_pairs_walk,
    greedy_walk,
    shortened,
    shortest_walk,
    smallest_cover,
)
from mechlogic.helpers.refusal import TooMuch
from mechlogic.model.codes import STEP, Code, CodeError, is_function
from mechlogic.model.faults import SLOW_TO_RETURN, SLUGGISH, Hypothesis, faults_of
from mechlogic.model.logbook import NOTHING, UNREADABLE
from mechlogic.model.machine import Machine
from mechlogic.model.steps import good_step, good_text, steps
from mechlogic.model.table import place_in_row

LINE = 64
"""Characters in a line of text before it is wrapped, unless told otherwise."""

MOST_LETTERS = 256
"""The most characters that a text is put together from: each may come after each."""

LOCALLY = "no one and no two of them can be left out, and no two replaced by one."
"""What is sure of every text that is not proved to be the shortest."""

PANGRAM = "QUIET BERTH SIX: HAZY DAWN, FRESH GALE; JOLLY CREW OF THE BRIG VIXEN UNPACKS MAPS"
"""A sentence with every letter, as the harbour office of Saltmere used to send it."""


@dataclass(frozen=True)
class Card:
    """A text to send, and what it proves.

    Attributes:
        title: What it is.
        machine: The machine it is for.
        text: The codes that matter, without parity and without line ends.
        claim: How short it is, and what is proved of that.
        by_hand: Whether each character is sent by itself and the shaft turned over by hand.
        width: Characters in a line before it is wrapped.
        found: The search that found it, if there was one.
    """

    title: str
    machine: Machine
    text: tuple[int, ...]
    claim: str
    by_hand: bool = False
    width: int = LINE
    found: "Found[Hypothesis, int] | None" = field(default=None, compare=False)

    @cached_property
    def lines(self) -> tuple[tuple[int, ...], ...]:
        """The text wrapped, with CR and LF at the end of each line if the code has them."""
        return wrapped(self.machine.code, self.text, self.width)

    @cached_property
    def codes(self) -> tuple[int, ...]:
        """All that is sent, line ends included, without parity."""
        return tuple(code for line in self.lines for code in line)

    @cached_property
    def bytes(self) -> bytes:
        """All that is sent, one byte a character, its parity bit included."""
        return bytes(self.machine.as_set(code) for code in self.codes)

    @cached_property
    def names(self) -> tuple[str, ...]:
        """The text as a person reads it: characters, and the names of those that do not print."""
        return tuple(self.machine.code.name(code) for code in self.text)

    @cached_property
    def paper(self) -> tuple[str, ...]:
        """What a good machine leaves on the paper, line by line."""
        return paper(self.machine, self.codes)

    @cached_property
    def coverage(self) -> Coverage:
        """What the text itself shows, before any line end is added."""
        return coverage(self.machine, self.text, at_speed=not self.by_hand)

    @cached_property
    def coverage_as_sent(self) -> Coverage:
        """What is shown by all that is sent, line ends included."""
        return coverage(self.machine, self.codes, at_speed=not self.by_hand)


# -- texts on paper --------------------------------------------------------------------------------


def wrapped(code: Code, text: Sequence[int], width: int = LINE) -> tuple[tuple[int, ...], ...]:
    """A text in lines, each ended by CR and LF.

    Each line begins with the character that ended the one before, so that no change from one
    character to the next is lost.  A code without CR and LF has no lines: the text stays whole.

    Raises:
        ValueError: If a line is to have fewer than two characters.
    """
    if width < 2:
        raise ValueError(f"a line of {width} cannot hold a change. Give it two characters or more.")
    try:
        end = (code.parse("CR"), code.parse("LF"))
    except CodeError:
        return (tuple(text),) if text else ()
    lines = [
        (*text[start : start + width], *end) for start in range(0, max(1, len(text) - 1), width - 1)
    ]
    return tuple(lines) if text else ()


def paper(machine: Machine, codes: Iterable[int]) -> tuple[str, ...]:
    """What a good machine leaves on the paper, line by line, blanks at the ends left out.

    Its latches stand at rest before.
    """
    text = tuple(codes)
    return laid_out(machine, text, good_text(machine, text))


def laid_out(machine: Machine, codes: Iterable[int], seen: Iterable[str]) -> tuple[str, ...]:
    """What a machine leaves on the paper, line by line, blanks at the ends left out.

    CR brings the carriage back and LF moves the paper up by a line: where the machine shows these
    as actions, only if they are seen, else whenever they are sent.  A character without a print
    leaves a blank if it is a printing one, and nothing at all if it is a control character.  Where
    the machine only moves the carriage on (STEP), another one prints the character that was sent.

    Args:
        machine: The machine.
        codes: What was sent, without parity.
        seen: For each, what was seen, as a log has it.
    """
    acts = set(machine.output.glyphs)
    lines: list[dict[int, str]] = [{}]
    column = 0
    for code, shown in zip(codes, seen, strict=True):
        character = machine.code.character(code)
        done = {piece for piece in shown.split("+") if is_function(piece)}
        done |= {machine.code.name(code)}.difference(acts)
        mark = _mark_of(shown)
        if STEP in acts and not mark and character.isprintable():
            mark = character
        if mark:
            lines[-1][column] = mark
        moves = mark or (shown == NOTHING and character.isprintable())
        column += STEP in done if STEP in acts else bool(moves)
        if "CR" in done:
            column = 0
        if "LF" in done:
            lines.append({})
    drawn = ["".join(line.get(i, " ") for i in range(max(line, default=-1) + 1)) for line in lines]
    while drawn and not drawn[-1]:
        drawn.pop()
    return tuple(drawn)


def typeable(machine: Machine) -> tuple[int, ...]:
    """The codes that cards are made of: those that print a mark, and two that print nothing.

    These are LF, and the space if the machine has no type for it: only such codes show whether
    the hammer is held back.  Both leave a text readable.  A space that has type of its own, which
    is blank, is left out: its print cannot be seen.  Codes that throw a latch are taken in too.
    """
    marks = [c for c in machine.printing_codes if machine.good_print(c) != NOTHING]
    marks += [code for run in machine.declared.shows for code in run.codes]
    marks += [c for c in range(len(machine.code)) if c not in marks and _throws(machine, c)]
    quiet = (c for c in range(len(machine.code)) if machine.code.name(c) in ("LF", "SP"))
    printed = {*marks, *machine.printing_codes}
    return (*marks, *(c for c in quiet if c not in printed and machine.good_print(c) == NOTHING))


def _allowed(codes: Iterable[int]) -> tuple[int, ...]:
    """The characters to choose from, each once.

    Raises:
        TooMuch: If there are more than :data:`MOST_LETTERS`.
    """
    letters = tuple(dict.fromkeys(codes))
    if len(letters) > MOST_LETTERS:
        raise TooMuch(
            f"{len(letters):,} characters to put a text together from; {MOST_LETTERS} are the most",
            "Name those that may be sent: codes=…",
        )
    return letters


def _mark_of(seen: str) -> str:
    """The mark that is left on the paper, if any: the A of ``A+LF``."""
    if seen == UNREADABLE:
        return "?"
    return seen[0] if len(seen) == 1 or seen[1] == "+" else ""


def _throws(machine: Machine, code: int) -> bool:
    """Whether a code throws a latch of a good machine, at least from some of its states."""
    return any(good_step(machine, code, memory)[1] != memory for memory in steps(machine, ()))


# -- the smallest ----------------------------------------------------------------------------------


def smallest_set(
    machine: Machine,
    codes: Iterable[int] | None = None,
    hypotheses: Iterable[Hypothesis] | None = None,
    seconds: float = SECONDS,
) -> Card:
    """The fewest characters that show every fault that needs no speed and no luck.

    Their order does not matter, and each is sent by itself, the shaft turned by hand, or after
    itself: so no part can be late.

    Args:
        machine: The machine.
        codes: What may be sent; :func:`typeable` if left out.
        hypotheses: The faults to show; one for each class of single faults if left out.
        seconds: How long the search may take.
    """
    allowed = _allowed(typeable(machine) if codes is None else codes)
    table = {
        faults: [code for code in allowed if showing(machine, faults).alone >> code & 1]
        for faults in _leaders(machine, hypotheses)
        if showing(machine, faults).alone
    }
    found = smallest_cover(table, _cost(machine), seconds)
    claim = _claim(found, "set", "characters", len(allowed))
    text = tuple(sorted(found.chosen, key=lambda code: (readability(machine, code), code)))
    return Card("Smallest set of characters", machine, text, claim, by_hand=True, found=found)


def smallest_sequence(
    machine: Machine,
    codes: Iterable[int] | None = None,
    hypotheses: Iterable[Hypothesis] | None = None,
    seconds: float = SECONDS,
) -> Card:
    """The shortest text that shows, sent at speed, every fault that any text shows for certain.

    It shows them whatever was sent before it; sluggish parts too, which need one character after
    another.

    Args:
        machine: The machine.
        codes: What may be sent; :func:`typeable` if left out.
        hypotheses: The faults to show; one for each class of single faults if left out.
        seconds: How long the search may take.
    """
    allowed = _allowed(typeable(machine) if codes is None else codes)
    table = {
        faults: _telling_steps(machine, faults, allowed)
        for faults in _leaders(machine, hypotheses)
        if showing(machine, faults).certain
    }
    if machine.mechanism.latches:
        return _greedy_sequence(machine, allowed, table)
    found = shortest_walk(allowed, table, _cost(machine), seconds)
    claim = _claim(found, "text", "characters", len(allowed))
    return Card("Smallest text", machine, found.chosen, claim, found=found)


def _greedy_sequence(
    machine: Machine, allowed: tuple[int, ...], table: Mapping[Hypothesis, frozenset[Step[int]]]
) -> Card:
    """A short text for a machine that remembers further back than one character."""
    text = greedy_walk(allowed, [needs for needs in table.values() if needs], _cost(machine))
    text = _completed(machine, text, allowed)
    text = shortened(text, allowed, shows_as_much(machine, text))
    claim = (
        f"{len(text)} characters, the shortest found: {LOCALLY} The machine remembers further back "
        "than one character, so no more is proved of its length; what it shows is exact."
    )
    return Card("Smallest text", machine, text, claim)


def _completed(
    machine: Machine, text: tuple[int, ...], allowed: tuple[int, ...]
) -> tuple[int, ...]:
    """A text with as much added as it takes to show every fault that some text shows."""
    nicest = tuple(sorted(allowed, key=_cost(machine)))
    for faults in _leaders(machine, None):
        text += missing_text(machine, faults, text, nicest)
    return text


def _leaders(machine: Machine, hypotheses: Iterable[Hypothesis] | None) -> tuple[Hypothesis, ...]:
    if hypotheses is not None:
        return tuple(hypotheses)
    return tuple(members[0] for members in classes(machine) if () not in members)


def _telling_steps(
    machine: Machine, faults: Hypothesis, codes: Sequence[int]
) -> frozenset[Step[int]]:
    """The steps that show a hypothesis for certain; a first character comes after anything."""
    shows, sendable = showing(machine, faults), set(codes)
    alone = sendable.intersection(shows.codes())
    steps: set[Step[int]] = {(before, now) for before in (None, *codes) for now in alone}
    steps.update(
        (before, now) for before, now in shows.pairs() if before in sendable and now in sendable
    )
    return frozenset(steps)


def _cost(machine: Machine) -> Callable[[int], float]:
    costs = {code: float(readability(machine, code)) for code in range(len(machine.code))}
    return costs.__getitem__


def _claim(found: Found[Hypothesis, int], kind: str, unit: str, n_allowed: int) -> str:
    """What is proved of the size, and no more."""
    among = f"of the {n_allowed} characters allowed"
    left = f" {len(found.unmet)} faults need other characters." if found.unmet else ""
    if found.proved:
        return (
            f"{len(found)} {unit}, the fewest there can be: no {kind} with fewer, made "
            f"{among}, shows as much.{left}"
        )
    return (
        f"{len(found)} {unit}, the shortest found: {LOCALLY} No {kind} with fewer than "
        f"{found.bound} exists, made {among}.{left}"
    )


# -- the comfortable -------------------------------------------------------------------------------


def walk_all_transitions(machine: Machine, codes: Sequence[int] | None = None) -> Card:
    """Every character after every character: 4,097 of them for 64.

    Args:
        machine: The machine.
        codes: The characters; those that print their own, the blank among them, if left out.
    """
    letters = _allowed(machine.printing_codes if codes is None else codes)
    if machine.mechanism.latches:
        return _walk_in_every_case(machine, letters)
    text = all_pairs_walk(letters)
    n = len(letters)
    claim = (
        f"{len(text)} characters: each of {n} after each of {n}, once. No text with fewer "
        f"has all {n * n} changes."
    )
    return Card("Every character after every character", machine, text, claim)


def _walk_in_every_case(machine: Machine, letters: tuple[int, ...]) -> Card:
    """Every character after every character, once for each way in which the latches can stand."""
    text: list[int] = []
    for memory in steps(machine, ()):
        brings = [
            code
            for code in range(len(machine.code))
            if all(good_step(machine, code, one)[1] == memory for one in steps(machine, ()))
        ]
        stays = [code for code in letters if good_step(machine, code, memory)[1] == memory]
        if brings:
            text += [min(brings, key=_cost(machine)), *all_pairs_walk(stays)]
    claim = (
        f"{len(text)} characters: in each case, every character after every character that leaves "
        "the case as it is."
    )
    return Card("Every character after every character", machine, tuple(text), claim)


def walk_part_transitions(machine: Machine, codes: Sequence[int] | None = None) -> Card:
    """Every part that can be sluggish goes from each of its places to each other one.

    Shorter than every character after every character, and it too shows every fault that any text
    of these characters shows for certain.

    Args:
        machine: The machine.
        codes: What may be sent; :func:`typeable` if left out.
    """
    letters = _allowed(typeable(machine) if codes is None else codes)
    changes = part_changes(machine, letters)
    telling = [_telling_steps(machine, faults, letters) for faults in _leaders(machine, None)]
    needs = [*changes.values(), *filter(None, telling)]
    text = greedy_walk(letters, needs, _cost(machine))
    if machine.mechanism.latches:
        text = _completed(machine, text, letters)
    return Card(
        "Every change of every part", machine, text, _claim_of_changes(machine, text, changes)
    )


def _claim_of_changes(
    machine: Machine, text: Sequence[int], changes: Iterable[tuple[str, int, int]]
) -> str:
    """No text can be shorter than the changes of the busiest part, one with each character."""
    ((busiest, n_changes),) = Counter(part for part, _, _ in changes).most_common(1) or (("", 0),)
    if not busiest:
        return "No part can be sluggish."
    reason = f"{the(machine.label(busiest))} makes {n_changes} changes of place, one a character"
    if len(text) == n_changes + 1:
        return f"{len(text)} characters, the fewest there can be: {reason}."
    return (
        f"{len(text)} characters, the shortest found; no text with fewer than {n_changes + 1} "
        f"exists: {reason}."
    )


def part_changes(
    machine: Machine, codes: Sequence[int]
) -> Mapping[tuple[str, int, int], frozenset[Step[int]]]:
    """For each part that can be sluggish and each change of place, the steps that make it."""
    mechanism = machine.mechanism
    changes: dict[tuple[str, int, int], frozenset[Step[int]]] = {}
    for name in mechanism.parts:
        if not any(fault.mode == SLOW_TO_RETURN.name for fault in faults_of(mechanism, name)):
            continue
        if mechanism.upstream(name).intersection(mechanism.latches):
            continue  # where it stands is not a matter of the code alone
        at: dict[int, list[int]] = {}
        for code in codes:
            place = place_in_row(machine.healthy.places[name], machine.as_set(code))
            at.setdefault(place, []).append(code)
        for here, there in product(sorted(at), repeat=2):
            if here != there:
                changes[name, here, there] = frozenset(product(at[here], at[there]))
    return changes


# -- the customary ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class Comparison:
    """One row of a comparison of texts.

    Attributes:
        name: What the text is called.
        codes: All that is sent, line end included, without parity.
        coverage: What it shows, sent at speed.
    """

    name: str
    codes: tuple[int, ...]
    coverage: Coverage

    @property
    def missed_sluggish(self) -> int:
        """How many classes of sluggish parts it does not show for certain."""
        return sum(
            any(fault.mode in SLUGGISH for fault in finding.members[0])
            for finding in (*self.coverage.missed, *self.coverage.possible)
        )


def customary(machine: Machine, cards: Iterable[Card] = ()) -> tuple[Comparison, ...]:
    """What the customary test lines show, and what cards show beside them.

    R and Y are complements of each other in the five-unit code, U and * in the seven-unit code
    (common practice, no source): a line of them moves every bar with every character.  Every line
    is sent once, with CR and LF at its end if the code has them; a line with a character that the
    code lacks is left out.
    """
    texts = {
        name: wrapped(machine.code, text, max(2, len(text)))
        for name, text in _customary_lines(machine)
    }
    texts.update((card.title, card.lines) for card in cards)
    rows = []
    for name, lines in texts.items():
        codes = tuple(code for line in lines for code in line)
        rows.append(Comparison(name, codes, coverage(machine, codes)))
    return tuple(rows)


def _customary_lines(machine: Machine) -> Iterator[tuple[str, tuple[int, ...]]]:
    texts = {"RYRY…": "RY" * (LINE // 2), "U*U*…": "U*" * (LINE // 2), "pangram": PANGRAM}
    for name, text in texts.items():
        try:
            yield name, tuple(map(machine.code.code, text))
        except CodeError:
            continue
    yield "every character once, in order of the code", machine.printing_codes
