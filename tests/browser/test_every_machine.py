"""The live picture of machines that remember, have keys or act, on a page without Python."""

import pytest
from live_picture import View
from playwright.sync_api import expect

from mechlogic import Fault, load
from mechlogic.model.joining import join

EBBING, DESK, NESS, SLUICE = map(load, ("ebbing", "desk", "ness", "sluice"))
JOINED = join(DESK, load("saltmere"))


@pytest.fixture
def view(page, shot, console_errors):
    page.set_viewport_size({"width": 1366, "height": 900})
    yield View(page, shot)
    assert console_errors(page) == []


def test_figures_follow_letters_and_a_space_brings_letters_back(view):
    view.show(EBBING).type("T")
    view.says("For T it prints T.", "The shift latch stays where it was put: at letters.")
    view.press("FIGS")
    view.says("For FIGS nothing is printed.", "The shift latch goes from letters to figures.")
    view.type("T")
    view.says("For T it prints 5.", "The shift latch stays where it was put: at figures.")
    assert "set" in view.classes("shift") and "set" in view.classes("pull_t")
    assert "set" in view.classes("pull_t", 1)  # the typebar
    assert view.view.locator(".cell.facing").get_attribute("data-glyph") == "5"
    view.shot(view.page, "ebbing_figures")
    view.type(" T")
    view.says("For T it prints T.")
    assert view.paper() == [
        "sent T, printed T",
        "sent FIGS, printed nothing",
        "sent T, printed 5",
        "sent SP, printed nothing",
        "sent T, printed T",
    ]
    expect(view.view.locator(".mv-misprint")).to_have_count(0)


def test_setting_the_bars_throws_no_latch_but_a_cycle_does(view):
    view.show(EBBING)
    view.page.keyboard.press("Tab")
    view.view.focus()
    for key in "1245":  # FIGS
        view.page.keyboard.press(key)
    view.says("The shift latch goes from letters to figures.")
    for key in "124":  # T
        view.page.keyboard.press(key)
    view.says("For T it prints T.")
    for key in "124":
        view.page.keyboard.press(key)
    view.view.get_by_role("button", name="Print", exact=True).click()
    for key in "124":
        view.page.keyboard.press(key)
    view.says("For T it prints 5.")


def test_a_letters_pull_bar_that_does_not_drop_leaves_figures_until_a_space(view):
    view.show(EBBING, Fault("pull_letters", "stuck at rest"))
    view.press("FIGS")
    view.press("LTRS")
    assert "elsewhere" in view.classes("shift")  # a good latch has gone back
    view.type("T")
    view.says("For T it prints 5; a good machine prints T.")
    expect(view.view.locator(".cell.should-face")).to_have_attribute("data-glyph", "T")
    view.type(" T")
    view.says("For T it prints T.")
    assert view.paper()[2] == "sent T, printed 5; misprint, a good machine prints T"
    expect(view.view.locator(".mv-misprint")).to_have_count(1)
    view.shot(view.page, "ebbing_letters_stuck")


def test_a_figure_that_is_typed_or_clicked_among_letters_says_what_it_needs(view):
    view.show(EBBING).type("5")
    alert = view.view.get_by_role("alert")
    expect(alert).to_contain_text("“5”: That needs the shift latch at figures: send FIGS first.")
    assert view.paper() == []
    view.click("5")
    expect(alert).to_contain_text("That needs the shift latch at figures: send FIGS first.")
    view.says("For T it prints T.")
    view.press("FIGS")
    expect(alert).to_have_text("")
    view.type("5")
    assert view.paper()[-1] == "sent T, printed 5"
    view.type("t")  # a machine without small letters takes the capital
    assert view.paper()[-1] == "sent T, printed 5"


def test_actions_are_said_and_shown_as_what_they_do(view):
    view.show(EBBING)
    view.press("CR")
    view.says("For CR it returns the carriage.")
    view.press("FIGS")
    view.type("J")
    view.says("For J it rings the bell.")
    expect(view.view.locator(".cell.facing", has_text="BEL")).to_have_count(1)
    view.show(SLUICE, Fault("bell_lever", "stuck operated")).press("CR")
    view.says("For CR it returns the carriage and rings the bell; a good machine returns")
    assert view.view.locator(".cell.struck").count() == 2


def test_a_desk_has_keys_to_press_and_its_line_shows_what_was_sent(view):
    view.show(DESK)
    expect(view.view.locator(".mv-bit")).to_have_count(0)
    view.press("5")
    view.says("Key 5 is pressed", "For 5 it sends 5.")
    view.view.focus()
    view.page.keyboard.press("7")
    view.page.keyboard.press("w")
    view.page.keyboard.press("q")  # no key of this desk
    assert view.paper() == [f"sent {name}, sent on {name}" for name in "57W"]
    expect(view.view.locator('.mv-key[aria-pressed="true"]')).to_have_text("W")
    view.shot(view.page, "desk")
    view.show(DESK, Fault("coding3", "stuck at rest")).press("5")
    view.says("the parity on the line is wrong: it is unreadable; a good machine sends 5.")
    assert "faulty" in view.classes("coding3") and "elsewhere" in view.classes("contact3")


def test_joined_machines_are_keyed_and_print(view):
    view.show(JOINED).press("H")
    view.says("Key H is pressed", "For H it prints H.")
    assert view.view.locator(".cell.facing").get_attribute("data-glyph") == "H"
    view.shot(view.page, "joined")


@pytest.mark.parametrize("machine", [EBBING, DESK, NESS, SLUICE], ids=lambda m: m.name)
@pytest.mark.parametrize("theme", ["light", "dark"])
def test_every_letter_in_picture_and_sheet_is_large_enough(view, machine, theme):
    view.page.emulate_media(color_scheme=theme)
    view.show(machine)
    sizes = view.view.locator("svg text").evaluate_all(
        "nodes => nodes.map(n => parseFloat(getComputedStyle(n).fontSize)"
        " * Math.hypot(n.getScreenCTM().a, n.getScreenCTM().b))"
    )
    assert min(sizes) >= 11
    view.shot(view.page, f"{machine.name}_{theme}")


def test_nothing_moves_on_the_page_when_a_latch_is_thrown(view):
    view.show(EBBING, Fault("bar2", "slow to return"))
    still = view.view.locator(".mv-controls, .mv-stage, .mv-paper, .mv-list")
    tops = "nodes => nodes.map(n => n.offsetTop)"
    seen = []
    for name in ("FIGS", "LTRS", "CR", "FIGS"):
        view.press(name)
        seen.append(still.evaluate_all(tops))
    assert all(places == seen[0] for places in seen)
