"""Sessions at the bench with slips of the fingers: each is questioned, taken rightly, or told.

A made-up fault makes the prints; somebody types them in words, one by one or by pasting, and slips
once.  No slip may change the suspects without a word.  The table of 100 sessions:

    MECHLOGIC_SESSIONS=100 python -m pytest -n0 -s tests/test_slips.py
"""

import os
import random
from collections import Counter
from collections.abc import Callable

import pytest
from plain_runs import PRINTING, SALTMERE, plain

import mechlogic
from mechlogic.bench.diagnosis import Diagnosis, diagnose
from mechlogic.bench.log_editor import LogEditor
from mechlogic.model.faults import single_faults
from mechlogic.model.logbook import Entry, sent_cell

SESSIONS = int(os.environ.get("MECHLOGIC_SESSIONS", "20"))
MACHINE = mechlogic.load("saltmere")
FAULTS = single_faults(MACHINE.mechanism)
ROWS = ("QWERTYUIOP", "ASDFGHJKL", "ZXCVBNM")

Pairs = list[tuple[str, str]]


def session(rng: random.Random) -> Pairs:
    """What was sent and printed on a machine with a fault: letters that leave something printed."""
    letters = [code for code in PRINTING if chr(code).isalpha()]
    while True:
        fault = rng.choice(FAULTS)
        log = SALTMERE.type(plain((fault,)), rng.choices(letters, k=12), rng)
        pairs = [(sent_cell(one.sent, MACHINE.code), one.printed) for one in log]
        printed = [below for _, below in pairs if below.isalpha() and len(below) == 1]
        if any(above != below for above, below in pairs) and len(printed) > 9:
            return pairs


def one_by_one(pairs: Pairs) -> LogEditor:
    editor = LogEditor(MACHINE)
    for above, below in pairs:
        editor = editor.write(above, below)
    return editor


# Each slip: the editor as somebody leaves it, the lines that it is about, and the answers that put
# it right (line, column, text).
Slip = tuple[LogEditor, set[int], list[tuple[int, str, str]]]


def somewhere(rng: random.Random, pairs: Pairs) -> int:
    """The place of a pair whose print is a letter."""
    return rng.choice([n for n, (_, below) in enumerate(pairs) if len(below) == 1])


def small_letter_printed(rng: random.Random, pairs: Pairs) -> Slip:
    at = somewhere(rng, pairs)
    above, below = pairs[at]
    editor = one_by_one([*pairs[:at], (above, below.lower()), *pairs[at + 1 :]])
    return editor, {at + 1}, [(at + 1, "printed", below)]


def capitals_off(rng: random.Random, pairs: Pairs) -> Slip:
    editor = one_by_one([(a.lower(), b if len(b) > 1 else b.lower()) for a, b in pairs])
    lines = set(range(1, len(pairs) + 1))
    answers = [(n, c, text) for n, (a, b) in enumerate(pairs, 1)
               for c, text in (("sent", a), ("printed", b))]  # fmt: skip
    return editor, lines, answers


def wrong_key(rng: random.Random, pairs: Pairs) -> Slip:
    at = somewhere(rng, pairs)
    above, below = pairs[at]
    row = next((row for row in ROWS if below in row), ROWS[0])
    near = row[(row.find(below) + rng.choice((1, -1))) % len(row)]
    editor = one_by_one([*pairs[:at], (above, near), *pairs[at + 1 :]])
    return editor, {at + 1}, [(at + 1, "printed", below)]


def key_beside_return(rng: random.Random, pairs: Pairs) -> Slip:
    at = somewhere(rng, pairs)
    above, below = pairs[at]
    slipped = below + rng.choice(["ä", "'", "]", below])
    editor = one_by_one([*pairs[:at], (above, slipped), *pairs[at + 1 :]])
    return editor, {at + 1}, [(at + 1, "printed", below)]


def as_word(pairs: Pairs) -> tuple[str, str, int]:
    """The longest run of pairs that can be typed as a word, and where it begins."""
    runs: list[tuple[int, int]] = []
    start = 0
    for n, (_, below) in enumerate([*pairs, ("", "")]):
        if len(below) != 1:
            runs.append((n - start, start))
            start = n + 1
    length, start = max(runs)
    run = pairs[start : start + length]
    return "".join(a for a, _ in run), "".join(b for _, b in run), start


def skipped_character(rng: random.Random, pairs: Pairs) -> Slip:
    sent, printed, start = as_word(pairs)
    gone = rng.randrange(1, len(printed))
    editor = one_by_one(pairs[:start]).write(sent, printed[:gone] + printed[gone + 1 :])
    for above, below in pairs[start + len(sent) :]:
        editor = editor.write(above, below)
    answers = [(n, "printed", b) for n, (_, b) in enumerate(pairs, 1)]
    return editor, set(range(start + 1, start + len(sent) + 1)), answers


def overprint(rng: random.Random, pairs: Pairs) -> Slip:
    at = somewhere(rng, pairs)
    above, below = pairs[at]
    other = rng.choice([c for c in "AEHMT" if c != below])
    editor = one_by_one([*pairs[:at], (above, f"{other}{below}"), *pairs[at + 1 :]])
    return editor, {at + 1}, [(at + 1, "printed", f"{other} over {below}")]


def pasted_with_a_hole(rng: random.Random, pairs: Pairs) -> Slip:
    sent, printed, start = as_word(pairs)
    half, gone = len(sent) // 2, len(printed) // 2
    lines = [sent[:half], printed[:half], sent[half:], printed[half:gone] + printed[gone + 1 :]]
    before = one_by_one(pairs[:start])
    editor, _ = before.paste("\n".join(lines))
    for above, below in pairs[start + len(sent) :]:
        editor = editor.write(above, below)
    answers = [(n, "printed", b) for n, (_, b) in enumerate(pairs, 1)]
    return editor, set(range(start + 1, start + len(sent) + 1)), answers


def pasted_in_one_line_too_few(rng: random.Random, pairs: Pairs) -> Slip:
    sent, printed, start = as_word(pairs)
    half = len(sent) // 2
    before = one_by_one(pairs[:start])
    editor, pasted = before.paste("\n".join([sent[:half], printed[:half], sent[half:]]))
    assert pasted.refused and pasted.refused[0].line == 3
    editor = editor.write(sent[half:], printed[half:])
    for above, below in pairs[start + len(sent) :]:
        editor = editor.write(above, below)
    return editor, set(), []


SLIPS: tuple[Callable[[random.Random, Pairs], Slip], ...] = (
    small_letter_printed,
    capitals_off,
    wrong_key,
    key_beside_return,
    skipped_character,
    overprint,
    pasted_with_a_hole,
    pasted_in_one_line_too_few,
)


def explaining(diagnosis: Diagnosis) -> set[object]:
    return {faults for suspect in diagnosis.suspects for faults in suspect.members}


def outcome(number: int) -> tuple[str, str]:
    """The slip of one session, and what became of it."""
    slip, rng = SLIPS[number % len(SLIPS)], random.Random(number)
    pairs = session(rng)
    truth = explaining(diagnose(MACHINE, one_by_one(pairs).log))
    editor, lines, answers = slip(rng, pairs)
    diagnosis = diagnose(MACHINE, editor.log)
    found = explaining(diagnosis)
    if questions := editor.questions:
        assert {question.line for question in questions} <= lines
        assert found >= truth, "a questioned line counts for nothing"
        for line, column, text in answers:
            editor = editor.answer(line, column, text)
        assert not editor.questions
        if slip is not overprint:
            assert explaining(diagnose(MACHINE, editor.log)) == truth
        return slip.__name__, "questioned"
    if found == truth:
        return slip.__name__, "taken rightly"
    misread = {editor.numbers[t] for t in diagnosis.ranked[0].misfits}
    if not diagnosis.suspects and misread & lines:
        return slip.__name__, "told to be misread"
    if not diagnosis.suspects:
        return slip.__name__, "told that nothing explains it"
    return slip.__name__, "silent"


def test_no_slip_changes_the_suspects_without_a_word():
    found = Counter(outcome(number) for number in range(SESSIONS))
    for (slip, what), count in sorted(found.items()):
        print(f"{slip:28} {what:30} {count:4}")
    silent = {slip for slip, what in found if what == "silent"}
    assert silent <= {"wrong_key"}, "a wrong key that the machine has cannot be told from a print"
    assert sum(count for (_, what), count in found.items() if what == "questioned") > SESSIONS / 2


def test_an_overprint_keeps_the_true_suspect():
    rng = random.Random(1)
    for _ in range(3):
        pairs = session(rng)
        truth = explaining(diagnose(MACHINE, one_by_one(pairs).log))
        editor, _, answers = overprint(rng, pairs)
        for answer in answers:
            editor = editor.answer(*answer)
        assert explaining(diagnose(MACHINE, editor.log)) >= truth


@pytest.mark.parametrize("reading", ["B or 8", "8 or B", "B over 8"])
def test_one_of_several_is_explained_by_whoever_prints_any_of_them(reading):
    log = LogEditor(MACHINE).write("ABCD", "ABCD").log
    for printed in ("B", "8"):
        sure = log.adding(Entry(66, printed))
        unsure = log.adding(Entry(66, reading))
        assert explaining(diagnose(MACHINE, sure)) <= explaining(diagnose(MACHINE, unsure))
