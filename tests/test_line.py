"""Characters over a line: framing against the start-stop standards, and a machine on a real port.

The ports are pseudo-terminals of the system: everything but the adapter and the wire is real.
"""

import contextlib
import errno
import json
import os
import random
import signal
import subprocess
import sys
import time

import pytest

import mechlogic
from mechlogic.acceptance.testcards import typeable
from mechlogic.line.framing import Framing, LineError, framing_for, keyed
from mechlogic.line.log import heard_as_sent, keyboard_log, log_of, timed_log
from mechlogic.line.port import SerialPort, _refusal, unmarked
from mechlogic.line.session import Errand, Heard, LineSession, Sent, sent_before
from mechlogic.line.simulated import SimulatedMachine
from mechlogic.model.codes import FIVE_UNIT, SEVEN_UNIT
from mechlogic.model.faults import single_faults
from mechlogic.model.steps import good_text

pty = pytest.importorskip("pty", reason="this system has no pseudo-terminals")

FAST = 9600.0  # baud: the same machine, a hundred times faster


@pytest.fixture
def saltmere():
    return mechlogic.load("saltmere")


class Loose:
    """A pseudo-terminal with nothing at its other end but the test."""

    def __init__(self) -> None:
        import tty

        self.end, self.other = pty.openpty()
        tty.setraw(self.other)
        self.name = os.ttyname(self.other)

    def close(self) -> None:
        os.close(self.end)
        os.close(self.other)


@pytest.fixture
def loose():
    found = Loose()
    yield found
    with contextlib.suppress(OSError):  # the test may have closed it
        found.close()


# -- framing ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("framing", "character_ms", "source"),
    [
        (Framing(50, 5, stop_units=1.5), 150.0, "ITU-T S.3: 50 baud, 7.5 units (from memory)"),
        (Framing(45.45, 5, stop_units=1.42), 163.3, "common practice, no source"),
        (Framing(100, 7, "even", 1), 100.0, "ISO 1177 (from memory): start, 7 bits, parity, stop"),
        (Framing(80, 7, "none", 2), 125.0, "no source: 10 units of 12.5 ms"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_a_character_lasts_as_long_as_the_standards_say(framing, character_ms, source):
    assert framing.character_s * 1000 == pytest.approx(character_ms, abs=0.05)
    elements = framing.elements(0b10101)
    assert sum(ms for _, ms in elements) == pytest.approx(character_ms, abs=0.05)
    (start, *bits, stop) = elements
    assert start == (False, pytest.approx(1000 / framing.baud))
    assert stop == (True, pytest.approx(framing.stop_units * 1000 / framing.baud))
    assert {ms for _, ms in bits} == {start[1]}


def test_bits_go_out_lowest_first_and_a_set_bit_is_mark():
    # The letter Y of the five-unit code is 1 0 1 0 1 (ITU-T S.1, from memory).
    y = Framing(50, 5).elements(FIVE_UNIT.code("Y"))
    assert [mark for mark, _ in y] == [False, True, False, True, False, True, True]


def test_parity_makes_the_number_of_marks_even_on_a_start_stop_line():
    # ISO 1177 and ITU-T V.4: even parity on start-stop lines.
    for code in range(128):
        marks = [mark for mark, _ in Framing(100, 7, "even", 1).elements(code)[1:-1]]
        assert sum(marks) % 2 == 0
        assert sum(mark << n for n, mark in enumerate(marks[:7])) == code


@pytest.mark.parametrize("inverted", [False, True])
@pytest.mark.parametrize("parity", ["none", "even", "odd"])
@pytest.mark.parametrize("bits", [5, 6, 7, 8])
def test_what_goes_out_comes_back_and_one_wrong_bit_is_noticed(bits, parity, inverted):
    framing = Framing(75, bits, parity, 2, inverted)
    for code in range(1 << bits):
        word = framing.word(code)
        assert framing.code_of(word) == (code, True)
        if parity != "none":
            for bit in range(bits + 1):
                assert framing.code_of(word ^ 1 << bit)[1] is False


@pytest.mark.parametrize(
    "wrong",
    [{"baud": 0.5}, {"bits": 9}, {"parity": "mark"}, {"stop_units": 0.5}, {"baud": float("nan")}],
)
def test_a_line_that_cannot_be_is_refused_with_what_to_choose(wrong):
    with pytest.raises(LineError, match=r"Choose|Give"):
        Framing(**({"baud": 50, "bits": 5} | wrong))


@pytest.mark.parametrize("name", ["saltmere", "ebbing", "ness", "wind"])
def test_a_text_is_keyed_so_that_a_good_machine_prints_it(name):
    machine = mechlogic.load(name)
    # Every character that a good machine can print at rest, and in figures where it has them.
    type_ = sorted({seen for case in machine.cases.values() for seen in case if len(seen) == 1})
    text = "".join(type_ + type_[::-1])
    printed = [seen for seen in good_text(machine, keyed(machine, text)) if len(seen) == 1]
    assert "".join(printed).replace(" ", "") == text.replace(" ", "")


def test_a_text_begins_with_a_shift_where_nobody_knows_how_the_shift_stands():
    ebbing = mechlogic.load("ebbing")
    assert [FIVE_UNIT.name(code) for code in keyed(ebbing, "A1")] == ["LTRS", "A", "FIGS", "Q"]


def test_what_is_not_among_the_type_is_refused():
    with pytest.raises(LineError, match=r"not among this machine.s type"):
        keyed(mechlogic.load("ebbing"), "AB%")


# -- sending ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["saltmere", "ebbing", "ness", "wind", "sluice"])
def test_faults_of_every_machine_are_found_over_the_line(name):
    machine = mechlogic.load(name)
    usual = framing_for(machine)
    framing = Framing(FAST, usual.bits, usual.parity, usual.stop_units)
    rng = random.Random(5)
    shown = [f for f in single_faults(machine.mechanism) if f.mode != "disconnected"]
    codes = typeable(machine)
    for fault in rng.sample(shown, 10):
        simulated = SimulatedMachine(machine, (fault,), framing)
        session = LineSession(SerialPort(simulated.name, framing), framing)
        errand = session.send(Errand(rng.sample(codes, len(codes)) + rng.choices(codes, k=60)))
        assert errand.wait(20)
        assert errand.error is None
        _until(lambda sim=simulated, sent=errand.sent: len(sim.prints) == len(sent))
        log = timed_log(machine, framing, errand.sent, simulated.prints)
        session.close()
        simulated.close()
        found = mechlogic.diagnose(machine, log)
        suspect = found.find((fault,))
        assert suspect is not None and not suspect.misfits, fault
        assert suspect in found.considered[:5], fault


def test_a_slow_part_shows_in_a_burst_and_not_after_pauses(saltmere):
    fault = mechlogic.Fault("middle_stop", "slow to return")
    framing = Framing(FAST, 7, framing_for(saltmere).parity, 2)
    printed = {}
    for pause_s in (0.0, 1.5 * framing.home_again_s):
        simulated = SimulatedMachine(saltmere, (fault,), framing)
        session = LineSession(SerialPort(simulated.name, framing), framing)
        errand = session.send(Errand([*keyed(saltmere, "TIDE 0412 BERTH 4")], pause_s))
        assert errand.wait(20)
        _until(lambda sim=simulated, sent=errand.sent: len(sim.prints) == len(sent))
        printed[pause_s] = simulated.prints == good_text(saltmere, errand.codes)
        log = timed_log(saltmere, framing, errand.sent, simulated.prints)
        assert {entry.driven for entry in log.entries[1:]} == {"hand" if pause_s else "speed"}
        session.close()
        simulated.close()
    assert list(printed.values()) == [False, True]


def test_an_abort_holds_the_next_character_back(loose):
    framing = Framing(50, 5)
    session = LineSession(SerialPort(loose.name, framing), framing)
    errand = session.send(Errand([1] * 50))
    _until(lambda: len(errand.sent) == 2)
    errand.stop()
    assert errand.wait(1)
    assert len(errand.sent) <= 3
    assert len(os.read(loose.end, 100)) == len(errand.sent)
    session.close()


def test_nothing_is_sent_twice(loose, tmp_path):
    framing = Framing(FAST, 5)
    session = LineSession(SerialPort(loose.name, framing), framing, tmp_path / "sent")
    errand = session.send(Errand([1, 2]))
    errand.wait(5)
    with pytest.raises(LineError, match="sent before"):
        session.send(errand)
    assert os.read(loose.end, 100) == b"\1\2"
    session.close()
    # A session that is opened anew reads what its file says and sends nothing of it.
    again = LineSession(SerialPort(loose.name, framing), framing, tmp_path / "sent")
    sent, asked = sent_before(tmp_path / "sent")
    assert ([each.code for each in sent], asked) == ([1, 2], 2)
    os.set_blocking(loose.end, False)
    with pytest.raises(BlockingIOError):
        os.read(loose.end, 100)
    again.close()


KILLED = """
import sys
from mechlogic.line.framing import Framing
from mechlogic.line.port import SerialPort
from mechlogic.line.session import Errand, LineSession
framing = Framing(1000, 5)
LineSession(SerialPort(sys.argv[1], framing), framing, sys.argv[2]).send(Errand([7] * 500)).wait()
"""


def test_a_killed_program_has_noted_every_character_that_went_out(loose, tmp_path):
    file = tmp_path / "sent"
    program = subprocess.Popen([sys.executable, "-c", KILLED, loose.name, str(file)])
    received = b""
    while len(received) < 40:
        received += os.read(loose.end, 100)
    program.send_signal(signal.SIGKILL)
    program.wait()
    os.set_blocking(loose.end, False)
    with contextlib.suppress(BlockingIOError):
        received += os.read(loose.end, 1000)
    sent, asked = sent_before(file)
    sure = [each for each in sent if each.sure]
    assert asked == 500
    assert len(sure) <= len(received) <= len(sent) <= len(sure) + 1


def test_a_line_of_the_file_that_is_cut_off_counts_as_not_written(tmp_path):
    file = tmp_path / "sent"
    events = [{"asked": [1, 2]}, {"sending": 0, "code": 1, "at_s": 0.0}, {"sent": 0}]
    file.write_text("\n".join(map(json.dumps, events)) + '\n{"sending": 1, "co')
    assert sent_before(file) == ((Sent(1, 0.0),), 2)


# -- what goes wrong with a port -------------------------------------------------------------------


def test_a_port_that_vanishes_ends_the_errand_and_says_so(loose):
    framing = Framing(200, 5)
    session = LineSession(SerialPort(loose.name, framing), framing)
    errand = session.send(Errand([1] * 100))
    _until(lambda: len(errand.sent) >= 2)
    loose.close()
    assert errand.wait(6)
    assert "has gone" in str(errand.error)
    assert len(errand.sent) < 100
    with pytest.raises(LineError):
        session.send(Errand([1]))


def test_a_second_program_on_the_port_is_refused(loose):
    first = SerialPort(loose.name, Framing(50, 5))
    with pytest.raises(LineError, match="another program"):
        SerialPort(loose.name, Framing(50, 5))
    first.close()


def test_a_port_that_is_not_there_is_named():
    with pytest.raises(LineError, match=r"there is no port /dev/nothing_here"):
        SerialPort("/dev/nothing_here", Framing(50, 5))


def test_a_port_that_one_may_not_use_says_how_to_get_the_right():
    # The tests may run as root, whom nothing is refused; so the system's own error is made here.
    refused = _refusal("/dev/ttyS0", OSError(errno.EACCES, "Permission denied"))
    assert "you may not use /dev/ttyS0" in str(refused)
    assert "group" in refused.mend


def test_a_full_buffer_ends_the_errand_and_the_character_in_doubt_is_marked(loose, monkeypatch):
    serial = pytest.importorskip("serial")
    monkeypatch.setattr("mechlogic.line.port.STUCK_S", 0.1)
    framing = Framing(FAST, 8, stop_units=1)
    port = SerialPort(loose.name, framing)
    for piece in (b"x" * 100, b"x"):
        with pytest.raises(serial.SerialTimeoutException):
            while True:
                port._serial.write(piece)
    session = LineSession(port, framing)
    errand = session.send(Errand([1] * 20))
    assert errand.wait(20)
    assert "takes no more characters" in str(errand.error)
    os.set_blocking(loose.end, False)
    got = b""
    with contextlib.suppress(BlockingIOError):
        while True:
            got += os.read(loose.end, 10_000)
            time.sleep(0.01)
    (last,) = errand.sent
    assert not last.sure  # the port may have taken it before it gave up, or not
    assert got.count(b"\1") <= 1
    session.close()


def test_what_the_port_does_instead_is_said(loose):
    port = SerialPort(loose.name, Framing(45.45, 5, stop_units=1.42))
    said = " ".join(port.instead)
    assert "45 in place of 45.45, -1.0%" in said
    assert "1.5 units in place of 1.42" in said
    port.close()


def test_marked_bytes_are_characters_with_a_right_or_a_wrong_stop():
    # POSIX termios, PARMRK: \377 \0 X is X with a framing or parity error, \377 \377 is \377.
    assert unmarked(b"A\xff\xffB\xff\x00C") == (
        ((65, True), (255, True), (66, True), (67, False)),
        b"",
    )
    assert unmarked(b"A\xff") == (((65, True),), b"\xff")
    assert unmarked(b"\xff\x00") == ((), b"\xff\x00")


# -- listening -------------------------------------------------------------------------------------


def test_an_echo_is_told_apart_from_the_keyboard(loose):
    framing = Framing(100, 5)
    session = LineSession(SerialPort(loose.name, framing), framing, echo=True)
    errand = session.send(Errand([1, 2, 3]))
    for wanted in (1, 2, 3):
        (word,) = os.read(loose.end, 1)
        assert word == wanted
        os.write(loose.end, bytes([word]))  # the loop gives it back
        if word == 2:
            os.write(loose.end, bytes([21]))  # and somebody presses a key
    assert errand.wait(5)
    _until(lambda: session.heard)
    time.sleep(0.2)
    assert [each.code for each in session.heard] == [21]
    session.close()


def test_a_keyboard_is_diagnosed_from_what_it_sends():
    desk = mechlogic.load("desk")
    usual = framing_for(desk)
    framing = Framing(FAST, usual.bits, usual.parity, usual.stop_units)
    fault = next(f for f in single_faults(desk.mechanism) if f.mode == "open contact")
    simulated = SimulatedMachine(desk, (fault,), framing)
    session = LineSession(SerialPort(simulated.name, framing), framing)
    keys = [code for code in range(len(desk.code)) if desk.good_print(code) != "nothing"] * 2
    simulated.press(keys, 0.002)
    _until(lambda: len(session.heard) == len(keys))
    log = keyboard_log(desk, keys, session.heard)
    session.close()
    simulated.close()
    assert (fault,) in mechlogic.diagnose(desk, log).suspects[0].members


def test_garbage_is_heard_with_what_is_wrong_about_it(loose):
    framing = Framing(100, 7, "even", 1)
    session = LineSession(SerialPort(loose.name, framing), framing)
    os.write(loose.end, bytes([0x41 | 0x80]))  # A with the wrong parity bit
    _until(lambda: session.heard)
    (heard,) = session.heard
    assert (heard.code, heard.parity_right) == (SEVEN_UNIT.code("A"), False)
    session.close()


# -- what the log says -----------------------------------------------------------------------------


def test_the_paper_is_laid_under_what_was_sent():
    ebbing = mechlogic.load("ebbing")
    framing = framing_for(ebbing)
    sent = [Sent(code, n * framing.character_s) for n, code in enumerate(keyed(ebbing, "AB 12"))]
    log = log_of(ebbing, framing, sent, "A~ 1")
    seen = [(FIVE_UNIT.name(entry.sent), entry.printed) for entry in log]
    assert seen[1:4] == [("A", "A"), ("B", "unreadable"), ("SP", "nothing")]
    assert seen[-1] == ("W", "nothing")


def test_what_a_shift_should_not_have_printed_is_found_on_the_paper():
    ebbing = mechlogic.load("ebbing")
    framing = framing_for(ebbing)
    sent = [Sent(code, n * framing.character_s) for n, code in enumerate(keyed(ebbing, "AB 12"))]
    # LTRS printed a Z, and FIGS an H: both stand on the paper beside what was wanted.
    seen = [entry.printed for entry in log_of(ebbing, framing, sent, "ZAB H12")]
    assert seen == ["Z", "A", "B", "nothing", "H", "1", "2"]


def test_the_simulated_paper_is_read_back_as_what_was_printed(saltmere):
    framing = Framing(FAST, 7, framing_for(saltmere).parity, 2)
    for fault in random.Random(3).sample(single_faults(saltmere.mechanism), 5):
        simulated = SimulatedMachine(saltmere, (fault,), framing)
        session = LineSession(SerialPort(simulated.name, framing), framing)
        errand = session.send(Errand(saltmere.printing_codes))
        assert errand.wait(20)
        _until(lambda sim=simulated, sent=errand.sent: len(sim.prints) == len(sent))
        log = log_of(saltmere, framing, errand.sent, "".join(simulated.paper))
        session.close()
        simulated.close()
        assert [entry.printed for entry in log] == simulated.prints


def test_more_on_the_paper_than_was_sent_is_refused(saltmere):
    sent = [Sent(code, n * 0.1) for n, code in enumerate(keyed(saltmere, "ABC"))]
    with pytest.raises(LineError, match="4 characters, and 3 were sent"):
        log_of(saltmere, framing_for(saltmere), sent, "ABCD")


def test_all_right_means_what_a_good_machine_prints(saltmere):
    codes = keyed(saltmere, "TIDE 0412")
    sent = [Sent(code, n * 0.1) for n, code in enumerate(codes)]
    log = log_of(saltmere, framing_for(saltmere), sent, None)
    assert [entry.printed for entry in log] == good_text(saltmere, codes)


def test_what_may_not_have_gone_out_is_no_evidence(saltmere):
    sent = [Sent(65, 0.0), Sent(66, 0.1, sure=False)]
    assert len(log_of(saltmere, framing_for(saltmere), sent, None)) == 1


def test_keys_that_were_heard_count_from_the_first(saltmere):
    heard = [Heard(65, 12.0), Heard(66, 14.0)]
    assert heard_as_sent(heard) == (Sent(65, 0.0), Sent(66, 2.0))


def _until(true, seconds=10.0):
    """Wait until something has come about in another thread."""
    end = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < end, "it did not come about"
        time.sleep(0.005)
