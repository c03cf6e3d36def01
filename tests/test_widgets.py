"""The live picture's tables against the brute force, and the widgets as far as Python sees them."""

import base64
import json
import re
import struct
from dataclasses import replace
from itertools import product
from pathlib import Path

import pytest
from brute_force import BY_CHANCE, Printer, read
from hypothesis import given
from hypothesis import strategies as st
from strategies import descriptions, fault_sets, few, library, machine_of
from traitlets import TraitError

import mechlogic
from mechlogic import Fault, FaultError, machines, single_faults
from mechlogic.model.codes import Setting
from mechlogic.model.mechanism import Mechanism
from mechlogic.widgets import FaultBench, MachineView, choice, short_answer
from mechlogic.widgets import frames as frames_module
from mechlogic.widgets.fault_bench import knowledge
from mechlogic.widgets.frames import MOST_WORLDS, NO_CELL, frames

SALTMERE = mechlogic.load("saltmere")
PLAIN_SALTMERE = Printer(read(machines.FOLDER / "saltmere.toml"))
WIDGETS = Path(frames_module.__file__).parent


class Shown:
    """Frames as the browser reads them, from JSON."""

    def __init__(self, frames, glyphs=()):
        self.frames = json.loads(json.dumps(frames))
        self.columns = [self._column(text) for text in self.frames["columns"]]
        self.glyphs = glyphs

    @staticmethod
    def _column(text):
        raw = base64.b64decode(text)
        return struct.unpack(f"<{len(raw) // 2}H", raw)

    def place(self, world, part, setting):
        return self.columns[world["places"][self.frames["parts"].index(part)]][setting]

    def says(self, world, part, setting):
        column = world["says"][self.frames["parts"].index(part)]
        return self.frames["texts"][self.columns[column][setting]]

    def text(self, world, name, setting):
        return self.frames["texts"][self.number(world, name, setting)]

    def number(self, world, name, setting):
        return self.columns[world[name]][setting]

    def print_out(self, settings):
        """What comes out at speed, starting from a machine that stood idle; chance 0."""
        memory, printed = self.frames["start"], []
        for setting in settings:
            world = self.frames["speed"][memory * self.frames["chances"]]
            printed.append(self.text(world, "printed", setting))
            memory = self.number(world, "next", setting)
        return printed


def plain(fault):
    return (fault.part, fault.mode, fault.input)


def assert_shown_as_followed(machine, printer, faults):
    """Every world of the frames, at every setting, is what the brute force finds there."""
    shown = Shown(frames(machine, library(faults)), machine.output.glyphs)
    doubtful = [
        (follower, part)
        for part, mode, _ in faults
        if mode in BY_CHANCE
        for follower in printer.followers(part)
    ]
    chances = list(product((False, True), repeat=len(doubtful)))
    assert shown.frames["chances"] == len(chances)
    remembering = printer.remembering(faults)
    memories = list(product(*(printer.places[part] for part in remembering)))
    assert memories[shown.frames["start"]] == tuple(printer.rest[part] for part in remembering)
    for by_hand, worlds in ((False, shown.frames["speed"]), (True, shown.frames["hand"])):
        assert len(worlds) == len(memories) * len(chances)
        for world, (memory, chance) in zip(worlds, product(memories, chances), strict=True):
            remembered = dict(zip(remembering, memory, strict=True))
            finds = dict(zip(doubtful, chance, strict=True))
            for setting in range(1 << machine.units):
                followed = printer.follow(setting, faults, by_hand, remembered, finds)
                assert_stands(shown, world, setting, printer, followed)
                after = memories[shown.number(world, "next", setting)]
                assert after == printer.remembered_after(remembering, faults, *followed[:2])
    latched = list(product(*(printer.places[part] for part in printer.latches)))
    assert len(shown.frames["healthy"]) == len(latched)
    for world, memory in zip(shown.frames["healthy"], latched, strict=True):
        remembered = dict(zip(printer.latches, memory, strict=True))
        for setting in range(1 << machine.units):
            followed = printer.follow(setting, remembered=remembered)
            assert_stands(shown, world, setting, printer, followed)
            after = latched[shown.number(world, "next", setting)]
            assert after == tuple(followed[1][part] for part in printer.latches)


def assert_stands(shown, world, setting, printer, followed):
    """One world at one setting is as followed; a cell that is chosen is the one that is seen."""
    stands, _, printed = followed
    for part in printer.order:
        assert printer.places[part][shown.place(world, part, setting)] == stands[part]
    assert shown.text(world, "printed", setting) == printed
    cell = shown.number(world, "cell", setting)
    if cell != NO_CELL and len(printed) == 1:
        assert shown.glyphs[cell] == printed
    if len(printed) == 1:
        assert cell != NO_CELL


# -- frames ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", machines.names())
def test_a_good_machine_is_shown_as_it_is_followed_part_by_part(name):
    printer = Printer(read(machines.FOLDER / f"{name}.toml"))
    assert_shown_as_followed(machines.load(name), printer, [])


@pytest.mark.parametrize(
    "faults",
    [
        [("lift", "slow to return", "")],
        [("middle_stop", "slow to operate", ""), ("slide3", "slow to return", "")],
        [("slide3", "half-way", "")],
        [("hammer", "half-way", ""), ("slide1", "slow to return", "")],
        [("middle_stop", "disconnected", "slide1"), ("half_turn", "stuck operated", "")],
    ],
    ids=str,
)
def test_a_faulty_saltmere_is_shown_as_it_is_followed_part_by_part(faults):
    assert_shown_as_followed(SALTMERE, PLAIN_SALTMERE, sorted(faults))


@few
@given(st.data())
def test_a_random_machine_with_random_faults_is_shown_as_it_is_followed(data):
    description = data.draw(descriptions())
    machine, printer = machine_of(description), Printer(description)
    faults = data.draw(fault_sets(printer))
    try:
        frames(machine, library(faults))
    except FaultError as error:
        assert "cases open" in str(error)
    else:
        assert_shown_as_followed(machine, printer, faults)


def test_every_single_fault_of_saltmere_can_be_shown():
    for fault in single_faults(SALTMERE.mechanism):
        shown = Shown(frames(SALTMERE, [fault]))
        assert shown.frames["faulty"] == [fault.part]
        (said,) = shown.frames["faults"]
        assert SALTMERE.label(fault.part) in said.lower() and "{" not in said


def test_faults_that_leave_too_much_open_are_refused_with_a_mend():
    sluggish = [Fault(part, "slow to return") for part in ("lift", "lift_rack", "turn_rack")]
    with pytest.raises(FaultError, match=rf"at most {MOST_WORLDS}.*Take one of the faults away"):
        frames(SALTMERE, [*sluggish, Fault("cam_rack", "slow to return")])


def test_a_machine_with_every_lever_half_way_is_refused_before_its_cases_are_listed():
    half_way = [fault for fault in single_faults(SALTMERE.mechanism) if fault.mode == "half-way"]
    assert len(half_way) > 20
    with pytest.raises(FaultError, match="cases open"):
        frames(SALTMERE, half_way)


def test_a_fault_that_the_machine_cannot_have_is_refused():
    with pytest.raises(FaultError, match="Did you mean middle_stop"):
        frames(SALTMERE, [Fault("midle_stop", "stuck at rest")])


def test_the_sentences_about_a_good_machine_are_those_of_explain():
    shown = Shown(frames(SALTMERE))
    for setting in (0, 65, 0b101_0110, 127):
        for step in mechlogic.explain(SALTMERE, Setting(setting)):
            if step.part == "print":
                assert shown.text(shown.frames["healthy"][0], "tells", setting) == step.says
            else:
                assert shown.says(shown.frames["healthy"][0], step.part, setting) == step.says


def test_the_sentence_about_a_faulty_part_says_what_is_wrong_and_others_do_not():
    shown = Shown(frames(SALTMERE, [Fault("middle_stop", "disconnected", "slide1")]))
    (world,) = shown.frames["speed"]
    setting = SALTMERE.as_set(SALTMERE.code.parse("A"))
    assert "no longer feels slide 1" in shown.says(world, "middle_stop", setting)
    assert "no longer feels" not in shown.says(world, "lift_rack", setting)


def test_where_chance_decides_every_outcome_is_named():
    shown = Shown(frames(SALTMERE, [Fault("slide3", "half-way")]))
    for setting in range(128):
        printed = {shown.text(world, "printed", setting) for world in shown.frames["speed"]}
        (said,) = {shown.text(world, "may", setting) for world in shown.frames["speed"]}
        if len(printed) == 1:
            assert said == ""
        else:
            named = set(re.findall(r"“(.)”|\b(nothing|unreadable)\b", said))
            assert {one or other for one, other in named} == printed


def test_a_slow_part_makes_the_print_depend_on_the_character_before():
    shown = Shown(frames(SALTMERE, [Fault("left_stop", "slow to return")]))
    send = shown.frames["send"]
    # Sent twice the same character tells nothing; what was printed before it does.
    after = {
        before: shown.print_out([send[before], send["Q"]])[1] for before in shown.frames["send"]
    }
    assert after["Q"] == "Q"
    assert set(after.values()) == {"Q", "U"}


def test_every_character_is_sent_with_even_parity():
    # ISO 1177, ITU-T V.4: even parity on start-stop lines.
    send = frames(replace(SALTMERE, parity="even"))["send"]
    assert set(send) == {chr(code) for code in range(0x20, 0x7F)}
    for character, setting in send.items():
        assert setting % 128 == ord(character)
        assert setting.bit_count() % 2 == 0


def test_a_setting_with_the_wrong_parity_is_called_so():
    settings = frames(replace(SALTMERE, parity="even"))["settings"]
    wrong = [n for n, said in enumerate(settings) if "wrong parity" in said]
    assert wrong == [n for n in range(256) if n.bit_count() % 2]


def test_labels_with_markup_in_them_stay_text():
    part = SALTMERE.mechanism["middle_stop"]
    parts = [
        p if p is not part else replace(p, label="<img src=x onerror=alert(1)> & lever")
        for p in SALTMERE.mechanism
    ]
    machine = replace(SALTMERE, mechanism=Mechanism(parts), title="<b>Saltmere</b>")
    shown = frames(machine)
    assert shown["title"] == "<b>Saltmere</b>"  # set as text by the front end
    source = (WIDGETS / "front_end.js").read_text(encoding="utf-8")
    assert re.findall(r"(\w+)\.innerHTML = data\.(\w+);", source) == [
        ("picture", "svg"),
        ("wheel", "wheel"),
    ]
    for script in WIDGETS.glob("*.js"):
        text = script.read_text(encoding="utf-8")
        drawn_by_python = {"front_end.js": 2, "oil_and_time.js": 1}.get(script.name, 0)
        assert text.count("innerHTML") == drawn_by_python
        for word in ("outerHTML", "insertAdjacentHTML", "document.write", "eval(", "Function("):
            assert word not in text


# -- questions -------------------------------------------------------------------------------------


def ask(question, **content):
    """A message as it comes from the browser."""
    question._handle_custom_msg(content, [])


def test_a_right_answer_is_explained_and_a_wrong_one_is_not():
    question = choice("Which?", ["AND", "OR"], "OR", because="Either slide pushes.")
    ask(question, ask="check", answer="AND")
    assert (question.state, question.verdict, question.because) == ("wrong", "Not yet.", "")
    ask(question, ask="check", answer="OR")
    assert (question.state, question.verdict) == ("right", "Right.")
    assert question.because == "Either slide pushes."


def test_hints_come_one_by_one_and_then_the_answer_can_be_shown():
    question = short_answer("How far?", lambda a: float(a) == 5, ["Look.", "Measure."], "5 mm.")
    seen = []
    for _ in range(3):
        ask(question, ask="hint")
        seen.append((question.hints, question.hints_left))
    assert seen == [(["Look."], 1), (["Look.", "Measure."], 0), (["Look.", "Measure."], 0)]
    ask(question, ask="reveal")
    assert (question.state, question.because) == ("shown", "5 mm.")


def test_an_answer_of_the_wrong_kind_is_told_so_and_raises_nothing():
    question = short_answer("How far?", lambda answer: float(answer) == 5)
    assert not question.answer("five")
    assert "kind" in question.verdict
    assert question.answer(" 5.0 ")


def test_a_check_may_say_what_is_wrong():
    question = short_answer("Which bit?", lambda a: a == "b7" or "Count the bits from b1.")
    assert not question.answer("b8")
    assert question.verdict == "Count the bits from b1."
    assert question.answer("b7")


def test_no_answer_is_not_a_wrong_answer():
    question = short_answer("Which bit?", lambda answer: True)
    ask(question, ask="check", answer="  ")
    assert (question.state, question.verdict) == ("open", "Give an answer first.")


@pytest.mark.parametrize("content", [{}, {"ask": "check"}, {"ask": "check", "answer": 5}, "?"])
def test_a_message_that_means_nothing_changes_nothing(content):
    question = short_answer("Which bit?", lambda answer: True)
    question._handle_custom_msg(content, [])
    assert question.state == "open"


def test_a_question_that_nobody_can_answer_is_refused():
    with pytest.raises(ValueError, match="None of the options is right: AND, OR"):
        choice("Which?", ["AND", "OR"], "XOR")
    with pytest.raises(ValueError, match="no two of them the same"):
        choice("Which?", ["AND", "AND"], "AND")


def test_the_right_answer_is_not_in_the_page_before_it_is_given():
    question = short_answer("Which?", lambda a: a == "OR", hint="Think.", because="It is the OR.")
    assert "OR" not in json.dumps(
        {name: value for name, value in question.get_state().items() if not name.startswith("_")}
    )


# -- the view and the bench, as Python sees them ---------------------------------------------------


def test_setting_faults_changes_the_tables_and_a_wrong_one_only_says_why():
    view = MachineView(SALTMERE)
    stuck = Fault("middle_stop", "stuck at rest")
    view.faults = [stuck]
    assert view.faults == (stuck,)
    assert view.frames == frames(SALTMERE, [stuck])
    view.faults = [Fault("midle_stop", "stuck at rest")]
    assert view.faults == (stuck,) and view.frames["faulty"] == ["middle_stop"]
    assert "Did you mean middle_stop" in view.message
    view.faults = ()
    assert (view.message, view.frames) == ("", frames(SALTMERE))


def test_a_view_made_with_a_wrong_fault_shows_the_good_machine_and_says_why():
    view = MachineView(SALTMERE, [Fault("hammer", "asleep")])
    assert view.faults == () and "no mode is called 'asleep'" in view.message


def test_the_bars_cannot_be_set_to_what_they_cannot_show():
    view = MachineView(SALTMERE)
    view.code = 127
    with pytest.raises(TraitError, match="0 to 127"):
        view.code = 128
    assert view.code == 127


def test_every_part_has_a_pose_for_each_of_its_places():
    view = MachineView(SALTMERE)
    for name, law in SALTMERE.mechanism.laws.items():
        assert len(view.poses[name]) == len(law.places)


def test_what_is_on_the_paper_becomes_a_logbook():
    view = MachineView(SALTMERE)
    view.printed = [(SALTMERE.as_set(65), "A", "speed"), (0, "nothing", "hand")]
    assert view.paper == "A"
    entries = [(entry.sent, entry.printed, entry.driven) for entry in view.logbook()]
    assert entries == [(65, "A", "speed"), (0, "nothing", "hand")]


def test_the_bench_gives_adds_and_mends_faults():
    view = MachineView(SALTMERE)
    bench = FaultBench(view)
    view.picked = "middle_stop"
    assert bench.part.value == "middle_stop"
    bench.fault.value = Fault("middle_stop", "disconnected", "slide1")
    bench.only.click()
    assert view.faults == (Fault("middle_stop", "disconnected", "slide1"),)
    bench.part.value = "hammer"
    bench.fault.value = Fault("hammer", "slow to return")
    bench.add.click()
    assert [fault.part for fault in view.faults] == ["hammer", "middle_stop"]
    bench.fault.value = Fault("hammer", "half-way")
    bench.add.click()
    assert "two places at once" in view.message
    bench.mend.click()
    assert view.faults == () and view.message == ""


def test_a_part_picked_in_the_picture_is_chosen_on_the_bench_and_the_other_way_round():
    view = MachineView(SALTMERE)
    bench = FaultBench(view)
    assert view.picked == ""
    view.picked = "bail"
    assert bench.part.value == "bail"
    bench.part.value = "hammer"
    assert view.picked == "hammer"
    view.picked = "bail"  # a click on it picks it again, and does not let it go
    assert bench.part.value == "bail"
    view.picked = ""
    assert bench.part.value == "bail"


def test_the_frames_say_in_which_phase_each_part_moves_and_how_it_goes_home():
    shown = Shown(frames(SALTMERE, [Fault("left_stop", "slow to return")]))
    phase = dict(zip(shown.frames["parts"], shown.frames["phase"], strict=True))
    names = shown.frames["phases"]
    assert names == ["Set", "Settle", "Drive", "Print", "Return"]
    assert names[phase["bar1"] - 1] == "Set" and names[phase["hammer"] - 1] == "Print"
    at_rest, behind = shown.frames["speed"]
    by_hand = shown.frames["hand"][1]
    lever, rest = shown.frames["parts"].index("left_stop"), tuple(shown.frames["rest"])
    homes = [shown.columns[world["home"]] for world in (at_rest, behind, by_hand)]
    assert homes[0] == homes[2] == rest
    assert homes[1] == (*rest[:lever], 1, *rest[lever + 1 :])
    says = [shown.text(world, "return", 0) for world in (at_rest, behind)]
    assert says == [
        "Everything goes home.",
        "Everything else goes home; the left stop lever comes late and still stands at 5 mm.",
    ]


def test_what_follows_a_late_part_is_said_to_stay_out_with_it():
    shown = Shown(frames(SALTMERE, [Fault("slide3", "slow to return")]))
    assert shown.text(shown.frames["speed"][1], "return", 0) == (
        "Everything else goes home; slide 3 comes late and still stands at 4 mm; "
        "the left stop lever and the middle stop lever stay out."
    )


@pytest.mark.parametrize("name", machines.names())
def test_every_machine_has_a_bench_on_which_every_kind_of_part_can_be_faulty(name):
    machine = mechlogic.load(name)
    view = MachineView(machine)
    bench = FaultBench(view)
    kinds = {type(part.joint): part.name for part in machine.mechanism}
    for part in kinds.values():
        bench.part.value = part
        for _, fault in bench.fault.options:
            bench.fault.value = fault
            bench.only.click()
            assert (view.faults, view.message) == ((fault,), "")
            assert "{" not in view.frames["faults"][0]


def test_the_paper_of_a_machine_that_returns_its_carriage_is_laid_out_by_what_it_did():
    ebbing = mechlogic.load("ebbing")
    view = MachineView(ebbing)
    sent = [("A", "A"), ("B", "B"), ("LF", "LF"), ("C", "C"), ("CR", "CR"), ("D", "D")]
    view.printed = [(ebbing.code.parse(name), seen, "speed") for name, seen in sent]
    assert view.paper == "AB\nD C"
    view.printed = [(ebbing.code.parse("A"), "A", "speed"), (8, "nothing", "speed")]
    assert view.paper == "A"  # a carriage return that was sent and not made


def test_what_is_remembered_is_said_of_a_latch_and_of_a_sluggish_part_in_their_own_ways():
    ebbing = mechlogic.load("ebbing")
    shown = Shown(frames(ebbing, [Fault("bar1", "slow to return")]))
    send = {name: ebbing.code.parse(name) for name in ("FIGS", "LTRS", "T")}
    memory = shown.frames["start"]
    said = []
    for setting in (send["FIGS"], send["T"], send["LTRS"]):
        world = shown.frames["speed"][memory * shown.frames["chances"]]
        said.append(shown.text(world, "remembers", setting))
        memory = shown.number(world, "next", setting)
    waits = "The character before asked code bar 1 to stand at {} mm."
    assert said == [
        f"The shift latch goes from letters to figures. {waits.format(0)}",
        f"The shift latch stays where it was put: at figures. {waits.format(3)}",
        f"The shift latch goes from figures to letters. {waits.format(0)}",
    ]
    by_hand = shown.text(shown.frames["hand"][0], "remembers", send["T"])
    assert by_hand == "The shift latch stays where it was put: at letters."
    stuck = Shown(frames(ebbing, [Fault("shift", "stuck at rest")]))
    assert stuck.text(stuck.frames["speed"][0], "remembers", send["FIGS"]) == (
        "The shift latch should stand at figures, but stands at letters."
    )


def test_buttons_send_what_works_a_function_and_keys_are_the_machine_s_own():
    buttons = {n: [b[0] for b in frames(mechlogic.load(n))["buttons"]] for n in machines.names()}
    assert set(buttons["ebbing"]) == {"CR", "LF", "LTRS", "FIGS"}
    assert buttons["saltmere"] == buttons["wind"] == buttons["ness"] == []
    assert "".join(buttons["desk"]) == "0123456789EHLNSW"
    desk = frames(mechlogic.load("desk"))
    assert desk["keys"] and desk["bits"] == [] and desk["settings"][5] == "Key 5 is pressed"


def test_the_bench_offers_every_fault_that_a_part_can_have_and_each_can_be_given():
    view = MachineView(SALTMERE)
    bench = FaultBench(view)
    for part in ("bar6", "middle_stop", "lift_rack", "turn"):
        bench.part.value = part
        offered = [fault for _, fault in bench.fault.options]
        names = [name for name, _ in bench.fault.options]
        assert len(set(names)) == len(names)
        steady = {fault for fault in PLAIN_SALTMERE.single_faults() if fault[0] == part}
        assert steady <= set(map(plain, offered))
        for fault in offered:
            bench.fault.value = fault
            bench.only.click()
            assert (view.faults, view.message) == ((fault,), "")


def test_a_fault_that_comes_and_goes_says_so_and_may_print_both():
    shown = Shown(frames(SALTMERE, [Fault("left_stop", "stuck at rest", sometimes=True)]))
    setting = shown.frames["send"]["T"]
    printed = {shown.text(world, "printed", setting) for world in shown.frames["speed"]}
    assert len(printed) == 2 and "T" in printed
    assert shown.frames["faults"] == [
        "At times the left stop lever stays at rest, whatever is sent."
    ]


def test_what_the_bench_knows_is_shown_with_its_cautions_and_without_markup_from_labels():
    parts = [
        replace(part, label="<script>x</script>") if part.name == "slide2" else part
        for part in SALTMERE.mechanism
    ]
    view = MachineView(replace(SALTMERE, mechanism=Mechanism(parts)))
    told = knowledge(view, Fault("slide2", "slow to return"))
    assert "<script" not in told.lower() and "&lt;script&gt;" in told.lower()
    for words in ("Take care", "Unplug the machine", "Usual remedy", "clean off the old oil"):
        assert words in told
