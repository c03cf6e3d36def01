"""Two clicks at once: a notebook may answer them in two threads."""

import threading
import time
from pathlib import Path

import pytest

import mechlogic
from mechlogic.bench import pages
from mechlogic.widgets import log_bench, oil_and_time
from mechlogic.widgets.log_bench import LogBench
from mechlogic.widgets.log_sheet import LogSheet
from mechlogic.widgets.oil_and_time import OilAndTime
from mechlogic.widgets.questions import choice
from mechlogic.widgets.turns import in_turn

ENDS = pytest.mark.parametrize(
    ("error", "said"), [(ZeroDivisionError, "failed"), (KeyboardInterrupt, "interrupted")]
)
LOGS = Path(__file__).parents[1] / "workbooks" / "logs"


def test_what_is_marked_is_done_one_after_the_other_and_may_set_off_itself():
    seen = []

    @in_turn
    def count(number, depth=1):
        seen.append((number, "begins"))
        time.sleep(0.01)
        if depth:
            count(number, depth - 1)
        seen.append((number, "ends"))

    threads = [threading.Thread(target=count, args=(number,)) for number in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    turns = [seen[i : i + 4] for i in range(0, 16, 4)]
    assert [what for turn in turns for _, what in turn] == ["begins", "begins", "ends", "ends"] * 4
    assert all(len({number for number, _ in turn}) == 1 for turn in turns)


@pytest.mark.parametrize("chosen", ["cold_morning.csv", "three_letters.csv"])
def test_a_log_chosen_while_a_machine_is_put_on_the_bench_has_the_page_to_itself(
    chosen, monkeypatch
):
    saltmere = mechlogic.load("saltmere")
    bench = LogBench(saltmere, (), storage=None)
    log = mechlogic.read_logbook(LOGS / chosen, saltmere.code)
    entered, real = threading.Event(), log_bench.diagnose

    def slow(machine, shown, hypotheses=None):
        if not shown.entries:  # the empty log of the machine that is just put on
            entered.set()
            time.sleep(0.2)
        return real(machine, shown, hypotheses)

    monkeypatch.setattr(log_bench, "diagnose", slow)
    putting = threading.Thread(target=bench.put_on, args=(saltmere,))
    putting.start()
    assert entered.wait(60)
    bench.show(log)
    putting.join()
    assert bench.logbook.entries == log.entries == bench.diagnosis.evidence.log.entries
    assert pages.log_summary(bench.diagnosis) in bench._summary.value


@ENDS
def test_a_callback_that_does_not_come_to_its_end_says_so_and_the_next_one_works(
    error, said, monkeypatch
):
    bench = LogBench(mechlogic.load("wind"), (), storage=None)
    real = log_bench.diagnose

    def fails(*_, **__):
        raise error("<no>")

    log = mechlogic.from_lines("NE", "EE", bench.machine.code)
    monkeypatch.setattr(log_bench, "diagnose", fails)
    with pytest.raises(error):
        bench.show(log)
    assert said in bench._trouble.value and "<no>" not in bench._trouble.value
    monkeypatch.setattr(log_bench, "diagnose", real)
    bench.show(log)
    assert not bench._trouble.value and bench.diagnosis.suspects


@ENDS
def test_a_question_says_that_it_could_not_be_checked_and_can_be_answered_again(error, said):
    broken = False

    def check(answer):
        if broken:
            raise error
        return answer == "a"

    question = choice("Which?", ["a", "b"], check)
    broken = True
    with pytest.raises(error):
        question._asked(question, {"ask": "check", "answer": "a"}, [])
    assert said in question.trouble and question.state == "open" and not question.verdict
    broken = False
    question._asked(question, {"ask": "check", "answer": "a"}, [])
    assert question.state == "right" and not question.trouble


@ENDS
def test_a_slider_whose_picture_fails_says_so_and_the_next_one_is_drawn(error, said, monkeypatch):
    shown = OilAndTime(mechlogic.load("saltmere"), "middle_stop")
    before = shown.says

    def fails(*_):
        raise error

    with monkeypatch.context() as broken, pytest.raises(error):
        broken.setattr(oil_and_time, "stroke", fails)
        shown.temperature_degc = 5.0
    assert said in shown.says
    shown.temperature_degc = 20.0
    assert shown.says == before


def test_a_log_sheet_whose_entry_fails_says_so_and_takes_the_next():
    broken = [True]

    def keep(editor):
        if broken[0]:
            raise ZeroDivisionError
        return editor, ""

    sheet = LogSheet(
        LogBench(mechlogic.load("wind"), (), storage=None).sheet.editor, keep, lambda: None, str
    )
    batch = {
        "client": "c",
        "ops": [{"do": "write", "sent": "N", "printed": "E", "driven": "speed", "gap": ""}],
    }
    with pytest.raises(ZeroDivisionError):
        sheet._told(sheet, {**batch, "seq": 1}, [])
    assert "failed" in sheet.state["says"] and sheet.acked["seq"] == 1 and not sheet.editor.lines
    broken[0] = False
    sheet._told(sheet, {**batch, "seq": 2}, [])
    assert len(sheet.editor.lines) == 1 and "failed" not in sheet.state["says"]
