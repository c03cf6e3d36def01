"""Random repair records for property tests, with texts that mean no good among them."""

from datetime import date

from hypothesis import strategies as st

import mechlogic
from mechlogic.bench.record import (
    Acceptance,
    CheckMade,
    Finding,
    MachineNamed,
    Note,
    Record,
    Suspicion,
    actions,
)
from mechlogic.model.codes import FIVE_UNIT, SEVEN_UNIT
from mechlogic.model.faults import MODES, Fault
from mechlogic.model.logbook import NOTHING, UNREADABLE, Entry

SALTMERE, WIND = mechlogic.load("saltmere"), mechlogic.load("wind")
"""A machine with a published code, and one with a code of its own."""

HOSTILE = [
    "<script>window.ran = true</script>",
    "</style></title><script>window.ran = true</script>",
    "<img src=x onerror='window.ran = true'>",
    "<svg onload=\"window.ran = true\"><a href='javascript:window.ran=true'>go</a></svg>",
    '"><body onload=window.ran=true>',
    "&lt;b&gt; &amp; &#60;script&#62;",
    "-->]]><!--",
    r"$\frac{1}{0}$ and $\undefined and \input{/etc/passwd} $$",
    '=HYPERLINK("https://example.invalid")',
    "{{ 7 * 7 }} ${7 * 7} %s %(x)s {0}",
    "__import__('os').system('true')",
    '"},{"on":"2031-01-01"',
    "\x00\x07\x1b[31m\x7f\x85 bell",
    "\u202egnorw\u202c \u2066way round\u2069 \ufeff\u200d",
    "e\u0301" + "\u0301" * 30,
    "\u6f22\u5b57\u304b\u306a \u05e9\u05dc\u05d5\u05dd \u0633\u0644\u0627\u0645",
    "\U0001f527\U0001f468\u200d\U0001f527",
    "W" * 300,
    "line\nline\r\nline\u2028line\tline",
]

days = st.dates(date(1, 1, 1), date(9999, 12, 31))
anything = st.characters(exclude_categories=["Cs"])
texts = st.sampled_from(HOSTILE) | st.text(anything, max_size=60)
said = texts.filter(str.strip)
lines = texts.map(lambda text: text.replace("\n", " ").replace("\r", " ")[:300])
glyphs = st.sampled_from([NOTHING, UNREADABLE, *" ABC<>&\"'$\\{}"]) | anything.filter(
    str.isprintable
)
faults = st.builds(Fault, lines, st.sampled_from(sorted(MODES)), lines, st.booleans())


def entries(code):
    return st.builds(
        Entry,
        sent=st.integers(0, len(code) - 1),
        printed=glyphs,
        driven=st.sampled_from(["speed", "hand"]),
        oil=st.sampled_from(["cold", "warm", "unknown"]),
        clipped=st.sampled_from(["", "top", "bottom", "left", "right"]),
        gap=st.sampled_from(["", "at once", "pause", "yes"]),
        note=texts,
    )


def several(things, most=4):
    return st.lists(things, max_size=most).map(tuple)


minutes = st.integers(0, 6000) | st.floats(0, 6000)
suspects = st.builds(Suspicion, days, st.integers(0, 10**6), lines, lines)
checks = st.builds(CheckMade, days, st.sampled_from(actions(SALTMERE)), texts, texts, minutes)
findings = st.builds(Finding, days, several(faults), said)
acceptances = st.builds(Acceptance, days, said, st.sampled_from(["passed", "failed"]), texts)
notes = st.builds(Note, days, said)


def records(codes=(SEVEN_UNIT, FIVE_UNIT, WIND.code), most=4, machine=None):
    """Records with at most so many of everything."""
    named = st.builds(MachineNamed, lines, lines, lines) if machine is None else st.just(machine)
    return st.sampled_from(codes).flatmap(
        lambda code: st.tuples(days, days).flatmap(
            lambda dates: st.builds(
                Record,
                machine=named,
                repair=lines.filter(str.strip),
                opened=st.just(min(dates)),
                closed=st.sampled_from([None, max(dates)]),
                restorer=lines,
                code=st.just(code),
                entries=several(entries(code), 2 * most),
                suspects=several(suspects, most),
                checks=several(checks, most),
                findings=several(findings, most),
                remedies=several(notes, most),
                acceptances=several(acceptances, most),
                notes=several(notes, most),
            )
        )
    )
