"""A log as it is typed: lines changed, questioned, taken back; what is pasted; nothing shifted."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

import mechlogic
from mechlogic.bench.doubt import can_print, print_question, sent_question
from mechlogic.bench.log_editor import LogEditor, LogRefused
from mechlogic.model.logbook import Entry, parse_logbook

MACHINE = mechlogic.load("saltmere")
EMPTY = LogEditor(MACHINE)


def typed(editor: LogEditor) -> list[tuple[str, str]]:
    return [(line.sent, line.printed) for line in editor.lines]


def seen(editor: LogEditor) -> str:
    """The log for a diagnosis in a few words."""
    return " ".join(f"{MACHINE.code.name(e.sent)}/{e.printed}" for e in editor.log)


# -- words ---


def test_a_word_makes_a_line_for_each_character():
    assert typed(EMPTY.write("THE", "TXE")) == [("T", "T"), ("H", "X"), ("E", "E")]


@pytest.mark.parametrize(
    ("sent", "printed", "line", "column"),
    [("COLD", "COD", 3, "printed"), ("COD", "COLD", 3, "sent"), ("ABC", "AC", 2, "printed")],
)
def test_a_skipped_or_added_character_is_questioned_and_shifts_nothing(sent, printed, line, column):
    editor = EMPTY.write("A", "A").write(sent, printed).write("B", "B")
    lines = range(2, len(editor))
    assert {question.line for question in editor.questions} == set(lines), "all of the word"
    assert {entry.printed for entry in list(editor.log)[1:-1]} == {"unseen"}
    for above, below in typed(editor):
        assert above == below or "" in (above, below)
    confirmed = editor.confirm(3)
    assert [(q.line, q.column) for q in confirmed.questions] == [(line + 1, column)]
    assert confirmed.undo() == replace(editor, undone=confirmed.undo().undone)


def test_lines_of_one_length_that_agree_better_if_shifted_are_questioned_too():
    shifted = EMPTY.write("TIDEROSE", "TDEROSEX")
    assert len(shifted.questions) == 8
    assert seen(shifted.confirm(1)) == "T/T I/D D/E E/R R/O O/S S/E E/X"
    assert not EMPTY.write("TIDEROSE", "TYDEROXE").questions
    assert not shifted.answer(1, "printed", "T").questions, "yes to one is yes to all"
    assert shifted.answer(1, "printed", "unseen").questions[0].line == 2


@pytest.mark.parametrize("word", ["nothing", "unreadable"])
def test_a_whole_word_may_have_printed_nothing(word):
    assert seen(EMPTY.write("HOT", word)) == f"H/{word} O/{word} T/{word}"


def test_a_name_is_a_name_before_it_is_a_word_and_two_prints_of_one_are_questioned():
    assert seen(EMPTY.write("CR", "nothing")) == "CR/nothing"
    editor = EMPTY.write("B", "B8")
    choices = [choice.text for choice in editor.questions[0].choices]
    assert choices[:2] == ["B over 8", "B or 8"]
    assert seen(editor) == "B/unseen"
    assert seen(editor.answer(1, "printed", choices[0])) == "B/B over 8"


def test_marks_go_to_every_character_of_a_word_and_stop_and_note_to_the_first():
    first, second = EMPTY.write("AB", "AB", oil="cold", gap="yes", note="frost").log
    assert first == Entry(65, "A", oil="cold", gap="yes", note="frost")
    assert second == Entry(66, "B", oil="cold", gap="at once"), "a word is sent in one go"


# -- what cannot be ---


@pytest.mark.parametrize(
    ("printed", "meant"),
    [("a", "A"), ("Ä", "A"), ("é", "E"), ("½", "1"), ("l", "L 1 I"), ("ｏ", "O"), ("–", "-"),
     ("．", "."), ("Α", "A"), ("Х", "X"), ("b or 8", "B or 8"), ("A over x", "A over X")],
)  # fmt: skip
def test_what_the_machine_has_no_type_for_is_questioned_with_what_was_meant(printed, meant):
    question = print_question(MACHINE, printed)
    found = [choice.text for choice in question.choices]
    expected = meant.split(" ") if len(meant) in (1, 5) and "o" not in meant else [meant]
    assert found[: len(expected)] == expected
    assert found[-2:] == ["unreadable", "unseen"]
    assert all(can_print(MACHINE, choice) for choice in found)
    editor = EMPTY.write("T", printed)
    assert seen(editor) == "T/unseen"
    assert not editor.answer(1, "printed", found[0]).questions


def test_a_small_letter_that_was_sent_is_questioned_and_may_be_meant_all_the_same():
    question = sent_question(MACHINE, "a")
    assert [choice.text for choice in question.choices] == ["A", "6/1"]
    editor = EMPTY.write("B", "B").write("a", "A").write("C", "C")
    assert [entry.sent for entry in editor.log] == [66, 67]
    assert [entry.gap == "yes" for entry in editor.log] == [False, True], (
        "what came between is not known"
    )
    assert [e.sent for e in editor.answer(2, "sent", "A").log] == [66, 65, 67]
    assert [e.sent for e in editor.answer(2, "sent", "6/1").log] == [66, 97, 67]


@pytest.mark.parametrize("name", mechlogic.machines.names())
def test_no_machine_questions_what_it_prints(name):
    machine = mechlogic.load(name)
    for code, print_ in ((c, machine.good_print(c)) for c in range(len(machine.code))):
        assert can_print(machine, print_), code
        if len(print_) == 1:
            assert print_question(machine, print_) is None


# -- changing ---


def test_lines_are_changed_removed_put_in_and_moved():
    editor = EMPTY.write("ABCD", "ABCD")
    assert seen(editor.change(2, printed="X", note="worn")) == "A/A B/X C/C D/D"
    assert seen(editor.remove(2)) == "A/A C/C D/D"
    assert seen(editor.remove(2, 2)) == "A/A D/D"
    assert seen(editor.insert(2, "XY", "XY")) == "A/A X/X Y/Y B/B C/C D/D"
    assert seen(editor.move(1, 3)) == "B/B C/C A/A D/D"
    assert seen(editor.move(4, 1)) == "D/D A/A B/B C/C"
    assert editor.clear().lines == ()


STEPS = st.lists(
    st.tuples(
        st.sampled_from(["write", "insert", "change", "remove", "move", "clear", "undo", "redo"]),
        st.integers(0, 9),
        st.integers(0, 9),
    ),
    max_size=30,
)


@given(STEPS)
def test_any_steps_do_to_the_log_what_they_do_to_a_list_and_are_all_taken_back(steps):
    editor, plain = EMPTY, []
    before, after = [], []  # plain lists to go back to, and to go on to again
    for step, one, other in steps:
        old, size = list(plain), len(plain)
        character = chr(65 + one)
        match step:
            case "write":
                editor = editor.write(character, character)
                plain.append(character)
            case "insert" if size:
                editor = editor.insert(one % size + 1, character, character)
                plain.insert(one % size, character)
            case "change" if size:
                editor = editor.change(one % size + 1, sent="Z", printed=f"{other}")
                plain[one % size] = f"Z{other}"
            case "remove" if size:
                editor = editor.remove(one % size + 1)
                del plain[one % size]
            case "move" if size:
                editor = editor.move(one % size + 1, other % size + 1)
                plain.insert(other % size, plain.pop(one % size))
            case "clear":
                editor, plain = editor.clear(), []
            case "undo":
                editor = editor.undo()
                if before:
                    after.append(plain)
                    plain = before.pop()
                continue
            case "redo":
                editor = editor.redo()
                if after:
                    before.append(plain)
                    plain = after.pop()
                continue
        if editor.done and (len(editor.done) > len(before)):
            before.append(old)
            after = []
        shows = [line.sent + line.printed[line.printed == line.sent :] for line in editor.lines]
        assert shows == plain
    while editor.done:
        editor = editor.undo()
    assert editor.lines == ()


@pytest.mark.parametrize(
    ("do", "says"),
    [
        (lambda e: e.change(4, note="x"), "no line 4. Lines are numbered from 1 to 3"),
        (lambda e: e.remove(0), "no line 0"),
        (lambda e: e.remove(3, 2), "no line 4"),
        (lambda e: e.move(1, 9), "no line 9"),
        (lambda e: e.write(" \t", ""), "nothing is written down"),
        (lambda e: e.write("A", "A", oil="hot"), "oil: 'hot' is none of"),
        (lambda e: e.change(1, note="x" * 5000), "note: longer than"),
        (lambda e: e.write("A" * 3000, "A"), "a line has 3000 characters"),
        (lambda e: e.paste(" \n\n"), "nothing in what was pasted"),
        (lambda e: e.write("A" * 20_000, "nothing"), "at most 20000 lines"),
    ],
)
def test_what_cannot_be_done_is_refused_with_a_mend_and_changes_nothing(do, says):
    editor = EMPTY.write("ABC", "ABC")
    with pytest.raises(LogRefused, match=says) as refused:
        do(editor)
    assert refused.value.mend
    assert seen(editor) == "A/A B/B C/C"


# -- pasting ---


@pytest.mark.parametrize(
    ("text", "log"),
    [
        ("THE\nTXE", "T/T H/X E/E"),
        ("AB\nAC\n\nD E\nD F\n", "A/A B/C D/D SP/  E/F"),
        ("SO\nSO", "S/S O/O"),
        ("A\tB\nCR\tnothing\nAB\tAC", "A/B CR/nothing A/A B/C"),
        ("A,B\nB,B or 8", "A/B B/B or 8"),
        ("A;nothing", "A/nothing"),
        ("AX, B\nAX, C", "A/A X/X ,/, SP/  B/C"),
        ("sent;printed;oil\nA;B;cold", "A/B"),
        ("AB  \nAC", "A/A B/C SP/  SP/ "),
    ],
)
def test_lines_are_pasted_in_pairs_or_columns_and_come_after_what_was_there(text, log):
    editor, pasted = EMPTY.write("Z", "Z").paste(text)
    assert seen(editor) == f"Z/Z {log}"
    assert pasted.taken == len(editor) - 1 and not pasted.refused
    assert editor.undo().lines == EMPTY.write("Z", "Z").lines, "a paste is one step"


def test_of_a_paste_each_pair_is_taken_whole_or_refused_whole_with_its_line():
    editor, pasted = EMPTY.paste("ABC\nABC\nABCDEFGHI\nXY\nDE\nDE\nFGH")
    assert seen(editor) == "A/A B/B C/C D/D E/E"
    assert pasted.says == "5 entries taken, 2 pairs refused."
    assert [(one.line, bool(one.mend)) for one in pasted.refused] == [(3, True), (7, True)]


def test_two_texts_are_pasted_line_under_line():
    editor, pasted = EMPTY.paste("AB\nCD\nE", "AB\nCX")
    assert seen(editor) == "A/A B/B C/C D/X"
    assert [problem.line for problem in pasted.refused] == [3]


def test_a_pasted_csv_with_a_wrong_row_is_refused_whole_with_its_line():
    editor, pasted = EMPTY.paste("sent,printed\nA,A\nB,BB\n")
    assert editor.lines == () and [problem.line for problem in pasted.refused] == [3]


# -- files ---


def test_a_log_is_saved_as_csv_and_nothing_typed_is_left_out():
    editor = (
        EMPTY.write("A", "B or 8", note="twice").write("B", "½").write("é", "E").write("C", "C")
    )
    again = parse_logbook(editor.csv()).entries
    assert again == (
        Entry(65, "B or 8", note="twice"),
        Entry(66, "unseen", note="questioned: B sent, ½ printed"),
        Entry(67, "C", gap="yes", note="left out: é sent, E printed"),
    )
    assert LogEditor(MACHINE).load(parse_logbook(editor.csv())).log.entries == again


def test_a_log_of_another_machine_is_not_taken_for_one_of_this():
    log = parse_logbook("# machine: ebbing\nsent,printed\nA,A\n")
    with pytest.raises(LogRefused, match="taken on ebbing, not on saltmere"):
        EMPTY.load(log)
