"""Logs that must be refused, and odd ones that must not.  Lines are those of fog.csv."""

import csv
import io

from bad_input.cases import FOLDER, HERE, Bad, Odd, more, put, saved_as, until, whole

from mechlogic.model.logbook import Logbook

GOOD = (FOLDER / "fog.csv").read_text("utf-8")
HEADER = "sent,printed,driven,oil,clipped,gap,note\n"


def said(log: Logbook) -> str:
    """A log in a few words: what was sent and printed, and the notes."""
    name = log.code.name
    pairs = " ".join(f"{name(entry.sent)}/{entry.printed}" for entry in log)
    notes = [entry.note for entry in log if entry.note]
    return " | ".join([pairs, *notes])


def separated_by(mark: str):
    """As a spreadsheet exports it in a country that separates cells by another mark."""

    def change(text: str) -> str:
        out = io.StringIO(newline="")
        csv.writer(out, delimiter=mark, lineterminator="\n").writerows(
            csv.reader(io.StringIO(text))
        )
        return out.getvalue()

    return change


def quoted(text: str) -> str:
    """As a spreadsheet exports it with a quotation mark round every cell."""
    out = io.StringIO(newline="")
    rows = csv.reader(io.StringIO(text))
    csv.writer(out, quoting=csv.QUOTE_ALL, lineterminator="\n").writerows(rows)
    return out.getvalue()


def row(*cells: str):
    """One row more at the end."""
    return more(",".join(cells) + "\n")


TEN_MB = "x" * 10_000_000
AS_IT_IS = "A/A C/C B/nothing D/unreadable | late by a hair, again | cover off"

BAD = (
    # -- no log at all
    Bad("empty", whole(""), 0, "", "there is nothing in it", "names the columns"),
    Bad("one blank", whole(" "), 0, "", "there is nothing in it", "sent,printed"),
    Bad("only blank lines", whole("\n\r\n\r"), 0, "", "there is nothing in it", "sent,printed"),
    Bad("only a mark", whole(b"\xef\xbb\xbf"), 0, "", "there is nothing in it", "sent,printed"),
    Bad("prose", whole("Dear Jo,\nhere it is.\n"), HERE, "", "names no column", "sent,printed"),
    Bad("JSON", whole('{"sent": "A", "printed": "A"}'), HERE, "", "", "sent,printed"),
    Bad("a description", whole('[machine]\nname = "fog"\n'), HERE, "", "names no column", "Begin"),
    Bad("HTML", whole("<table><tr><td>sent</td></tr></table>"), HERE, "", "names no column",
        "Begin"),
    Bad("a picture", whole(b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR\0"), HERE, "", "not UTF-8", "CSV UTF-8"),
    Bad("a spreadsheet's own file", whole(b"PK\x03\x04\x14\0\x06\0\x08\0"), 0, "", "no text",
        "CSV"),
    Bad("all bytes", whole(bytes(range(256))), 3, "", "not UTF-8", "CSV UTF-8"),
    Bad("NUL bytes", whole(b"\0" * 1000), 0, "", "UTF-16, or no text at all", "CSV UTF-8"),
    # -- encodings
    Bad("Latin-1", saved_as("latin-1", "A,A", "A,£"), HERE, "", "not UTF-8", "CSV UTF-8"),
    Bad("Windows-1252", saved_as("cp1252", "cover off", "cover “off”"), HERE, "", "not UTF-8",
        "CSV"),
    Bad("UTF-16 with mark", saved_as("utf-16"), 0, "", "UTF-16, not UTF-8", "CSV UTF-8"),
    Bad("UTF-16 LE", saved_as("utf-16-le"), 0, "", "UTF-16", "CSV UTF-8"),
    Bad("UTF-16 BE", saved_as("utf-16-be"), 0, "", "UTF-16", "CSV UTF-8"),
    Bad("UTF-32", saved_as("utf-32"), 0, "", "UTF-16", "CSV UTF-8"),
    Bad("half a letter at the end", lambda t: t.encode() + b"\xc3", HERE, "", "not UTF-8", "CSV"),
    Bad("lone surrogate", put("cover off", "cover \ud800"), HERE, "", "not UTF-8", "CSV UTF-8"),
    Bad("half of a pair of marks", lambda t: b"\xef\xbb" + t.encode(), HERE, "", "not UTF-8",
        "CSV"),
    Bad("two marks", lambda t: "\ufeff\ufeff" + t, HERE, r"'\ufeffsent'", "no such column",
        "sent?"),
    # -- the first line
    Bad("no header", lambda t: t[t.index("A,A") :], HERE, "", "names no column",
        "Begin with a line"),
    Bad("a header in another tongue", put("sent,printed", "gesendet,gedruckt"), HERE,
        "'gedruckt'", "no such column", "Columns are sent"),
    Bad("misspelt column", put("printed", "pinted"), HERE, "'pinted'", "no such", "printed?"),
    Bad("unknown column", put("note\n", "weather\n"), HERE, "'weather'", "no such", "Columns are"),
    Bad("a column twice", put("note\n", "sent\n"), HERE, "sent", "two columns", "Keep one"),
    Bad("sent is missing", lambda t: "printed\nA\n", HERE, "sent", "is missing", "sent,printed"),
    Bad("printed is missing", lambda t: "sent,note\nA,x\n", HERE, "printed", "is missing", "sent"),
    Bad("Cyrillic е in a column", put("sent,", "sеnt,"), HERE,
        "'sеnt' (with CYRILLIC SMALL LETTER IE)", "no such column", "Did you mean sent?"),
    Bad("a zero width in a column", put("sent,", "s\u200bent,"), HERE, r"'s\u200bent'", "no such",
        "Did you mean sent?"),
    Bad("two delimiters", put("driven,oil", "driven;oil"), HERE, "", "more than one way", "commas"),
    Bad("a bar for a delimiter", lambda t: t.replace(",", "|"), HERE, "", "names no column",
        "Begin"),
    Bad("blanks for delimiters", lambda t: t.replace(",", " "), HERE, "", "names no column",
        "Begin"),
    Bad("a quote that is not closed", put("note\n", '"note\n'), HERE, "", "quotation mark",
        "Begin"),
    Bad("all in one cell", put("sent,printed,driven,oil,clipped,gap,note\n",
        '"sent,printed,driven,oil,clipped,gap,note"\n'), HERE, "", "names no column", "Begin"),
    Bad("the title stands above", lambda t: "Log of the fog signal\n" + t, HERE, "", "no column",
        "Begin"),
    Bad("a spreadsheet's hint stands above", lambda t: "sep=;\n" + t, HERE, "", "", "Begin"),
    Bad("5000 columns", put("note\n", "note" + "," * 5000 + "\n"), HERE, "", "5007 columns",
        "right file"),
    # -- rows
    Bad("a cell too many", put("A,A,speed,cold,,,\n", "A,A,speed,cold,,,,\n"), HERE, "",
        "8 cells in this row, but 7 columns", "as many cells"),
    Bad("a cell too few", put("A,A,speed,cold,,,\n", "A,A,speed,cold,,\n"), HERE, "", "6 cells",
        "blank"),
    Bad("a raw comma was sent", row(",", "A", "", "", "", "", ""), HERE, "", "8 cells", "COMMA"),
    Bad("a cell below no name", whole("sent,printed,\nA,A,x\n"), 2, "", "below no column name",
        "Name its column"),
    Bad("semicolons below commas", put("A,A,speed,cold,,,", "A;A;speed;cold;;;"), HERE, "",
        "1 cells", ""),
    Bad("a decimal comma", row("A", "A", "", "", "", "", "0,5 mm late"), HERE, "", "8 cells",
        "COMMA"),
    Bad("broken off in a row", until("A,A,speed,co"), HERE, "", "4 cells", "as many"),
    Bad("broken off in a note", until("late by a"), 3, "note", "out of place", "doubled"),
    Bad("the header again", more(HEADER), HERE, "", "stand here once more", "delete this line"),
    Bad("a sum below", row("=COUNTA(A2:A5)", "", "", "", "", "", ""), HERE, "sent", "not a char",
        "SP"),
    # -- quotation marks
    Bad("a quote never closed", put("A,A,speed", 'A,"A,speed'), HERE, "printed", "out of place",
        "MARK"),
    Bad("a lone quote was printed", put("A,A,speed", 'A,",speed'), HERE, "printed", "place",
        "MARK"),
    Bad("a quote within a note", put("cover off", '"cover "off""'), HERE, "note", "place",
        "doubled"),
    Bad("a word behind a quote", put("cover off", '"cover" off'), HERE, "note", "place", "doubled"),
    Bad("a line end in a print", put("A,A,speed", '"A","A\nB",speed'), HERE, "printed", "place",
        "MARK"),
    Bad("a line end in a code", put("A,A,speed", '"A\n",A,speed'), HERE, "sent", "place", "MARK"),
    Bad("single quotes", put("A,A,speed", "'A','A',speed"), HERE, "sent", '"\'A\'" is not',
        "one char"),
    Bad("curly quotes", put("A,A,speed", "“A”,“A”,speed"), HERE, "printed", "is not one glyph",
        "Write"),
    # -- what was sent
    Bad("nothing sent", put("A,A,speed", ",A,speed"), HERE, "sent", "this cell is blank", "SP"),
    Bad("two letters", put("A,A,speed", "AB,A,speed"), HERE, "sent", "'AB' is not a char",
        "Write one"),
    Bad("a word for a number", row("ten", "A", "", "", "", "", ""), HERE, "sent", "'ten'", "mean"),
    Bad("a number", row("65", "A", "", "", "", "", ""), HERE, "sent", "'65' is not a character",
        "0/1"),
    Bad("a negative number", row("-65", "A", "", "", "", "", ""), HERE, "sent", "'-65'", "0/1"),
    Bad("NaN", row("nan", "A", "", "", "", "", ""), HERE, "sent", "'nan' is not a char", ""),
    Bad("inf", row("inf", "A", "", "", "", "", ""), HERE, "sent", "'inf' is not a char", ""),
    Bad("10^400", row("1e400", "A", "", "", "", "", ""), HERE, "sent", "'1e400' is not", "0/1"),
    Bad("no such position", row("9/1", "A", "", "", "", "", ""), HERE, "sent", "no position",
        "7/15"),
    Bad("endless position", row("9" * 5000 + "/1", "A", "", "", "", "", ""), HERE, "sent", "not a",
        "0/1"),
    Bad("a position made a date", row("13-Mar", "A", "", "", "", "", ""), HERE, "sent", "a date",
        "name"),
    Bad("a date with its year", row("2031-03-13", "A", "", "", "", "", ""), HERE, "sent", "date",
        "name"),
    Bad("a letter with its accent", row("é", "A", "", "", "", "", ""), HERE, "sent", "'é' is not",
        "'e'?"),
    Bad("an accent by itself", row("e\u0301\u0301", "A", "", "", "", "", ""), HERE, "sent",
        "COMBINING ACUTE ACCENT", "0/1"),
    Bad("Cyrillic А was sent", row("А", "A", "", "", "", "", ""), HERE, "sent",
        "'А' (with CYRILLIC CAPITAL LETTER A) is not in", "Write one character"),
    Bad("full-width A was sent", row("Ａ", "A", "", "", "", "", ""), HERE, "sent",
        "FULLWIDTH LATIN CAPITAL LETTER A", "Did you mean 'A'?"),
    Bad("zero width was sent", row("\u200b", "A", "", "", "", "", ""), HERE, "sent", r"'\u200b'",
        "0/1"),
    Bad("right to left was sent", row("\u202eA", "A", "", "", "", "", ""), HERE, "sent", r"\u202e",
        "0/1"),
    Bad("misspelt control", row("DELL", "A", "", "", "", "", ""), HERE, "sent", "'DELL'",
        "mean DEL"),
    Bad("another code's name", row("FIGS", "A", "", "", "", "", ""), HERE, "sent", "'FIGS'", ""),
    Bad("markup was sent", row("<b>", "A", "", "", "", "", ""), HERE, "sent", "'<b>' is not",
        "0/1"),
    Bad("a formula was sent", row('"=HYPERLINK(""x"")"', "A", "", "", "", "", ""), HERE, "sent",
        "=HYP", ""),
    # -- what was printed
    Bad("nothing written", put("A,A,speed", "A,,speed"), HERE, "printed", "cell is blank",
        "nothing"),
    Bad("two glyphs", put("A,A,speed", "A,AB,speed"), HERE, "printed", "'AB' is not one glyph",
        "one"),
    Bad("misspelt nothing", put("nothing", "noting"), HERE, "printed", "'noting'", "mean nothing?"),
    Bad("misspelt unreadable", put("unreadable", "unreadble"), HERE, "printed", "unreadble",
        "unreadable?"),
    Bad("a control printed", put("A,A,speed", "A,CR+A,speed"), HERE, "printed", "'CR+A'",
        "one glyph"),
    Bad("a bell as a byte", put("A,A,speed", "A,\x07,speed"), HERE, "printed", r"'\x07' cannot be",
        "nothing"),
    Bad("zero width printed", put("A,A,speed", "A,\u200b,speed"), HERE, "printed",
        "cannot be printed", ""),
    Bad("right to left printed", put("A,A,speed", "A,\u202e,speed"), HERE, "printed", "cannot be",
        ""),
    Bad("two accents on a letter", put("A,A,speed", "A,E\u0301\u0301,speed"), HERE, "printed",
        "(with COMBINING ACUTE ACCENT) is not one glyph", "Write the one glyph"),
    Bad("a family of people", put("A,A,speed", "A,👩\u200d👧,speed"), HERE, "printed", "one glyph",
        "one"),
    Bad("a print made a date", put("A,A,speed", "A,Mar-13,speed"), HERE, "printed", "date",
        "name"),
    Bad("a word for a picture", put("A,A,speed", "A,anchor,speed"), HERE, "printed", "one glyph",
        "SP"),
    Bad("an unknown function", put("A,A,speed", "A,A+XX,speed"), HERE, "printed", "'A+XX'",
        "one glyph"),
    Bad("a formula printed", put("A,A,speed", "A,=1+1,speed"), HERE, "printed", "'=1+1'",
        "one glyph"),
    Bad("100000 accents", put("A,A,speed", f"A,{chr(0x301) * 90_000},speed"), HERE, "printed", "…",
        "one"),
    # -- the other columns
    Bad("unknown drive", put("A,A,speed", "A,A,steam"), HERE, "driven", "'steam'", "speed or hand"),
    Bad("misspelt drive", put("A,A,speed", "A,A,sped"), HERE, "driven", "'sped'", "mean speed?"),
    Bad("Cyrillic е in a drive", put("A,A,speed", "A,A,spееd"), HERE, "driven", "CYRILLIC",
        "speed?"),
    Bad("oil with a number", put("warm", "10W"), HERE, "oil", "'10W'", "cold or warm or unknown"),
    Bad("oil in Spanish", put("warm", "tibio"), HERE, "oil", "'tibio'", "cold or warm or unknown"),
    Bad("unknown side", put("top", "middle"), HERE, "clipped", "'middle'", "top or bottom"),
    Bad("misspelt side", put("top", "tpo"), HERE, "clipped", "'tpo'", "Did you mean top?"),
    Bad("a gap of 1", put("yes", "1"), HERE, "gap", "'1' is not one of the words", "yes, or"),
    Bad("a gap that may be", put("yes", "perhaps"), HERE, "gap", "'perhaps' is not one",
        "Did you mean pause?"),
    Bad("a very long note", put("cover off", "x" * 5000), HERE, "note", "a note of 5000",
        "to 2000"),
    # -- very large
    Bad("10 MB", more(TEN_MB), 0, "", "more than 20000 entries or 2000000 characters",
        "right file"),
    Bad("a line of 10 MB", whole(TEN_MB), 0, "", "more than 20000 entries", "cut the log"),
    Bad("10 MB of line ends", whole("\n" * 10_000_000), 0, "", "more than 20000 entries",
        "right file"),
    Bad("a line of 150000", put("cover off", "x" * 150_000), HERE, "", "a line of 1500",
        "right file"),
    Bad("30000 rows", more("A,A,,,,,\n" * 30_000), 20_002, "", "more than 20000 entries",
        "cut the log"),
    Bad("30000 bad rows", more("A\n" * 30_000), 205, "", "the first 200 problems are told",
        "right"),
    Bad("30000 open quotes", more('A,"\n' * 30_000), 205, "", "the first 200 problems",
        "right file"),
    Bad("a quote that swallows all", put("A,A,speed", 'A,A,"speed'), HERE, "driven", "place",
        "MARK"),
    Bad("50000 cells", more("A" + "," * 50_000 + "\n"), HERE, "", "50001 cells", "as many cells"),
)  # fmt: skip

ODD = (
    Odd("as it is", lambda t: t, AS_IT_IS),
    Odd("byte-order mark", saved_as("utf-8-sig"), AS_IT_IS),
    Odd("CRLF", lambda t: t.replace("\n", "\r\n"), AS_IT_IS),
    Odd("CR alone", lambda t: t.replace("\n", "\r"), AS_IT_IS),
    Odd("no line end at the end", lambda t: t.rstrip("\n"), AS_IT_IS),
    Odd("semicolons", separated_by(";"), AS_IT_IS),
    Odd("tabs", separated_by("\t"), AS_IT_IS),
    Odd("a quote round every cell", quoted, AS_IT_IS),
    Odd("names in capitals", lambda t: t.replace("sent,printed", "SENT, Printed"), AS_IT_IS),
    Odd("blanks round the cells", lambda t: t.replace(",speed,cold,", " , speed , cold ,"),
        AS_IT_IS),
    Odd("blank columns and rows", lambda t: "\n".join(f"{line},," for line in t.split("\n")),
        AS_IT_IS),
    Odd("only a header", whole(HEADER), ""),
    Odd("columns in another order", whole("note,printed,sent\nlate,C,A\n"), "A/C | late"),
    Odd("only the two columns", whole("sent,printed\nA,C\n"), "A/C"),
    Odd("a note over two lines", whole('sent,printed,note\nA,C,"one\ntwo"\n'), "A/C | one\ntwo"),
    Odd("a formula in a note is text", whole("sent,printed,note\nA,C,=1+1\n"), "A/C | =1+1"),
    Odd("a formula that was written safely", whole("sent,printed,note\nA,C,'=1+1\n"), "A/C | =1+1"),
    Odd("an apostrophe is one", whole("sent,printed,note\nA,C,'tis stiff\n"), "A/C | 'tis stiff"),
    Odd("markup in a note is text", whole("sent,printed,note\nA,C,<b>&amp;</b>\n"),
        "A/C | <b>&amp;</b>"),
    Odd("a NUL in a note is kept", whole("sent,printed,note\nA,C,a\0b\n"), "A/C | a\0b"),
    Odd("signs that begin formulas, sent and printed", whole("sent,printed\n=,+\n-,@\n"),
        "=/+ -/@"),
    Odd("their names", whole("sent,printed\nEQUALS SIGN,PLUS SIGN\nHYPHEN-MINUS,COMMERCIAL AT\n"),
        "=/+ -/@"),
    Odd("a sign and a function", whole("sent,printed\nA,++LF\nA,PLUS SIGN+LF\nA,COMMA+CR\n"),
        "A/++LF A/++LF A/,+CR"),
    Odd("a position", whole("sent,printed\n4/1,4/1\n04/01,A\n"), "A/A A/A"),
    Odd("a comma in a file of semicolons", whole("sent;printed\n,;,\n"), ",/,"),
    Odd("a letter, then its accent", whole("sent,printed\nA,E\u0301\n"), "A/É"),
    Odd("a Cyrillic letter was printed: it is a misprint", whole("sent,printed\nA,А\n"), "A/А"),
    Odd("an accent by its name", whole("sent,printed\nA,COMBINING ACUTE ACCENT\n"), "A/\u0301"),
    Odd("words in capitals", whole("sent,printed\nA,NOTHING\nA,Unreadable\n"),
        "A/nothing A/unreadable"),
    Odd("the byte of NUL was sent", whole("sent,printed\n\0,A\n"), "NUL/A"),
    Odd("digits are characters", whole("sent,printed\n1,2\n"), "1/2"),
)  # fmt: skip
