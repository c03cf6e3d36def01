"""The page reading: logs, suspects, advice and verdicts as HTML.

The HTML stands in ``templates/bench.html``, which escapes every text.  It has no scripts and only
the classes of ``pages.css``, so a workbook, a report and a page without Python can share it.
"""

from collections.abc import Iterable, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any

from mechlogic.bench.advice import TYPED_NEXT, Check
from mechlogic.bench.checks import LEAST_SHARE, TYPE, Option, doubt, safety
from mechlogic.bench.contradiction import contradiction
from mechlogic.bench.diagnosis import ENOUGH, Diagnosis, Suspect
from mechlogic.bench.evidence import Evidence
from mechlogic.bench.story import (
    NOT_LISTED,
    entry_said,
    how,
    hypothesis_label,
    suspect_label,
    unlisted,
)
from mechlogic.bench.verdict import Verdict
from mechlogic.explaining.words import believed, capitalised, listed, percent, uncapitalised
from mechlogic.helpers import templates
from mechlogic.helpers.sentences import counted
from mechlogic.model.behaviour import Behaviour
from mechlogic.model.faults import MODES, SAFE_TO_LOOK, Mode
from mechlogic.model.logbook import NOTHING, UNREADABLE, UNSEEN
from mechlogic.model.machine import Machine
from mechlogic.model.outputs import Layout
from mechlogic.model.seen import pieces

STYLE = (Path(__file__).parent / "pages.css").read_text(encoding="utf-8")
"""The style sheet for every piece made here."""

_piece = partial(templates.piece, "bench.html")

MOST_COLUMNS = 12
"""A map with more columns than this is set in several banks, one below the other."""

SETTLED = 0.95
"""The chance from which a suspect is named as the part to look at."""

SHOWN_AT_FIRST = 6
"""How many suspects are shown before the rest is folded away."""


def log_strip(evidence: Evidence, marked: Iterable[int] = ()) -> str:
    """The log as two lines, what was sent over what was printed, misprints marked.

    Args:
        evidence: The log.
        marked: Entries, counted from 0, to mark besides.
    """
    marks, name = set(marked), evidence.machine.code.name
    return _piece(
        "log_strip",
        [
            {
                "entry": entry,
                "sent": name(entry.sent),
                "mark": print_mark(entry.printed),
                "wrong": evidence.misprints >> t & 1,
                "marked": t in marks,
            }
            for t, entry in enumerate(evidence.log)
        ],
    )


def print_mark(printed: str) -> str:
    """A print as one sign: the character, ␣ for nothing, ▒ for something unreadable."""
    return {NOTHING: "␣", " ": "␣", UNREADABLE: "▒", UNSEEN: "·"}.get(printed, printed)


def log_summary(diagnosis: Diagnosis) -> str:
    """One sentence on what the log holds and how many suspects explain it."""
    evidence = diagnosis.evidence
    n, wrong = len(evidence.log), evidence.misprints.bit_count()
    says = f"{counted(n, 'entry', 'entries')}, {counted(wrong, 'misprint', 'misprints')}."
    if diagnosis.suspects:
        which = "suspect explains" if len(diagnosis.suspects) == 1 else "suspects explain"
        says += f" {len(diagnosis.suspects)} {which} every entry."
        if not diagnosis.ranked[0].consistent:
            misread = len(diagnosis.ranked[0].misfits)
            says += (
                " A likelier one is shown first, though "
                f"{counted(misread, 'entry', 'entries')} must have been misread."
            )
    else:
        fewest = min(len(suspect.misfits) for suspect in diagnosis.ranked)
        says += _cannot_stand(diagnosis)
        says += (
            " Nothing tried explains every entry: either something was misread "
            f"(at least {counted(fewest, 'entry', 'entries')}), or there is more than one fault."
        )
    if diagnosis.enough < ENOUGH:
        says += f" The cause is probably {NOT_LISTED}: {believed(diagnosis.off_list)}."
    return _piece("summary", says)


def searched(diagnosis: Diagnosis, most: int, misreadings: int) -> str:
    """What a search has gone through, and whether it was enough.

    Args:
        diagnosis: What came of it.
        most: The largest number of faults in a set.
        misreadings: The largest number of entries that may have been misread.
    """
    allowed = f"up to {counted(misreadings, 'misread entry', 'misread entries')}"
    says = (
        f"Searched: every set of at most {_NUMBERS.get(most, str(most))} faults and every fault "
        "that comes and goes, counting "
        f"{allowed if misreadings else 'no misread entry'}."
    )
    needed = len(diagnosis.ranked[0].misfits)
    if needed > misreadings:
        says += (
            f" The likeliest suspect needs {counted(needed, 'misread entry', 'misread entries')}, "
            "more than that: look at the entries again, or allow for more."
        )
    return _piece("sentence", says)


_NUMBERS = {1: "one", 2: "two", 3: "three"}


def _cannot_stand(diagnosis: Diagnosis) -> str:
    found = contradiction(diagnosis)
    if found is None:
        return ""
    numbers = listed(str(t + 1) for t in found.entries)
    if len(found.entries) == 1:
        return f" Entry {numbers} cannot be explained by any fault that was tried."
    return f" Entries {numbers} cannot stand together."


_Seen = Mapping[str, Sequence[tuple[bool, str]]]
"""For each character that was meant: whether it came out wrong, and as what."""


def wheel_map(evidence: Evidence) -> str:
    """The output laid flat, each character or function marked by how it has come out so far."""
    machine = evidence.machine
    layout, glyphs = machine.output.layout(), machine.output.glyphs
    seen: dict[str, list[tuple[bool, str]]] = {}
    for printed, good in zip(evidence.printed, evidence.good, strict=True):
        if printed == UNSEEN:
            continue
        for meant in {printed} & good or good:  # several, if a latch may have stood either way
            for piece in pieces(meant):
                seen.setdefault(piece, []).append((printed not in good, printed))
    if glyphs.count(" ") > 1:  # nobody can tell which of them left no print
        seen.pop(NOTHING, None)
    does = "; ".join(f"{glyphs[cell]} {done}" for cell, done in layout.does.items())
    axes = (("at the left", layout.up), ("below", layout.across))
    where = "; ".join(f"{place}: {axis}" for place, axis in axes if axis)
    notes = [capitalised(note) for note in (where, does) if note]
    n_columns = max(map(len, layout.cells))
    n_banks = -(-n_columns // MOST_COLUMNS)
    width = -(-n_columns // n_banks)
    banks = [
        _bank(layout, glyphs, seen, slice(first, first + width))
        for first in range(0, n_columns, width)
    ]
    return _piece("wheel_map", layout.title, notes, banks)


_Row = tuple[str, list[dict[str, str] | None]]


def _bank(
    layout: Layout, glyphs: Sequence[str], seen: _Seen, columns: slice
) -> tuple[Sequence[str], list[_Row]]:
    """Some neighbouring columns of a map, those rows of it that have anything there."""
    rows = [
        (heading, [_wheel_cell(glyphs, number, seen) for number in numbers[columns]])
        for heading, numbers in zip(layout.rows, layout.cells, strict=True)
        if any(number is not None for number in numbers[columns])
    ]
    return layout.columns[columns], rows


def _wheel_cell(glyphs: Sequence[str], number: int | None, seen: _Seen) -> dict[str, str] | None:
    if number is None:
        return None
    found = seen.get(NOTHING if glyphs[number] == " " else glyphs[number], [])
    wrong = list(dict.fromkeys(print_mark(printed) for bad, printed in found if bad))
    right = any(not bad for bad, _ in found)
    sign = "" if not found else "✓" if not wrong else "◐" if right else "✗"
    mark = " ".join((sign, *wrong))
    kind = "ml-bad" if wrong else "ml-good" if right else "ml-untried"
    return {"kind": kind, "glyph": glyphs[number], "mark": mark}


def suspect_list(diagnosis: Diagnosis, show: bool = False) -> str:
    """The suspects, likeliest first, each with its story and what the bench knows about it.

    Something that is not on the list stands before them if it is likelier than not, or else behind
    them.  It has no number: checks cannot tell it from the others.

    Args:
        diagnosis: What the log has said so far.
        show: Whether each has a button that asks for it to be shown in the mechanism.
    """
    n = None if diagnosis.suspects else SHOWN_AT_FIRST
    shown = [_suspect(diagnosis, suspect) for suspect in diagnosis.considered[:n]]
    more = counted(len(shown) - SHOWN_AT_FIRST, "less likely suspect", "less likely suspects")
    story = unlisted(diagnosis.machine, diagnosis.unlisted)
    other = _item(diagnosis.off_list, [NOT_LISTED], story)
    return _piece(
        "suspects",
        shown[:SHOWN_AT_FIRST],
        shown[SHOWN_AT_FIRST:],
        more,
        other,
        diagnosis.enough < ENOUGH,
        show,
    )


def _suspect(diagnosis: Diagnosis, suspect: Suspect) -> dict[str, Any]:
    machine, faults = diagnosis.machine, suspect.members[0]
    labels = [hypothesis_label(machine, member) for member in suspect.members]
    story = how(diagnosis.evidence, Behaviour(machine, faults), suspect.accounts[0])
    return _item(suspect.probability, labels, story, [MODES[fault.mode] for fault in faults])


def _item(
    probability: float, labels: Sequence[str], story: str, modes: Sequence[Mode] = ()
) -> dict[str, Any]:
    return {
        "labels": labels,
        "story": story,
        "share": believed(probability),
        "probability": probability,
        "modes": [{"name": mode.name, "notes": _notes(mode)} for mode in modes],
    }


def to_be_seen(diagnosis: Diagnosis, suspect: Suspect, number: int | None = None) -> str:
    """What the picture of a machine with a suspect's fault shows, in words.

    Args:
        diagnosis: What the log has said so far.
        suspect: One of its suspects.
        number: Which of the misprints is played, from 0; None if none is.
    """
    evidence, told = diagnosis.evidence, suspect.accounts[0]
    label = hypothesis_label(diagnosis.machine, told.faults)
    if number is None:
        return f"Shown with this possible cause: {label}."
    n, behaviour = len(evidence.wrong), Behaviour(diagnosis.machine, told.faults)
    entry = entry_said(evidence, behaviour, told, evidence.wrong[number])
    return f"{capitalised(label)}. Misprint {number + 1} of {n}. {entry}"


def mode_notes(mode: Mode) -> str:
    """What the bench knows about a mode."""
    return _piece("mode_notes", _notes(mode))


def _notes(mode: Mode) -> list[tuple[str, str]]:
    notes = (
        ("Looks like", mode.looks_like),
        ("Usual causes", mode.causes),
        ("Usual remedy", mode.remedy),
        ("Take care", mode.cautions),
    )
    return [(title, f"{capitalised(said).rstrip('.')}.") for title, said in notes]


def advice(diagnosis: Diagnosis, check: Check | None, others: Sequence[Option] = ()) -> str:
    """What to do next, and what each outcome would mean.

    Args:
        diagnosis: What the log has said so far.
        check: The most telling characters to type, if any would tell.
        others: Checks of every kind, the one most worth its minutes first; the first is named
            where typing would hardly tell.
    """
    share = min(1.0, check.gain / (doubt(diagnosis) or 1.0)) if check else 0.0
    if check is None or share < LEAST_SHARE:
        return _no_more(diagnosis, [option for option in others if option.kind != TYPE])
    splits = [
        (map(print_mark, split.prints), percent(split.probability), split.suspects)
        for split in check.splits
    ]
    return _piece("advice", _names(diagnosis.machine, check), TYPED_NEXT, percent(share), splits)


def _names(machine: Machine, check: Check) -> list[str]:
    return [machine.code.name(code) for code in check.codes]


def options_table(options: Sequence[Option]) -> str:
    """Every check that would tell something, the one most worth its minutes first."""
    caution = max(map(safety, options), key=len, default="")
    return _piece("options", options, percent, listed, caution)


def _no_more(diagnosis: Diagnosis, others: Sequence[Option]) -> str:
    """What to do where typing would hardly tell."""
    first = diagnosis.ranked[0]
    if diagnosis.enough < ENOUGH:
        says = f"Next: look at the machine. The cause is probably {NOT_LISTED}."
        return _piece(
            "no_more", says, unlisted(diagnosis.machine, diagnosis.unlisted), SAFE_TO_LOOK
        )
    if not first.members[0]:
        says = "No misprint is left to explain: nothing that you could type would say more."
        return _piece("no_more", says, "", "")
    label = suspect_label(diagnosis.machine, first.members)
    caution = safety(others[0]) if others else SAFE_TO_LOOK
    if first.consistent and first.probability > SETTLED:
        says = f"Next: look at this part: {label}."
        why = "Typing more would hardly change the verdict."
    elif others:
        says = f"Next: {uncapitalised(others[0].what)}"
        why = (
            f"It is expected to remove {percent(others[0].share)} of the doubt; typing one or two "
            f"more characters would hardly tell the suspects apart. Likeliest: {label}."
        )
    else:
        says = "Next: look at the parts named below, or turn the shaft by hand and watch them."
        why = f"No check on the list would tell more. Likeliest: {label}."
    return _piece("no_more", says, why, caution or SAFE_TO_LOOK)


def verdict(machine: Machine, evidence: Evidence, found: Verdict) -> str:
    """A hypothesis beside the log: what it predicts, what contradicts it, who else explains it."""
    contradictions = [
        (
            t + 1,
            machine.code.name(evidence.log.entries[t].sent),
            " or ".join(sorted(map(print_mark, found.predictions[t]))),
            print_mark(evidence.printed[t]),
        )
        for t in found.contradictions
    ]
    rivals = [
        f"{suspect_label(machine, rival.members)} ({believed(rival.probability)})"
        for rival in found.rivals[:SHOWN_AT_FIRST]
    ]
    return _piece(
        "verdict",
        found,
        contradictions,
        rivals,
        len(found.rivals) - SHOWN_AT_FIRST,
        _names(machine, found.decider) if found.decider else [],
        TYPED_NEXT,
        [hypothesis_label(machine, one) for one in found.alike],
    )


def problem_list(problems: Iterable[object]) -> str:
    """The problems of a file that was refused, one a line."""
    return _piece("problems", list(map(str, problems)))
