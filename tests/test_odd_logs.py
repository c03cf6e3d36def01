"""No legal CSV says less than its writer meant: it is read row by row, or refused with its line.

Each function below writes logs with one kind of oddness, as spreadsheets, editors and people do,
and knows which rows it wrote.  The judge is that list, not the reader.
"""

import csv
import io
import random
from collections.abc import Callable

import pytest

from mechlogic.model.logbook import LogbookError, decode_logbook

FILES_OF_A_KIND = 4

Row = list[str]
Made = str | bytes
Kind = Callable[[random.Random, list[Row]], Made]
KINDS: dict[str, Kind] = {}
"""Each takes a source of chance and rows of sent, printed and note, and gives a file.

It may change the rows that it is given, so that they stay what the writer meant."""

WORDS = ("cold start", "again", "cover off", "slow", "after tea", "slipped", "oiled")


def kind(make: Kind) -> Kind:
    KINDS[make.__name__] = make
    return make


def table(
    rows: list[Row], mark: str = ",", end: str = "\n", head: str = "sent,printed,note"
) -> str:
    """A plain file, quoted where CSV asks for it."""
    out = io.StringIO(newline="")
    writer = csv.writer(out, delimiter=mark, lineterminator=end)
    writer.writerows([head.split(","), *rows])
    return out.getvalue()


def with_row(rows: list[Row], rng: random.Random, raw: str) -> str:
    """A plain file with a raw line somewhere below the first row."""
    lines = table(rows).splitlines(keepends=True)
    lines.insert(rng.randrange(2, len(lines) + 1), raw + "\n")
    return "".join(lines)


# -- quotation and ditto marks ---


@kind
def raw_ditto_in_two_notes(rng, rows):
    first, second = sorted(rng.sample(range(len(rows)), 2))
    rows[first][2] = rows[second][2] = "DITTO"
    return table(rows).replace("DITTO", '"')


@kind
def raw_ditto_in_every_note(_, rows):
    return "".join(["sent,printed,note\n", *(f'{a},{b},"\n' for a, b, _ in rows)])


@kind
def raw_ditto_in_one_note(rng, rows):
    rng.choice(rows)[2] = "DITTO"
    return table(rows).replace("DITTO", '"')


@kind
def ditto_before_words(rng, rows):
    for row in rng.sample(rows, 2):
        row[2] = "DITTO and louder"
    return table(rows).replace("DITTO", '"')


@kind
def ditto_in_a_middle_note(rng, rows):
    first, second = sorted(rng.sample(range(len(rows)), 2))
    lines = ["sent,note,printed"]
    lines += [f'{a},{chr(34) if n in (first, second) else c},{b}' for n, (a, b, c) in
              enumerate(rows)]  # fmt: skip
    return "\n".join(lines)


@kind
def ditto_in_a_first_note(rng, rows):
    first, second = sorted(rng.sample(range(len(rows)), 2))
    lines = ["note,sent,printed"]
    lines += [f'{chr(34) if n in (first, second) else c},{a},{b}' for n, (a, b, c) in
              enumerate(rows)]  # fmt: skip
    return "\n".join(lines)


@kind
def japanese_ditto_in_printed(rng, rows):
    row = rng.choice(rows[1:])
    return table(rows).replace(",".join(row), ",".join([row[0], "\u3003", row[2]]), 1)


@kind
def quoted_ditto_in_printed(rng, rows):
    rng.choice(rows)[1] = "SAME"
    return table(rows).replace("SAME", '"')


@kind
def properly_doubled_ditto(rng, rows):
    for row in rng.sample(rows, 2):
        row[2] = '"'
    return table(rows)


@kind
def inches_in_a_note(rng, rows):
    rng.choice(rows)[2] = 'moved 2" up'
    return table(rows).replace('""', '"')


@kind
def open_quote_in_semicolons(rng, rows):
    for row in rng.sample(rows, 2):
        row[2] = "DITTO"
    return table(rows, ";").replace("DITTO", '"')


@kind
def open_quote_in_tabs(rng, rows):
    for row in rng.sample(rows, 2):
        row[2] = "DITTO"
    return table(rows, "\t").replace("DITTO", '"')


@kind
def wrong_row_between_two_dittos(_, rows):
    rows[0][2] = rows[2][2] = "DITTO"
    rows[1][1] = "nothng"
    return table(rows).replace("DITTO", '"')


@kind
def backslashes_for_quotes(rng, rows):
    rng.choice(rows)[2] = "say SLASHhoSLASH now"
    return table(rows).replace("say SLASHhoSLASH now", r'"say \"ho\" now"')


@kind
def single_quotes_round_cells(_, rows):
    return table(rows).replace("A", "'A'", 1)


@kind
def curly_quotes_round_a_note_with_a_comma(rng, rows):
    rng.choice(rows)[2] = "CURLY"
    return table(rows).replace("CURLY", "“slow, then not”")


# -- notes ---


@kind
def note_over_several_lines(rng, rows):
    rng.choice(rows)[2] = "first\nthen it ran, at last\r\nand stopped"
    return table(rows)


@kind
def note_with_a_row_in_it(rng, rows):
    rng.choice(rows)[2] = "as yesterday:\nA,B\nB,C"
    return table(rows)


@kind
def semicolons_in_notes(rng, rows):
    rng.choice(rows)[2] = "slow; then fast; A;B"
    return table(rows).replace('"', "")


@kind
def raw_commas_in_notes(rng, rows):
    rng.choice(rows)[2] = "slow, then fast"
    return table(rows).replace('"', "")


@kind
def commas_in_notes_of_a_semicolon_file(rng, rows):
    rng.choice(rows)[2] = "slow, then fast, A,B"
    return table(rows, ";")


@kind
def tabs_in_notes(rng, rows):
    rng.choice(rows)[2] = "slow\tthen\tfast"
    return table(rows)


@kind
def raw_semicolons_in_a_semicolon_file(rng, rows):
    rng.choice(rows)[2] = "slow; then fast"
    return table(rows, ";").replace('"', "")


@kind
def formula_like_notes(rng, rows):
    rng.choice(rows)[2] = "=A2&B2"
    return table(rows)


# -- columns ---


@kind
def empty_columns_of_a_spreadsheet(rng, rows):
    n = rng.randrange(1, 6)
    wide = [[*row, *[""] * n] for row in rows]
    return table(wide, head="sent,printed,note" + "," * n)


@kind
def empty_column_with_something_in_one_row(rng, rows):
    wide = [[*row, ""] for row in rows]
    rng.choice(wide)[3] = "B"
    return table(wide, head="sent,printed,note,")


@kind
def rows_padded_and_header_not(_, rows):
    return table([[*row, ""] for row in rows])


@kind
def header_padded_and_rows_not(_, rows):
    return table(rows, head="sent,printed,note,,")


@kind
def quoted_header_and_cells(_, rows):
    out = io.StringIO(newline="")
    csv.writer(out, quoting=csv.QUOTE_ALL).writerows([["sent", "printed", "note"], *rows])
    return out.getvalue()


@kind
def header_as_one_quoted_cell(_, rows):
    return table(rows).replace("sent,printed,note", '"sent,printed,note"')


@kind
def header_in_capitals_and_blanks(_, rows):
    return table(rows).replace("sent,printed,note", " Sent , PRINTED,Note ")


@kind
def column_of_numbers_before(_, rows):
    return table([[str(n), *row] for n, row in enumerate(rows, 1)], head="#,sent,printed,note")


@kind
def two_tables_side_by_side(_, rows):
    half = len(rows) // 2
    both = [[*a, *b] for a, b in zip(rows[:half], rows[half:], strict=False)]
    return table(both, head="sent,printed,note,sent,printed,note")


@kind
def two_columns_of_prints(_, rows):
    return table([[a, b, b] for a, b, _ in rows], head="sent,printed,printed")


@kind
def column_with_a_strange_name(_, rows):
    return table(rows, head="sent,printed,remark")


# -- rows that are none, and rows that are ---


@kind
def header_repeated(rng, rows):
    return with_row(rows, rng, "sent,printed,note")


@kind
def header_repeated_in_another_order(rng, rows):
    return with_row(rows, rng, "printed,sent,note")


@kind
def total_in_words(_, rows):
    return table(rows) + f"Total,{len(rows)},\n"


@kind
def total_as_a_number(_, rows):
    return table(rows) + f"{len(rows) + 10}\n"


@kind
def total_as_a_formula(_, rows):
    return table(rows) + "=COUNTA(A2:A9),,\n"


@kind
def total_below_the_notes(_, rows):
    return table(rows) + ",,12 in all\n"


@kind
def comment_in_the_middle(rng, rows):
    return with_row(rows, rng, "# after the break")


@kind
def note_on_a_row_of_its_own(rng, rows):
    return with_row(rows, rng, ",,stopped for tea")


@kind
def title_above(rng, rows):
    return f"Log of the {rng.choice(['3rd', '4th'])}\n" + table(rows)


@kind
def rule_of_hyphens(rng, rows):
    return with_row(rows, rng, "---,---,---")


@kind
def blank_rows_between(rng, rows):
    return with_row(rows, rng, rng.choice(["", ",,", "  ,,  ", "\u00a0,,", '"",""," "']))


@kind
def a_space_that_was_sent_as_it_is(rng, rows):
    rows.append([" ", rng.choice([" ", "A", ""]), ""])
    return table(rows)


@kind
def control_characters_that_were_sent_as_they_are(rng, rows):
    character = rng.choice("\x0b\x0c\x1c\x1d\x1e\x1f\x85")
    rows.append([character, character, ""])
    return table(rows)


@kind
def merged_with_conflict_marks(rng, rows):
    lines = table(rows).splitlines()
    at = rng.randrange(1, len(lines))
    mine = ["<<<<<<< mine", lines[at], "=======", lines[at], ">>>>>>> yours"]
    return "\n".join([*lines[:at], *mine, *lines[at + 1 :]])


@kind
def rows_cut_off_at_the_end(rng, rows):
    rows[-1][2] = ""
    return table(rows)[: -rng.randrange(1, 5)]


# -- files joined, separators, line ends, encodings ---


@kind
def two_files_joined(_, rows):
    half = len(rows) // 2
    return table(rows[:half]) + table(rows[half:])


@kind
def two_files_joined_with_their_marks(_, rows):
    half = len(rows) // 2
    return ("\ufeff" + table(rows[:half]) + "\ufeff" + table(rows[half:])).encode()


@kind
def two_files_joined_with_other_columns(_, rows):
    half = len(rows) // 2
    turned = [[b, a, c] for a, b, c in rows[half:]]
    return table(rows[:half]) + table(turned, head="printed,sent,note")


@kind
def two_files_joined_with_other_separators(_, rows):
    half = len(rows) // 2
    return table(rows[:half]) + table(rows[half:], ";")


@kind
def semicolons_below_a_header_of_commas(_, rows):
    return "sent,printed,note\n" + table(rows, ";").partition("\n")[2]


@kind
def one_row_with_another_separator(rng, rows):
    lines = table(rows).splitlines()
    at = rng.randrange(1, len(lines))
    lines[at] = lines[at].replace(",", rng.choice(";\t|"))
    return "\n".join(lines)


@kind
def a_line_that_names_the_separator(_, rows):
    return "sep=;\n" + table(rows, ";")


@kind
def pipes_of_a_text_table(_, rows):
    return table(rows, "|")


@kind
def blanks_as_separators(_, rows):
    return table(rows).replace(",", "  ")


@kind
def carriage_returns_only(_, rows):
    return table(rows, end="\r")


@kind
def doubled_carriage_returns(_, rows):
    return table(rows, end="\r\r\n")


@kind
def line_ends_of_three_kinds(rng, rows):
    return "".join(line + rng.choice(["\n", "\r", "\r\n"]) for line in table(rows).splitlines())


@kind
def line_ends_of_unicode(rng, rows):
    return table(rows, end=rng.choice("\u2028\u2029\x85\x0b\x0c"))


@kind
def byte_order_mark(_, rows):
    return b"\xef\xbb\xbf" + table(rows).encode()


@kind
def utf_16(rng, rows):
    return table(rows).encode(rng.choice(["utf-16", "utf-16-le", "utf-16-be"]))


@kind
def end_of_file_of_old_systems(_, rows):
    return table(rows) + "\x1a"


@kind
def padded_with_nul(_, rows):
    return table(rows) + "\0" * 40


@kind
def nul_between_the_letters_of_a_row(rng, rows):
    return with_row(rows, rng, "\0A\0,\0B\0,\0")


# -- cells ---


@kind
def text_forced_by_a_spreadsheet(rng, rows):
    row = rng.choice(rows)
    return table(rows).replace(",".join(row), f'="{row[0]}",="{row[1]}",{row[2]}', 1)


@kind
def apostrophes_of_a_spreadsheet(_, rows):
    return table([[f"'{a}", f"'{b}", c] for a, b, c in rows])


@kind
def positions_turned_into_dates(rng, rows):
    row = rng.choice(rows)
    return table(rows).replace(",".join(row), f"01.Apr,{row[1]},{row[2]}", 1)


@kind
def names_turned_into_truth(rng, rows):
    return with_row(rows, rng, "TRUE,FALSE,")


@kind
def marks_that_turn_the_direction(rng, rows):
    return with_row(rows, rng, "\u202eA,\u202eB,")


@kind
def joiners_that_nobody_sees(rng, rows):
    return with_row(rows, rng, "A\u200d,B\u200b,")


@kind
def several_prints_in_one_cell(rng, rows):
    return with_row(rows, rng, "A,AB,both")


@kind
def readings_that_are_not_sure(rng, rows):
    row = rng.choice(rows)
    row[1] = rng.choice(["B or 8", "B over 8", "unseen", "b OR 8"])
    return table(rows)


def made(name: str, number: int) -> tuple[bytes, list[Row]]:
    """A file of a kind, and the rows that its writer meant."""
    rng = random.Random(f"{name} {number}")
    rows = [[rng.choice("ABCDEFGH"), rng.choice("ABCDEFGH"), rng.choice(["", *WORDS])]
            for _ in range(rng.randrange(4, 9))]  # fmt: skip
    data = KINDS[name](rng, rows)
    return data if isinstance(data, bytes) else data.encode("utf-8"), rows


def test_there_are_200_files_of_many_kinds():
    files = {made(name, number)[0] for name in KINDS for number in range(FILES_OF_A_KIND)}
    assert len(KINDS) >= 70 and len(files) >= 200


@pytest.mark.parametrize("name", KINDS)
def test_a_log_is_read_row_by_row_or_refused_with_its_line(name):
    for number in range(FILES_OF_A_KIND):
        data, rows = made(name, number)
        try:
            log = decode_logbook(data, "odd.csv")
        except LogbookError as error:
            lines = data.decode("utf-8", "replace").replace("\r\n", "\n").replace("\r", "\n")
            last = lines.count("\n") + 1
            assert all(0 <= problem.line <= last and problem.mend for problem in error.problems)
            whole = [p for p in error.problems if p.line == 0]
            assert not whole or "UTF-16" in str(error), "the line is missing"
        else:
            read = [(log.code.name(e.sent), e.printed.upper(), e.note) for e in log]
            meant = [(a.upper(), b.upper(), c) for a, b, c in rows]
            assert read == meant, data
