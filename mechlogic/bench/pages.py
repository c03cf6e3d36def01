"""The page reading: logs, suspects, advice and verdicts as HTML.

Every text that a person can have written is escaped here.  The pieces use no scripts and only
the classes of ``pages.css``, so a workbook, a report and a page without Python can share them.
"""

from collections.abc import Iterable, Mapping, Sequence
from html import escape
from pathlib import Path

from mechlogic.bench.advice import TYPED_NEXT, Check
from mechlogic.bench.checks import LEAST_SHARE, TYPE, Option, doubt, safety
from mechlogic.bench.contradiction import contradiction
from mechlogic.bench.diagnosis import Diagnosis, Suspect
from mechlogic.bench.evidence import Evidence
from mechlogic.bench.story import how, hypothesis_label, suspect_label
from mechlogic.bench.verdict import Verdict
from mechlogic.explaining.words import believed, capitalised, listed, percent, uncapitalised
from mechlogic.helpers.templates import render
from mechlogic.model.behaviour import Behaviour
from mechlogic.model.faults import MODES, SAFE_TO_LOOK, Hypothesis, Mode
from mechlogic.model.logbook import NOTHING, UNREADABLE, UNSEEN, Entry
from mechlogic.model.machine import Machine
from mechlogic.model.outputs import Layout

STYLE = (Path(__file__).parent / "pages.css").read_text(encoding="utf-8")
"""The style sheet for every piece made here."""

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
    marks = set(marked)
    cells = "".join(
        _entry_cell(evidence, t, entry, t in marks) for t, entry in enumerate(evidence.log)
    )
    if not cells:
        return '<p class="ml-quiet">The log is empty.</p>'
    return (
        '<div class="ml-reel"><div class="ml-strip" role="table" '
        f'aria-label="the log, sent over printed">{cells}</div></div>'
    )


def _entry_cell(evidence: Evidence, t: int, entry: Entry, marked: bool) -> str:
    wrong = bool(evidence.misprints >> t & 1)
    classes = ["ml-entry"]
    classes += ["ml-wrong"] if wrong else []
    classes += ["ml-marked"] if marked else []
    classes += ["ml-gap"] if entry.gap else []
    classes += ["ml-hand"] if entry.driven == "hand" else []
    sent = evidence.machine.code.name(entry.sent)
    said = f"entry {t + 1}: {sent} sent, {entry.printed} printed"
    said += ", by hand" if entry.driven == "hand" else ""
    said += ", after a stop" if entry.gap else ""
    said += f", {entry.clipped} clipped" if entry.clipped else ""
    said += f"; {entry.note}" if entry.note else ""
    return (
        f'<span class="{" ".join(classes)}" role="row" title="{escape(said)}" '
        f'aria-label="{escape(said)}"><span>{escape(sent)}</span>'
        f"<b>{escape(print_mark(entry.printed))}</b></span>"
    )


def print_mark(printed: str) -> str:
    """A print as one sign: the character, ␣ for nothing, ▒ for something unreadable."""
    return {NOTHING: "␣", " ": "␣", UNREADABLE: "▒", UNSEEN: "·"}.get(printed, printed)


def log_summary(diagnosis: Diagnosis) -> str:
    """One sentence on what the log holds and how many suspects explain it."""
    evidence = diagnosis.evidence
    n, wrong = len(evidence.log), evidence.misprints.bit_count()
    says = f"{_count(n, 'entry', 'entries')}, {_count(wrong, 'misprint', 'misprints')}."
    if diagnosis.suspects:
        which = "suspect explains" if len(diagnosis.suspects) == 1 else "suspects explain"
        says += f" {len(diagnosis.suspects)} {which} every entry."
        if not diagnosis.ranked[0].consistent:
            misread = len(diagnosis.ranked[0].misfits)
            says += (
                " A likelier one is shown first, though "
                f"{_count(misread, 'entry', 'entries')} must have been misread."
            )
    else:
        fewest = min(len(suspect.misfits) for suspect in diagnosis.ranked)
        says += _cannot_stand(diagnosis)
        says += (
            " Nothing tried explains every entry: either something was misread "
            f"(at least {_count(fewest, 'entry', 'entries')}), or there is more than one fault."
        )
    return f'<p class="ml-summary" aria-live="polite">{escape(says)}</p>'


def searched(diagnosis: Diagnosis, most: int, misreadings: int) -> str:
    """What a search has gone through, and whether it was enough.

    Args:
        diagnosis: What came of it.
        most: The largest number of faults in a set.
        misreadings: The largest number of entries that may have been misread.
    """
    counted = f"up to {_count(misreadings, 'misread entry', 'misread entries')}"
    says = (
        f"Searched: every set of at most {_NUMBERS.get(most, str(most))} faults, every fault that "
        "comes and goes and every unlisted fault of a part, counting "
        f"{counted if misreadings else 'no misread entry'}."
    )
    needed = len(diagnosis.ranked[0].misfits)
    if needed > misreadings:
        says += (
            f" The likeliest suspect needs {_count(needed, 'misread entry', 'misread entries')}, "
            "more than that: look at the entries again, or allow for more."
        )
    return f"<p>{escape(says)}</p>"


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
            for piece in _pieces(meant):
                seen.setdefault(piece, []).append((printed not in good, printed))
    if glyphs.count(" ") > 1:  # nobody can tell which of them left no print
        seen.pop(NOTHING, None)
    does = "; ".join(f"{glyphs[cell]} {done}" for cell, done in layout.does.items())
    axes = (("at the left", layout.up), ("below", layout.across))
    where = "; ".join(f"{place}: {axis}" for place, axis in axes if axis)
    notes = "".join(f". {escape(capitalised(note))}" for note in (where, does) if note)
    n_columns = max(map(len, layout.cells))
    banks = -(-n_columns // MOST_COLUMNS)
    width = -(-n_columns // banks)
    tables = "".join(
        _bank(layout, glyphs, seen, slice(first, first + width))
        for first in range(0, n_columns, width)
    )
    return (
        f"<p>{escape(layout.title)}: ✓ printed right, ✗ misprinted, ◐ now right and now wrong "
        f"(and as what){notes}.</p>{tables}"
    )


def _bank(layout: Layout, glyphs: Sequence[str], seen: _Seen, columns: slice) -> str:
    """Some neighbouring columns of a map, those rows of it that have anything there."""
    rows = "".join(
        f'<tr><th scope="row">{escape(heading)}</th>'
        f"{''.join(_wheel_cell(glyphs, number, seen) for number in numbers[columns])}</tr>"
        for heading, numbers in zip(layout.rows, layout.cells, strict=True)
        if any(number is not None for number in numbers[columns])
    )
    heads = "".join(f'<th scope="col">{escape(head)}</th>' for head in layout.columns[columns])
    title = escape(layout.title)
    return f'<table class="ml-wheel" aria-label="{title}">{rows}<tr><td></td>{heads}</tr></table>'


def _pieces(seen: str) -> Sequence[str]:
    """The things seen at once: ``A+LF`` is an A and a line feed."""
    return (seen,) if len(seen) == 1 else seen.split("+")


def _printed(glyph: str) -> str:
    return NOTHING if glyph == " " else glyph


def _wheel_cell(glyphs: Sequence[str], number: int | None, seen: _Seen) -> str:
    if number is None:
        return '<td class="ml-none"></td>'
    found = seen.get(_printed(glyphs[number]), [])
    wrong = list(dict.fromkeys(print_mark(printed) for bad, printed in found if bad))
    right = any(not bad for bad, _ in found)
    sign = "" if not found else "✓" if not wrong else "◐" if right else "✗"
    mark = " ".join((sign, *wrong))
    kind = "ml-bad" if wrong else "ml-good" if right else "ml-untried"
    return f'<td class="{kind}">{escape(glyphs[number])}<small>{escape(mark)}</small></td>'


def suspect_list(diagnosis: Diagnosis) -> str:
    """The suspects, likeliest first, each with its story and what the bench knows about it.

    The story of the first is open; the others' open at a click.  If nothing explains every entry,
    no suspect has a percentage, but the number of entries that it does not explain.
    """
    suspects = diagnosis.considered if diagnosis.suspects else diagnosis.doubtful[:SHOWN_AT_FIRST]
    items = [_suspect_item(diagnosis, s, i == 0) for i, s in enumerate(suspects)]
    first, rest = "".join(items[:SHOWN_AT_FIRST]), "".join(items[SHOWN_AT_FIRST:])
    more = len(suspects) - SHOWN_AT_FIRST
    folded = (
        f"<details><summary>{_count(more, 'less likely suspect', 'less likely suspects')}"
        f'</summary><ol class="ml-suspects" start="{SHOWN_AT_FIRST + 1}">{rest}</ol></details>'
        if rest
        else ""
    )
    head = "" if diagnosis.suspects else render("nothing_explains.html")
    return f'{head}<ol class="ml-suspects">{first}</ol>{folded}'


def to_be_seen(diagnosis: Diagnosis) -> str:
    """What to type into the picture of a machine with the likeliest suspect's fault, and why."""
    machine, evidence = diagnosis.machine, diagnosis.evidence
    label = hypothesis_label(machine, diagnosis.suspects[0].members[0])
    said = f"Shown with the likeliest suspect: {label}."
    wrong = evidence.misprints
    if not wrong:
        return said
    t = (wrong & -wrong).bit_length() - 1
    entries = tuple(evidence.log)[max(0, t - 1) : t + 1]
    names = " and then ".join(machine.code.name(entry.sent) for entry in entries)
    return f"{said} Send {names} to see entry {t + 1}, the first misprint, in motion."


def _suspect_item(diagnosis: Diagnosis, suspect: Suspect, opened: bool) -> str:
    machine = diagnosis.machine
    behaviour = Behaviour(machine, suspect.members[0])
    story = how(diagnosis.evidence, behaviour, suspect.accounts[0])
    share = render(
        "suspect_share.html",
        share=believed(suspect.probability) if diagnosis.suspects else "",
        probability=f"{suspect.probability:.4f}",
        misfits=len(suspect.misfits),
    )
    return (
        f"<li><details{' open' if opened else ''}><summary>{share}"
        f"<b>{escape(hypothesis_label(machine, suspect.members[0]))}</b></summary>"
        f"<p>{escape(story)}</p>{_others(machine, suspect.members)}"
        f"{_bench_notes(suspect.members[0])}</details></li>"
    )


def _others(machine: Machine, members: Sequence[Hypothesis]) -> str:
    if len(members) < 2:
        return ""
    items = "".join(f"<li>{escape(hypothesis_label(machine, m))}</li>" for m in members[1:])
    return (
        "<p>No print can tell it from these; look at the parts, or turn the shaft by hand and "
        f"watch which of them moves:</p><ul>{items}</ul>"
    )


def _bench_notes(faults: Hypothesis) -> str:
    return "".join(
        f"<details><summary>At the bench: {escape(fault.mode)}</summary>"
        f"{mode_notes(MODES[fault.mode])}</details>"
        for fault in faults
    )


def mode_notes(mode: Mode) -> str:
    """What the bench knows about a mode."""
    notes = {
        "Looks like": mode.looks_like,
        "Usual causes": mode.causes,
        "Usual remedy": mode.remedy,
        "Take care": mode.cautions,
    }
    rows = "".join(
        f"<dt>{title}</dt><dd>{escape(capitalised(said).rstrip('.'))}.</dd>"
        for title, said in notes.items()
    )
    return f"<dl>{rows}</dl>"


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
    rows = "".join(
        f"<tr><td>{escape(' '.join(print_mark(p) for p in split.prints))}</td>"
        f"<td>{percent(split.probability)}</td>"
        f"<td>{', '.join(map(str, split.suspects))}</td></tr>"
        for split in check.splits
    )
    return (
        f'<p class="ml-next">Next: {_typed(diagnosis.machine, check)}</p>'
        f"<details><summary>Why: it is expected to remove {percent(share)} of the doubt</summary>"
        '<table class="ml-splits"><tr><th scope="col">if it prints</th>'
        '<th scope="col">chance</th><th scope="col">suspects left</th></tr>'
        f"{rows}</table></details>"
    )


def _typed(machine: Machine, check: Check) -> str:
    keys = " then ".join(f"<kbd>{escape(machine.code.name(code))}</kbd>" for code in check.codes)
    return f"type {keys} {TYPED_NEXT}."


def options_table(options: Sequence[Option]) -> str:
    """Every check that would tell something, the one most worth its minutes first."""
    if not options:
        return "<p>No check on the list would tell the suspects apart any further.</p>"
    rows = "".join(_option_row(option) for option in options)
    return (
        "<p>The check most worth its minutes stands first.</p>"
        '<table class="ml-splits"><tr><th scope="col">check</th><th scope="col">minutes</th>'
        '<th scope="col">doubt it is expected to remove</th>'
        f'<th scope="col">why</th></tr>{rows}</table>'
        f'<p class="ml-quiet">{escape(max(map(safety, options), key=len))}</p>'
    )


def _option_row(option: Option) -> str:
    outcomes = "".join(
        f"<li>{escape(split.outcome)} ({percent(split.probability)}): leaves "
        f"{escape(listed(map(str, split.suspects)))}</li>"
        for split in option.splits
    )
    return (
        f"<tr><td>{escape(option.what)}</td><td>{option.minutes:g}</td>"
        f"<td>{percent(option.share)}</td>"
        f"<td><details><summary>{escape(option.reason)}</summary><ul>{outcomes}</ul></details>"
        "</td></tr>"
    )


def _no_more(diagnosis: Diagnosis, others: Sequence[Option]) -> str:
    """What to do where typing would hardly tell."""
    first = diagnosis.ranked[0]
    if not first.members[0]:
        says = "No misprint is left to explain: nothing that you could type would say more."
        return f'<p class="ml-next">{says}</p>'
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
    return (
        f'<p class="ml-next">{escape(says)}</p><p>{escape(why)}</p>'
        f'<p class="ml-quiet">{escape(caution or SAFE_TO_LOOK)}</p>'
    )


def verdict(machine: Machine, evidence: Evidence, found: Verdict) -> str:
    """A hypothesis beside the log: what it predicts, what contradicts it, who else explains it."""
    lines = [f"<p>{escape(found.story)}</p>"]
    if found.contradictions:
        rows = "".join(
            f"<tr><td>{t + 1}</td><td>{escape(machine.code.name(evidence.log.entries[t].sent))}"
            f"</td><td>{escape(' or '.join(sorted(map(print_mark, found.predictions[t]))))}</td>"
            f"<td>{escape(print_mark(evidence.printed[t]))}</td></tr>"
            for t in found.contradictions
        )
        lines.append(
            '<p class="ml-verdict">It cannot be the whole truth, unless these entries were '
            'misread:</p><table class="ml-splits"><tr><th scope="col">entry</th>'
            '<th scope="col">sent</th><th scope="col">it would print</th>'
            f'<th scope="col">printed</th></tr>{rows}</table>'
        )
    elif not found.rivals:
        lines.append('<p class="ml-verdict">No other fault on the list explains every entry.</p>')
    else:
        names = "".join(
            f"<li>{escape(suspect_label(machine, rival.members))} "
            f"({believed(rival.probability)})</li>"
            for rival in found.rivals[:SHOWN_AT_FIRST]
        )
        more = len(found.rivals) - SHOWN_AT_FIRST
        names += f"<li>and {more} more</li>" if more > 0 else ""
        lines.append(
            f'<p class="ml-verdict">It explains every entry, but so do these:</p><ul>{names}</ul>'
        )
        lines.append(_decider(machine, found.decider))
    if found.alike:
        lines.append(_others(machine, ((), *found.alike)))
    return "".join(lines)


def _decider(machine: Machine, check: Check | None) -> str:
    if check is None:
        return "<p>No print can decide between them; Every check says what else can.</p>"
    return f"<p>To decide, {_typed(machine, check)}</p>"


def problem_list(problems: Iterable[object]) -> str:
    """The problems of a file that was refused, one a line."""
    items = "".join(f"<li>{escape(str(problem))}</li>" for problem in problems)
    return (
        '<div class="ml-problems" role="alert"><p>This was not taken; nothing that was '
        f"there before is lost.</p><ul>{items}</ul></div>"
    )


def _count(n: int, one: str, many: str) -> str:
    return f"{n or 'no'} {one if n == 1 else many}"
