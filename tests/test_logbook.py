"""Logs in and out: nothing lost, nothing guessed, every wrong cell named."""

import csv
import io
import sys
import unicodedata
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from mechlogic.model.codes import FIVE_UNIT, SEVEN_UNIT
from mechlogic.model.logbook import (
    COLUMNS,
    MAX_CHARACTERS,
    MAX_ENTRIES,
    MAX_NOTE,
    NOTHING,
    UNREADABLE,
    Entry,
    Logbook,
    LogbookError,
    format_logbook,
    from_lines,
    look_alike,
    machine_of,
    parse_logbook,
    read_logbook,
    read_print,
    write_logbook,
)

# The harbour office's log of one evening: invented.
TIDES = """\
sent,printed,driven,oil,clipped,gap,note
T,T,speed,cold,,,
I,A,speed,cold,,,"late by a hair, again"
SP,nothing,speed,cold,,,
9,9,hand,warm,top,yes,
PLUS SIGN,unreadable,,,,,
"""

GLYPHS = [chr(i) for i in range(sys.maxunicode + 1) if chr(i).isprintable()]
TRICKY = ["=1+1", "'=1", "'tis stiff", "''@", " -3", "\t+", '"', '",\r\n"', "\r", "\x00", "a;b\tc"]

SURE_OF_LITTLE = ["unseen", "B or 8", "nothing or B", ", or ;", "8 over B", "CR or A+LF"]
LIKE_ROWS = ["A,B", "'A,B", "''A;B", "=,T", '"A",B', "SP\tnothing", "x,A,,,,,", "',B", "a, b"]

glyphs = (
    st.sampled_from([NOTHING, UNREADABLE, *" ,;\"'=+-@\\/", *"AaZz059"])
    | st.sampled_from(SURE_OF_LITTLE)
    | st.sampled_from(GLYPHS)
)
notes = (
    st.sampled_from(TRICKY)
    | st.text(
        st.characters(exclude_categories=["Cs"]) | st.sampled_from("'=+-@,;\"\r\n\t "), max_size=30
    )
    | st.lists(st.sampled_from(LIKE_ROWS) | st.sampled_from(TRICKY), max_size=5).map("\n".join)
)


def entries(code):
    return st.builds(
        Entry,
        sent=st.integers(0, len(code) - 1),
        printed=glyphs,
        driven=st.sampled_from(["speed", "hand"]),
        oil=st.sampled_from(["cold", "warm", "unknown"]),
        clipped=st.sampled_from(["", "top", "bottom", "left", "right"]),
        gap=st.sampled_from(["", "at once", "pause", "yes"]),
        note=notes,
    )


logs = st.sampled_from([SEVEN_UNIT, FIVE_UNIT]).flatmap(
    lambda code: st.builds(
        Logbook,
        st.lists(entries(code), max_size=8).map(tuple),
        st.just(code),
        st.just("test"),
        st.sampled_from(["", "saltmere", "my own No. 7"]),
    )
)


# --- What is read ---


def test_a_log_is_read_entry_by_entry() -> None:
    log = parse_logbook(TIDES, "tides.csv")
    assert log.source == "tides.csv"
    assert log.code is SEVEN_UNIT
    assert list(log) == [
        Entry(0x54, "T", oil="cold"),
        Entry(0x49, "A", oil="cold", note="late by a hair, again"),
        Entry(0x20, NOTHING, oil="cold"),
        Entry(0x39, "9", driven="hand", oil="warm", clipped="top", gap="yes"),
        Entry(0x2B, UNREADABLE),
    ]


def test_only_sent_and_printed_are_needed_and_the_columns_come_in_any_order() -> None:
    assert parse_logbook("printed,sent\nB,A").entries == (Entry(0x41, "B"),)
    assert parse_logbook("Note, Printed ,SENT\nwell,B,A").entries == (
        Entry(0x41, "B", note="well"),
    )


@pytest.mark.parametrize(
    ("cell", "gap"),
    [
        *(("", ""), ("At once", "at once"), ("pause", "pause"), ("YES", "yes")),
        *(("no", ""), ("False", ""), ("true", "yes")),  # in older files
    ],
)
def test_what_lies_before_an_entry_is_noted_in_words(cell: str, gap: str) -> None:
    assert parse_logbook(f"sent,printed,gap\nA,A,{cell}\n").entries[0].gap == gap


@pytest.mark.parametrize("mark", ["", "\ufeff"])
@pytest.mark.parametrize("newline", ["\n", "\r\n", "\r"])
def test_line_ends_and_byte_order_mark_make_no_difference(
    tmp_path: Path, mark: str, newline: str
) -> None:
    path = tmp_path / "tides.csv"
    path.write_bytes((mark + TIDES.replace("\n", newline)).encode())
    assert read_logbook(path).entries == parse_logbook(TIDES).entries


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_a_spreadsheet_may_separate_by_semicolon_or_tab(delimiter: str) -> None:
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=delimiter)
    writer.writerows(csv.reader(io.StringIO(TIDES)))
    assert parse_logbook(out.getvalue()).entries == parse_logbook(TIDES).entries


def test_in_a_semicolon_file_a_comma_is_a_glyph_like_any_other() -> None:
    assert parse_logbook("sent;printed\n,;,").entries == (Entry(0x2C, ","),)


def test_blank_rows_and_blank_columns_of_a_spreadsheet_are_passed_over() -> None:
    text = "\n,,\nsent,printed,,\nA,A,,\n,,,\n\n  ,,,\nB,B,,\n"
    with pytest.raises(LogbookError):
        parse_logbook(text)  # a first line of commas names nothing
    assert parse_logbook(text[3:]).entries == (Entry(0x41, "A"), Entry(0x42, "B"))


@pytest.mark.parametrize(
    ("cell", "glyph"),
    [
        ("A", "A"),
        (" A ", "A"),
        ("=", "="),
        ("-", "-"),
        ("3/13", "="),
        ("sp", " "),
        ("space", " "),
        ("2/0", " "),
        ("comma", ","),
        ("Quotation Mark", '"'),
        ('""""', '"'),
        ('","', ","),
        ("£", "£"),
        ("?", "?"),
        ("nothing", NOTHING),
        ("Unreadable", UNREADABLE),
    ],
)
def test_a_print_may_be_written_as_itself_by_name_or_by_position(cell: str, glyph: str) -> None:
    assert parse_logbook(f"sent,printed\nA,{cell}\n").entries == (Entry(0x41, glyph),)


def test_a_position_that_has_two_glyphs_is_not_guessed() -> None:
    with pytest.raises(LogbookError, match="a glyph in either case"):
        parse_logbook("sent,printed\n1/0,1/0\n", code=FIVE_UNIT)
    assert parse_logbook("sent,printed\n1/0,5\n", code=FIVE_UNIT).entries == (Entry(16, "5"),)


def test_a_note_keeps_its_blanks_lines_and_apostrophes() -> None:
    text = "sent,printed,note\nA,A,\"  two\r\nlines \"\nB,B,'tis stiff\nC,C,'=1\nD,D,=1\n"
    notes = [entry.note for entry in parse_logbook(text)]
    assert notes == ["  two\r\nlines ", "'tis stiff", "=1", "=1"]


def test_a_printed_blank_and_nothing_printed_look_alike_and_nothing_else_does() -> None:
    prints = [" ", NOTHING, UNREADABLE, "A", "B"]
    alike = {(a, b) for a in prints for b in prints if a != b and look_alike(a, b)}
    assert alike == {(" ", NOTHING), (NOTHING, " ")}
    assert all(look_alike(a, a) for a in prints)


@pytest.mark.parametrize(
    ("cell", "printed"),
    [
        ("comma OR 8 or nothing", ", or 8 or nothing"),
        ("B  over 8", "B over 8"),
        ("Unseen", "unseen"),
        ("CR or LF", "CR or LF"),
    ],
)
def test_a_reading_may_be_of_several_or_of_none(cell: str, printed: str) -> None:
    assert parse_logbook(f"sent,printed\nA,{cell}\n").entries == (Entry(0x41, printed),)
    assert read_print(cell) == printed


@pytest.mark.parametrize(
    "cell",
    ["B or", "B or B", "A over B over C", "B or unreadable", "A over CR", " or ".join("ABCDEFGHI")],
)
def test_what_is_no_reading_is_refused(cell: str) -> None:
    with pytest.raises(LogbookError, match="is not"):
        parse_logbook(f"sent,printed\nA,{cell}\n")
    with pytest.raises(ValueError, match="printed"):
        Entry(0x41, cell)


# --- What is written is read back ---


@given(logs)
def test_writing_and_reading_back_is_the_identity(log: Logbook) -> None:
    assert parse_logbook(format_logbook(log), "test", log.code) == log


def test_a_log_may_name_its_machine_and_tells_it_before_it_is_read() -> None:
    log = Logbook((Entry(65, "A"),), machine="saltmere")
    text = format_logbook(log)
    assert text.startswith("# machine: saltmere\nsent,printed,")
    for changed in (text, text.replace("saltmere\n", "saltmere,,,,,,\n"), "\ufeff\n" + text):
        assert machine_of(changed.encode()) == "saltmere"
        assert parse_logbook(changed).machine == "saltmere"
    assert machine_of(b"sent,printed\n#,A\n") == machine_of(b"") == ""
    with pytest.raises(ValueError, match="cannot stand in a log"):
        Logbook((), machine="a,b")


@given(logs)
def test_no_written_cell_begins_a_formula_or_needs_guessing(log: Logbook) -> None:
    # Read by Python's own csv reader, as a spreadsheet would.
    rows = list(csv.reader(io.StringIO(format_logbook(log), newline="")))
    if log.machine:
        assert rows.pop(0) == [f"# machine: {log.machine}"]
    assert tuple(rows[0]) == COLUMNS
    assert len(rows) == len(log) + 1
    for row in rows[1:]:
        assert len(row) == len(COLUMNS)
        assert not any(cell.lstrip().startswith(tuple("=+-@＝＋－＠")) for cell in row)
        assert not any(cell in (" ", ",", ";", '"', "'") for cell in row[:2])


def test_every_glyph_in_unicode_survives() -> None:
    # All letters, figures and marks with capitals or accents; ideographs and syllables (Lo) are
    # a hundred thousand more of one kind, from which the property test above draws.
    some = [glyph for glyph in GLYPHS if unicodedata.category(glyph) != "Lo"]
    for start in range(0, len(some), MAX_ENTRIES):
        part = some[start : start + MAX_ENTRIES]
        log = Logbook(tuple(Entry(i % 128, glyph) for i, glyph in enumerate(part)))
        assert parse_logbook(format_logbook(log)).entries == log.entries


def test_awkward_characters_are_written_by_the_names_of_the_standard() -> None:
    log = from_lines('=,"-', "+@' ")
    assert [line.split(",")[:2] for line in format_logbook(log).splitlines()[1:]] == [
        ["EQUALS SIGN", "PLUS SIGN"],
        ["COMMA", "COMMERCIAL AT"],
        ["QUOTATION MARK", "APOSTROPHE"],
        ["HYPHEN-MINUS", "SP"],
    ]


def test_an_accent_on_its_own_is_written_by_name_so_that_it_does_not_sit_on_a_comma() -> None:
    log = Logbook((Entry(65, "\N{COMBINING ACUTE ACCENT}"),))
    assert "A,COMBINING ACUTE ACCENT," in format_logbook(log)


def test_a_file_is_replaced_whole_and_leaves_nothing_beside_it(tmp_path: Path) -> None:
    path = tmp_path / "tides.csv"
    path.write_text("old")
    path.chmod(0o640)
    log = parse_logbook(TIDES, str(path))
    write_logbook(log, path)
    assert read_logbook(path) == log
    assert path.stat().st_mode & 0o777 == 0o640
    assert list(tmp_path.iterdir()) == [path]


def test_a_log_beyond_ascii_is_marked_so_that_spreadsheets_read_it_as_utf_8(tmp_path: Path) -> None:
    plain, marked = tmp_path / "plain.csv", tmp_path / "marked.csv"
    write_logbook(Logbook((Entry(35, "#"),)), plain)
    write_logbook(Logbook((Entry(35, "£"),)), marked)
    assert plain.read_bytes().startswith(b"sent,")
    assert marked.read_bytes().startswith(b"\xef\xbb\xbfsent,")
    assert read_logbook(marked).entries == (Entry(35, "£"),)


def test_a_write_that_fails_leaves_the_old_file_alone(tmp_path, monkeypatch) -> None:
    path = tmp_path / "tides.csv"
    path.write_text("old")

    def no_replace(*_: object) -> None:
        raise PermissionError("open in a spreadsheet")

    monkeypatch.setattr("os.replace", no_replace)
    with pytest.raises(PermissionError):
        write_logbook(parse_logbook(TIDES), path)
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_a_link_to_a_log_stays_a_link(tmp_path: Path) -> None:
    target, link = tmp_path / "target.csv", tmp_path / "link.csv"
    link.symlink_to(target)
    write_logbook(parse_logbook(TIDES), link)
    assert link.is_symlink()
    assert read_logbook(target).entries == parse_logbook(TIDES).entries


# --- What is refused ---

# file, then line, column, and a piece of the mend, for every problem in it
MALFORMED = {
    "empty": ("", [(0, "", "sent,printed")]),
    "only blank lines": ("\n  \n", [(0, "", "sent,printed")]),
    "no header": ("A,A\nB,B\n", [(1, "", "names the columns")]),
    "one column": ("sent\nA\n", [(1, "printed", "sent,printed")]),
    "column left out": ("sent,note\nA,x\n", [(1, "printed", "sent,printed")]),
    "misspelt column": ("snt,printed\nA,A\n", [(1, "'snt'", "Did you mean sent?")]),
    "unknown column": ("sent,printed,xyzzy\nA,A,1\n", [(1, "'xyzzy'", "driven, oil, clipped")]),
    "column twice": ("sent,printed,sent\nA,A,B\n", [(1, "sent", "Keep one")]),
    "mixed delimiters": ("sent;printed,note\nA;A,x\n", [(1, "", "commas throughout")]),
    "other delimiter below": ("sent,printed\nA;A\n", [(2, "", "as many cells")]),
    "blank sent": ("sent,printed\n,A\n", [(2, "sent", "for a space, SP")]),
    "blank printed": ("sent,printed\nA, \n", [(2, "printed", "SP for a blank")]),
    "raw comma": ("sent,printed\n,,A\n", [(2, "", "COMMA")]),
    "raw commas in full": ("sent,printed,note\nA,A,\n,,,,\nB,,,\n", [(4, "", "COMMA")]),
    "short row": ("sent,printed,note\nA,A\n", [(2, "", "blank where there is nothing")]),
    "misspelt control": ("sent,printed\nDELL,A\n", [(2, "sent", "Did you mean DEL")]),
    "character not in code": ("sent,printed\né,A\n", [(2, "sent", "Did you mean 'e'?")]),
    "no such position": ("sent,printed\n9/1,9/1\n",
        [(2, "sent", "from 0/0 to 7/15"), (2, "printed", "from 0/0 to 7/15")]),
    "position made a date": ("sent,printed\n13-Mar,Mar 13\n3/13/2024,2024-03-13\n",
        [(2, "sent", "its name"), (2, "printed", "its name"),
         (3, "sent", "its name"), (3, "printed", "its name")]),
    "two glyphs": ("sent,printed\nA,AB\n", [(2, "printed", "the one glyph")]),
    "word for a picture": ("sent,printed\nA,anchor\n", [(2, "printed", "the one glyph")]),
    "misspelt nothing": ("sent,printed\nA,nothin\n", [(2, "printed", "Did you mean nothing?")]),
    "misspelt unreadable": ("sent,printed\nA,unredable\n", [(2, "printed", "mean unreadable?")]),
    "control printed": ("sent,printed\nCR,A+SP\n", [(2, "printed", "nothing")]),
    "misspelt driven": ("sent,printed,driven\nA,A,hands\n", [(2, "driven", "Did you mean hand?")]),
    "unknown driven": ("sent,printed,driven\nA,A,steam\n", [(2, "driven", "speed or hand")]),
    "unknown oil": ("sent,printed,oil\nA,A,10W\n", [(2, "oil", "cold or warm or unknown")]),
    "misspelt clipped": ("sent,printed,clipped\nA,A,botom\n", [(2, "clipped", "bottom?")]),
    "gap": ("sent,printed,gap\nA,A,1\n", [(2, "gap", "at once or pause or yes")]),
    "long note": (f"sent,printed,note\nA,A,{'x' * (MAX_NOTE + 1)}\n", [(2, "note", "2000")]),
    "cell below no name": ("sent,printed,\nA,A,B\n", [(2, "", "Name its column")]),
    "quote never closed": ('sent,printed\nA,"\nB,BB\n',
        [(2, "printed", "QUOTATION MARK"), (3, "printed", "the one glyph")]),
    "quotes that pair by chance": ('sent,printed\n",A\nB,BB\n",C\nD,DD\n',
        [(2, "sent", "QUOTATION MARK"), (3, "printed", "the one glyph"),
         (4, "sent", "QUOTATION MARK"), (5, "printed", "the one glyph")]),
    "quote in a cell too many": ('sent,printed\nA,A,"\nB,BB\n"\nC,CC\n',
        [(2, "", "QUOTATION MARK"), (3, "printed", "the one glyph"),
         (4, "sent", "QUOTATION MARK"), (5, "printed", "the one glyph")]),
    "notes below a misspelt name": ('sent,printed,nots\nA,A,"1\n2"\nB,BB,\n',
        [(1, "'nots'", "Did you mean note?"), (4, "printed", "the one glyph")]),
    "quote inside a note": ('sent,printed,note\nA,A,"a "bit" late"\n', [(2, "note", "doubled")]),
    "long line": (f"sent,printed\nA,{'A' * 200_000}\n", [(2, "", "right file")]),
    "after a note of three lines": ('sent,printed,note\nA,A,"1\n2\n3"\nB,BB,\n',
        [(5, "printed", "the one glyph")]),
    "problems all over": ("sent,printed,driven,shade\nAA,A,speed,\n\nB,,foot,\nC,C,hand,\nD\n",
        [(1, "'shade'", "Columns are"), (2, "sent", "one character"), (4, "printed", "SP"),
         (4, "driven", "speed or hand"), (6, "", "as many cells")]),
}  # fmt: skip


@pytest.mark.parametrize("name", MALFORMED)
def test_a_malformed_file_is_refused_with_every_line_column_and_mend(
    name: str, tmp_path: Path
) -> None:
    text, expected = MALFORMED[name]
    path = tmp_path / "tides.csv"
    path.write_text(text, newline="", encoding="utf-8")
    with pytest.raises(LogbookError) as caught:
        read_logbook(path)
    problems = caught.value.problems
    assert [(p.line, p.place) for p in problems] == [(line, col) for line, col, _ in expected]
    for problem, (_, _, mend) in zip(problems, expected, strict=True):
        assert mend in problem.mend
        assert problem.source == str(path)
        assert str(problem) in str(caught.value)  # the message lists them all


def test_a_problem_reads_as_a_sentence() -> None:
    with pytest.raises(LogbookError) as caught:
        parse_logbook("sent,printed\nA,nothin\n", "tides.csv")
    assert str(caught.value) == (
        "1 problem in the log, nothing was loaded:\n"
        "  tides.csv, line 2, printed: 'nothin' is not one glyph. Did you mean nothing?"
    )


@pytest.mark.parametrize(
    ("data", "line", "piece"),
    [
        (TIDES.encode("utf-16"), 0, "UTF-16"),
        (b"sent,printed\nA,A\n#,\xa3\n", 3, "not UTF-8"),
        (b"sent,printed\r\nA,A\r\n#,\xa3\r\n", 3, "not UTF-8"),
    ],
)
def test_other_encodings_are_refused_and_never_guessed(tmp_path, data, line, piece) -> None:
    path = tmp_path / "tides.csv"
    path.write_bytes(data)
    with pytest.raises(LogbookError, match="CSV UTF-8") as caught:
        read_logbook(path)
    (problem,) = caught.value.problems
    assert problem.line == line
    assert piece in problem.what


def test_a_file_that_cannot_be_opened_is_named(tmp_path: Path) -> None:
    for path in (tmp_path / "not there.csv", tmp_path):
        with pytest.raises(LogbookError, match="cannot be opened") as caught:
            read_logbook(path)
        assert str(path) in str(caught.value)


def test_absurdly_large_logs_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "large.csv"
    path.write_bytes(b"x" * (5 * MAX_CHARACTERS))
    for load in (
        lambda: read_logbook(path),
        lambda: parse_logbook("sent,printed\n" + "\n" * MAX_CHARACTERS),
        lambda: parse_logbook("sent,printed\n" + "A,A\n" * (MAX_ENTRIES + 1)),
        lambda: parse_logbook("sent,printed\n" + 'A,"\n' * (MAX_ENTRIES + 2)),
        lambda: parse_logbook("sent,printed\n" + "A\n" * (MAX_ENTRIES + 2)),
        lambda: from_lines("A" * (MAX_ENTRIES + 1), "A" * (MAX_ENTRIES + 1)),
    ):
        with pytest.raises(LogbookError, match="right file"):
            load()
    assert len(parse_logbook("sent,printed\n" + "A,A\n" * MAX_ENTRIES)) == MAX_ENTRIES


def test_nothing_is_written_that_could_not_be_read_back() -> None:
    note = Entry(65, "A", note='"' * MAX_NOTE)
    with pytest.raises(ValueError, match="shorten its notes"):
        format_logbook(Logbook((note,) * 1000))
    with pytest.raises(ValueError, match="at most"):
        Logbook((Entry(65, "A"),) * (MAX_ENTRIES + 1))


@given(st.text(st.sampled_from('sentprid,;"\n\rA ') | st.characters(), max_size=200))
def test_any_text_at_all_is_a_log_or_a_clear_refusal(text: str) -> None:
    for whole in (text, "sent,printed,note\n" + text):
        try:
            log = parse_logbook(whole)
        except LogbookError as error:
            assert error.problems
            assert all(
                0 <= p.line <= whole.count("\n") + whole.count("\r") + 1 for p in error.problems
            )
        else:
            assert parse_logbook(format_logbook(log)).entries == log.entries


# --- Two pasted lines ---


def test_two_lines_are_read_character_by_character() -> None:
    log = from_lines("TIDE 4\r\n", "TADE  \n")
    assert [entry.printed for entry in log] == list("TADE  ")
    assert [SEVEN_UNIT.character(entry.sent) for entry in log] == list("TIDE 4")
    assert all(entry.driven == "speed" and entry.gap == "" for entry in log)
    assert len(from_lines("", "")) == 0


def test_lines_of_unequal_length_are_refused() -> None:
    with pytest.raises(LogbookError, match="6 characters sent, but 4 printed") as caught:
        from_lines("TIDE 4", "TADE")
    assert "Put a blank" in caught.value.problems[0].mend


def test_characters_that_cannot_stand_in_a_line_are_all_named() -> None:
    with pytest.raises(LogbookError) as caught:
        from_lines("Aé\nB", "A\tBC")
    assert [(p.line, p.place) for p in caught.value.problems] == [
        (1, "character 2"),
        (2, "character 2"),
    ]
    with pytest.raises(LogbookError, match="FIGS and LTRS"):
        from_lines("R5", "R5", FIVE_UNIT)
    assert len(from_lines("RYRY", "RYRR", FIVE_UNIT)) == 4


# --- The parts by themselves ---


@pytest.mark.parametrize(
    ("wrong", "message"),
    [
        ({"sent": -1}, "sent: -1"),
        ({"printed": ""}, "printed: ''"),
        ({"printed": "AB"}, "printed: 'AB'"),
        ({"printed": "\r"}, "printed"),
        ({"driven": "foot"}, "driven: 'foot' is none of 'speed', 'hand'"),
        ({"oil": "hot"}, "oil"),
        ({"clipped": "middle"}, "clipped"),
        ({"note": "x" * (MAX_NOTE + 1)}, "note"),
        ({"note": "\ud800"}, "surrogate"),
    ],
)
def test_an_entry_cannot_be_made_of_wrong_values(wrong: dict, message: str) -> None:
    with pytest.raises(ValueError, match=message):
        Entry(**{"sent": 65, "printed": "A", **wrong})


def test_a_logbook_grows_by_making_a_longer_one() -> None:
    log = parse_logbook(TIDES, "tides.csv")
    longer = log.adding(Entry(65, "A"), Entry(66, "B"))
    assert len(longer) == len(log) + 2
    assert longer.entries[: len(log)] == log.entries
    assert longer.source == log.source
    with pytest.raises(ValueError, match="entry 6: 128 is not in the seven-unit code"):
        log.adding(Entry(128, "A"))
