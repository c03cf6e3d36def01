"""The page that needs no Python, opened from a file in a real browser."""

import re

import pytest
from playwright.sync_api import expect

import mechlogic
from mechlogic.model.faults import Fault, single_faults
from mechlogic.model.steps import steps
from mechlogic.widgets.web_page import save_web_page


@pytest.fixture
def opened(page, tmp_path):
    """The page of the wind stamp, opened without a network."""
    page.context.set_offline(True)
    path = tmp_path / "wind.html"
    save_web_page(mechlogic.load("wind"), path)
    page.goto(path.as_uri())
    expect(page.locator("#open .mv-view")).to_be_visible()
    return page


def test_it_answers_like_the_picture_in_a_notebook(opened, console_errors):
    view = opened.locator("#open")
    view.locator("[data-bit='2']").click()
    expect(view.locator(".cell.facing")).to_have_attribute("data-glyph", "S")
    view.get_by_label("Fault", exact=True).select_option("left stop lever: stuck at rest")
    expect(view.locator(".cell.facing")).to_have_attribute("data-glyph", "E")
    expect(view.locator(".mv-condition")).to_contain_text("left stop lever stays at rest")
    assert console_errors(opened) == []


def test_a_sealed_fault_is_hidden_prints_as_it_must_and_is_opened(opened, shot):
    """The number on the page draws a fault; whichever it is, it prints what Python says."""
    machine = mechlogic.load("wind")
    closed = opened.locator("#closed")
    expect(closed.locator(".mv-picture")).to_be_hidden()
    expect(closed.locator(".mv-condition")).to_be_hidden()
    closed.locator(".mv-send").click()
    opened.keyboard.type("NESWNN")
    said = closed.locator(".mv-print .mv-said").all_text_contents()
    printed = [re.search("printed ([^;]+)", one)[1] for one in said]
    opened.get_by_role("button", name="Show the fault").click()
    expect(closed.locator(".mv-picture")).to_be_visible()
    shot(opened, "web_page")
    truth = opened.locator("#verdict").text_content()
    (fault,) = (
        f for f in single_faults(machine.mechanism) if f"{machine.label(f.part)}: {f.mode}" in truth
    )
    assert len(printed) == 6
    assert possible(machine, fault, "NESWNN", printed), (fault, printed)


def possible(machine, fault: Fault, text, printed):
    table = steps(machine, (fault,))
    memories = set(table)
    for character, seen in zip(text, printed, strict=True):
        code = machine.code.code(character)
        memories = {
            after for memory in memories for print_, after in table[memory][code] if seen == print_
        }
    return bool(memories)


def test_by_keyboard_alone(opened):
    opened.locator("#number").focus()
    opened.keyboard.type("7")
    opened.keyboard.press("Tab")
    opened.locator("#guess").focus()
    opened.keyboard.press("ArrowDown")
    opened.keyboard.press("Tab")
    opened.keyboard.press("Enter")
    expect(opened.locator("#verdict")).not_to_be_empty()
