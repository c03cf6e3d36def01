"""A cycle in the live picture: played, in slow motion, phase by phase, or at once."""

import time
from itertools import pairwise

import pytest
from live_picture import View
from playwright.sync_api import expect

from mechlogic import Fault, load
from mechlogic.drawing import scene
from mechlogic.explaining.phases import phases
from mechlogic.model.table import place_in_row
from mechlogic.widgets.web_page import save_web_page

SALTMERE, EBBING, SLUICE, WIND = map(load, ("saltmere", "ebbing", "sluice", "wind"))
# What a reader sees of each phase as it comes: its name, each time that it changes.
WATCH = """() => {
    const name = document.querySelector('.mv-part-name');
    globalThis.seen = [name.textContent];
    new MutationObserver(() => globalThis.seen.push(name.textContent))
        .observe(name, { childList: true, characterData: true, subtree: true });
}"""
# How many phases are waited for at a time.
COUNT_TIMERS = """() => {
    const [set, clear] = [globalThis.setTimeout, globalThis.clearTimeout];
    const running = new Set();
    globalThis.most = 0;
    globalThis.setTimeout = (then, ms) => {
        const id = set(() => { running.delete(id); then(); }, ms);
        running.add(id);
        globalThis.most = Math.max(globalThis.most, running.size);
        return id;
    };
    globalThis.clearTimeout = (id) => { running.delete(id); clear(id); };
}"""


class Cycle(View):
    """The live picture, and the cycle that it shows."""

    def way(self, name):
        self.view.get_by_label("How a cycle is shown").select_option(name)
        return self

    def on(self):
        self.view.get_by_role("button", name="One phase on").press("Enter")

    def back(self):
        self.view.get_by_role("button", name="One phase back").press("Enter")

    def phase(self, name):
        expect(self.view.locator(".mv-part-name")).to_have_text(name)

    def tale(self):
        return self.view.locator(".mv-part-says").text_content()

    def stands(self):
        """For each part, the transform at which it is, or is on its way to."""
        parts = self.view.locator("[data-part]:not([data-pose])")
        return dict(
            parts.evaluate_all("nodes => nodes.map(n => [n.dataset.part, n.style.transform])")
        )


@pytest.fixture
def cycle(page, shot, console_errors):
    page.emulate_media(reduced_motion="no-preference")
    page.set_viewport_size({"width": 1366, "height": 900})
    yield Cycle(page, shot)
    assert console_errors(page) == []


@pytest.mark.parametrize(
    ("machine", "character"), [(SALTMERE, "R"), (EBBING, "T")], ids=["saltmere", "ebbing"]
)
def test_stepping_moves_each_part_in_its_phase_and_then_all_home(cycle, machine, character):
    poses, phase, rest = scene(machine).poses, phases(machine), machine.mechanism.rest
    setting = machine.as_set(machine.code.code(character))
    asked = {
        name: place_in_row(columns, setting) for name, columns in machine.healthy.places.items()
    }
    cycle.show(machine).way("step by step").type(character)
    for number, name in enumerate(["Set", "Settle", "Drive", "Print"], 1):
        cycle.phase(f"{number} {name}")
        there = {part: asked[part] if phase[part] <= number else rest[part] for part in phase}
        assert cycle.stands() == {part: poses[part][there[part]] for part in phase}
        cycle.page.wait_for_timeout(500)  # the movement has ended
        cycle.shot(cycle.page, f"cycle_{machine.name}_{number}")
        cycle.on()
    cycle.phase("5 Return")
    assert cycle.stands() == {part: poses[part][rest[part]] for part in phase}
    cycle.page.wait_for_timeout(500)
    cycle.shot(cycle.page, f"cycle_{machine.name}_5")


def test_a_cycle_is_stepped_forward_and_back_with_the_keyboard_alone(cycle):
    cycle.show(SALTMERE)
    key = cycle.page.keyboard.press
    cycle.view.get_by_label("How a cycle is shown").focus()
    for _ in range(2):
        key("ArrowDown")
    expect(cycle.view.get_by_label("How a cycle is shown")).to_have_value("step by step")
    key("Tab")
    expect(cycle.view.get_by_role("button", name="One phase back")).to_be_focused()
    key("Tab")
    expect(cycle.view.get_by_role("button", name="One phase on")).to_be_focused()
    key("Enter")  # there is no cycle yet
    cycle.phase("No part picked")
    cycle.view.locator(".mv-send").focus()
    cycle.page.keyboard.type("T")
    cycle.phase("1 Set")
    # The box is empty at all times, so its arrow keys are free.
    for name in ("2 Settle", "3 Drive", "4 Print", "5 Return", "5 Return"):
        key("ArrowRight")
        cycle.phase(name)
    for name in ("4 Print", "3 Drive", "2 Settle", "1 Set", "0 Home", "0 Home"):
        key("ArrowLeft")
        cycle.phase(name)
    assert cycle.paper() == ["sent T, printed T"]


def test_the_words_of_a_phase_are_of_the_parts_that_move_in_it(cycle):
    cycle.show(SALTMERE).way("step by step").type("U")
    assert cycle.tale().startswith("Bit b1 is set: code bar 1 moves 4 mm.")
    cycle.on()
    assert cycle.tale().startswith("Neither the print suppression bar nor the sign suppression bar")
    assert "rack" not in cycle.tale() and "Bit b" not in cycle.tale()
    cycle.on()
    assert "type-wheel pinion to −90°." in cycle.tale()
    cycle.on()
    assert cycle.tale().endswith("the print hammer goes its full 4 mm. For U it prints U.")
    cycle.on()
    assert cycle.tale() == "Everything goes home."


def test_nothing_is_printed_before_the_print_phase(cycle):
    cycle.show(SALTMERE).way("step by step").type("R")
    glyph, tells = cycle.view.locator(".mv-glyph"), cycle.view.locator(".mv-tells")
    for _ in range(3):
        expect(glyph).to_be_hidden()
        expect(tells).to_have_text("")
        expect(cycle.view.locator(".cell.struck")).to_have_count(0)
        cycle.on()
    expect(glyph).to_be_visible()
    expect(tells).to_have_text("For R it prints R.")
    expect(cycle.view.locator(".cell.struck")).to_have_count(1)


def test_a_late_part_is_left_behind_and_its_ghost_goes_home(cycle):
    poses = scene(SALTMERE).poses["left_stop"]
    groups = cycle.view.locator('[data-part="left_stop"]')
    cycle.show(SALTMERE, Fault("left_stop", "slow to return")).way("step by step").type("T")
    for _ in range(4):
        cycle.on()
    assert "the left stop lever comes late and still stands at 5 mm" in cycle.tale()
    assert cycle.stands()["left_stop"] == poses[1]
    ghost = cycle.view.locator(".ghost.seen")
    expect(ghost).to_have_count(groups.count())
    # The part is drawn at more than one spot; each has its ghost.
    assert poses[0] in ghost.evaluate_all("nodes => nodes.map(node => node.style.transform)")
    cycle.shot(cycle.page, "cycle_late")
    cycle.type("Q")  # it stays there through all of the next cycle, and only then comes home
    for name in ("1 Set", "2 Settle", "3 Drive", "4 Print"):
        cycle.phase(name)
        assert cycle.stands()["left_stop"] == poses[1]
        cycle.on()
    cycle.phase("5 Return")
    assert cycle.stands()["left_stop"] == poses[0]
    expect(ghost).to_have_count(0)
    assert cycle.paper()[1] == "sent Q, printed U; misprint, a good machine prints Q"


def test_turned_by_hand_nothing_is_left_behind(cycle):
    cycle.show(SALTMERE, Fault("left_stop", "slow to return")).way("step by step")
    cycle.view.get_by_role("radio", name="by hand").check(force=True)
    cycle.type("T")
    for _ in range(4):
        cycle.on()
    assert cycle.tale() == "Everything goes home."


def test_play_runs_through_the_cycle_by_itself(cycle):
    cycle.show(SALTMERE)
    cycle.page.evaluate(WATCH)
    cycle.type("R")
    cycle.phase("5 Return")
    seen = cycle.page.evaluate("() => globalThis.seen")
    assert seen[1:] == ["1 Set", "2 Settle", "3 Drive", "4 Print", "5 Return"]


def test_play_leaves_out_a_phase_in_which_nothing_moves(cycle):
    cycle.show(EBBING)
    cycle.page.evaluate(WATCH)
    cycle.type("T")
    cycle.phase("5 Return")
    seen = cycle.page.evaluate("() => globalThis.seen")
    assert seen[1:] == ["1 Set", "4 Print", "5 Return"]


def test_slow_motion_is_slower_and_a_step_stops_it(cycle):
    moving = "node => parseFloat(getComputedStyle(node).transitionDuration)"
    cycle.show(SALTMERE)
    bar = cycle.view.locator('[data-part="bar2"]').first
    usual = bar.evaluate(moving)
    cycle.way("slow motion")
    assert bar.evaluate(moving) > 3 * usual > 0
    cycle.type("R")
    cycle.phase("1 Set")
    cycle.on()
    cycle.phase("2 Settle")
    cycle.page.wait_for_timeout(2500)
    cycle.phase("2 Settle")


def test_a_phase_that_a_machine_does_not_have_is_not_stepped_through(cycle):
    cycle.show(SLUICE).way("step by step")
    cycle.press("CR")
    for name in ("1 Set", "2 Settle", "4 Act", "5 Return"):
        cycle.phase(name)
        cycle.on()
    cycle.show(WIND).way("step by step").type("N")
    for name in ("1 Set", "2 Settle", "3 Drive", "4 Print", "5 Return"):
        cycle.phase(name)
        cycle.on()


def test_fast_typing_loses_nothing_and_waits_for_nothing(cycle):
    text = "THE QUICK BROWN FOX JUMPS OVER THE LAZY DOG 0123456789" * 2
    cycle.show(SALTMERE, Fault("left_stop", "slow to return"))
    cycle.page.evaluate(COUNT_TIMERS)
    cycle.type(text)
    sent = [said.split()[1].strip(",") for said in cycle.paper()]
    assert sent == ["SP" if character == " " else character for character in text]
    assert cycle.page.evaluate("() => globalThis.most") == 1
    cycle.phase("5 Return")
    expect(cycle.view.locator(".mv-coming")).to_have_count(0)
    played = cycle.paper()
    cycle.page.emulate_media(reduced_motion="reduce")
    cycle.show(SALTMERE, Fault("left_stop", "slow to return")).type(text)
    assert cycle.paper() == played


def test_a_new_character_ends_the_running_cycle_at_once(cycle):
    cycle.show(SALTMERE).way("slow motion").type("R")
    cycle.phase("1 Set")
    began = time.monotonic()
    cycle.type("T")
    expect(cycle.view.locator(".mv-glyph").first).to_be_visible()
    expect(cycle.view.locator(".mv-glyph").last).to_be_hidden()
    assert time.monotonic() - began < 1.7  # less than one phase of the first cycle
    cycle.phase("1 Set")


def test_who_wants_no_motion_sees_the_end_at_once_and_may_still_step(cycle):
    cycle.page.emulate_media(reduced_motion="reduce")
    cycle.show(SALTMERE)
    expect(cycle.view.get_by_label("How a cycle is shown")).to_have_value("at once")
    cycle.type("R")
    cycle.says("For R it prints R.")
    assert "set" in cycle.classes("hammer") and "set" in cycle.classes("bar2")
    cycle.phase("No part picked")
    moving = "node => getComputedStyle(node).transitionDuration"
    assert cycle.view.locator('[data-part="bar2"]').first.evaluate(moving) == "0s"
    cycle.on()
    cycle.phase("5 Return")
    assert "set" not in cycle.classes("bar2")
    cycle.back()
    cycle.back()
    cycle.phase("3 Drive")
    assert "set" not in cycle.classes("hammer") and "set" in cycle.classes("bar2")


def test_a_wish_for_no_motion_is_heard_at_any_time_until_the_reader_chooses(cycle):
    cycle.show(SALTMERE)
    ways = cycle.view.get_by_label("How a cycle is shown")
    expect(ways).to_have_value("play")
    cycle.page.emulate_media(reduced_motion="reduce")
    expect(ways).to_have_value("at once")
    cycle.way("slow motion")
    cycle.page.emulate_media(reduced_motion="no-preference")
    cycle.page.emulate_media(reduced_motion="reduce")
    expect(ways).to_have_value("slow motion")


def test_setting_a_bit_ends_the_cycle_and_shows_where_the_parts_would_stand(cycle):
    cycle.show(SALTMERE).way("slow motion").type("R")
    cycle.view.locator('.mv-bit[data-bit="1"]').click()
    cycle.says("For S it prints S.")
    assert "set" in cycle.classes("hammer")
    expect(cycle.view.locator(".mv-glyph")).to_be_visible()
    cycle.page.wait_for_timeout(2000)
    assert "set" in cycle.classes("hammer")  # nothing goes on by itself


def test_the_picture_is_the_same_nodes_throughout_and_nothing_below_it_moves(cycle):
    cycle.show(SALTMERE, Fault("middle_stop", "slow to return")).way("step by step")
    nodes = cycle.view.locator("[data-part], .cell, .mv-bit, .mv-tells, .ghost")
    nodes.evaluate_all("nodes => nodes.forEach((node, i) => { node.marked = i; })")
    tops = "nodes => nodes.map(n => n.offsetTop)"
    still = cycle.view.locator(".mv-controls, .mv-stage, .mv-motion, .mv-part, .mv-paper, .mv-list")
    seen = []
    for character in "RT":
        cycle.type(character)
        for _ in range(5):
            seen.append(still.evaluate_all(tops))
            cycle.on()
    assert all(one == other for one, other in pairwise(seen))
    marks = nodes.evaluate_all("nodes => nodes.map(node => node.marked)")
    assert marks == list(range(len(marks))) and len(marks) > 100


def test_a_part_that_is_picked_is_told_of_until_the_next_phase(cycle):
    cycle.show(SALTMERE).way("step by step").type("R")
    cycle.view.locator('[data-part="hammer"]').first.focus()
    cycle.page.keyboard.press("Enter")
    cycle.phase("print hammer")
    cycle.on()
    cycle.phase("2 Settle")


def test_the_page_that_needs_no_python_has_it_too_but_not_while_a_fault_is_sealed(page, tmp_path):
    page.emulate_media(reduced_motion="no-preference")
    page.context.set_offline(True)
    save_web_page(WIND, tmp_path / "wind.html")
    page.goto((tmp_path / "wind.html").as_uri())
    view, closed = page.locator("#open"), page.locator("#closed")
    view.get_by_label("How a cycle is shown").select_option("step by step")
    view.locator(".mv-send").click()
    page.keyboard.type("N")
    for name in ("1 Set", "2 Settle", "3 Drive", "4 Print", "5 Return"):
        expect(view.locator(".mv-part-name")).to_have_text(name)
        page.keyboard.press("ArrowRight")
    expect(closed.locator(".mv-motion")).to_be_hidden()
    closed.locator(".mv-send").click()
    page.keyboard.type("N")
    expect(closed.locator(".mv-coming")).to_have_count(0)  # what it prints is seen at once
    page.get_by_role("button", name="Show the fault").click()
    expect(closed.locator(".mv-motion")).to_be_visible()
