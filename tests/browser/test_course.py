"""The course in JupyterLab: a sealed fault is found, progress is kept, any machine goes on."""

import json
from pathlib import Path

import pytest
from playwright.sync_api import Page, expect

from mechlogic import load, machines
from mechlogic.teaching.sealed import Sealed

SCREEN = {"width": 1366, "height": 768}


def pressed(page: Page, name: str) -> None:
    """Press a button by keyboard alone: go to it, then Enter."""
    button = page.get_by_role("button", name=name).first
    button.focus()
    page.keyboard.press("Enter")


def test_a_sealed_fault_is_found_by_keyboard(
    page: Page, open_workbook, run_all, console_errors, shot
):
    page.set_viewport_size(SCREEN)
    folder = open_workbook(page, "09_sealed_fault.ipynb")
    run_all(page)
    box = page.locator(".jp-OutputArea-output").filter(has=page.get_by_placeholder("AB CR")).first
    send = box.get_by_placeholder("AB CR")
    send.focus()
    page.keyboard.type("NESW")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(box.get_by_role("status")).to_contain_text("Typed N E S W")
    shot(page, "sealed_hunt")
    fault = Sealed(load("wind"), 1, 1).faults[0]
    menu = box.get_by_label("Repair", exact=True)
    menu.focus()
    cells = page.locator(".jp-Notebook .jp-Cell").count()
    page.keyboard.type(load("wind").label(fault.part))
    expect(menu).to_have_value(load("wind").label(fault.part))
    assert page.locator(".jp-Notebook .jp-Cell").count() == cells, "its b is no command to add one"
    pressed(page, "Repair it")
    expect(box.get_by_role("status")).to_contain_text("it was at fault, and is now repaired")
    pressed(page, "I have repaired it")
    pressed(page, "Show the fault?")
    expect(box).to_contain_text("✓ repaired: code bar 2")
    expect(box.locator(".mh-replay")).to_contain_text("possible causes before")
    expect(box).to_contain_text("of 100 points")
    box.get_by_label("Machine", exact=True).scroll_into_view_if_needed()
    shot(page, "sealed_replay")
    kept = (folder / "progress.jsonl").read_text().splitlines()
    assert [json.loads(line)["done"] for line in kept] == ["sealed/wind/1/1"]
    assert console_errors(page) == []


def test_progress_is_there_after_the_page_is_loaded_anew(
    page: Page, open_workbook, run_all, console_errors, shot
):
    page.set_viewport_size(SCREEN)
    folder = open_workbook(page, "00_start_here.ipynb")
    run_all(page)
    expect(page.locator(".mp-list")).to_contain_text("0 of 3")
    page.get_by_role("radio", name="E", exact=True).first.check()
    page.get_by_role("button", name="Check").first.click()
    expect(page.locator(".mq-verdict").first).to_have_text("Right.")
    page.reload()
    page.wait_for_function(
        "path => globalThis.jupyterapp?.shell.currentWidget?.context?.path === path"
        " && jupyterapp.shell.currentWidget.sessionContext.isReady",
        arg=f"{folder.name}/00_start_here.ipynb",
    )
    run_all(page)
    expect(page.locator(".mq-before").first).to_be_visible()
    expect(page.locator(".mq-before").nth(1)).to_be_hidden()
    expect(page.locator(".mp-list")).to_contain_text("1 of 3")
    page.locator(".mp-list").scroll_into_view_if_needed()
    shot(page, "progress")
    page.get_by_role("button", name="Forget all answers").click()
    page.get_by_role("button", name="Forget every answer?").click()
    expect(page.locator(".mp-list")).to_contain_text("0 of 3")
    assert console_errors(page) == []


@pytest.fixture
def own_machine(tmp_path: Path) -> tuple[Path, Path]:
    """A description of one's own that is right, and one that is not."""
    text = (machines.FOLDER / "wind.toml").read_text(encoding="utf-8")
    right, wrong = tmp_path / "mine.toml", tmp_path / "wrong.toml"
    right.write_text(text.replace("Saltmere wind stamp", "Stamp of my own"), encoding="utf-8")
    wrong.write_text(text.replace('"middle_stop"', '"midle_stop"'), encoding="utf-8")
    return right, wrong


def test_another_machine_goes_on_the_bench(
    page: Page, open_workbook, run_all, own_machine, console_errors, shot
):
    page.set_viewport_size(SCREEN)
    open_workbook(page, "03_bench.ipynb")
    run_all(page)
    page.get_by_label("Machine", exact=True).select_option("Ummer Ness tally printer")
    page.get_by_label("Log", exact=True).select_option("ness short by four")
    expect(page.locator(".ml-suspects > li").first).to_contain_text("code bar 3: stuck at rest")
    page.get_by_label("Machine", exact=True).scroll_into_view_if_needed()
    shot(page, "bench_ness")

    right, wrong = own_machine

    def bring(path: Path) -> None:
        with page.expect_file_chooser() as chosen:
            page.get_by_role("button", name="Machine file").click()
        chosen.value.set_files(path)

    bring(wrong)
    expect(page.locator(".ml-problems")).to_contain_text("Did you mean middle_stop")
    bring(right)
    expect(page.get_by_label("Machine", exact=True)).to_have_value("Stamp of my own (my own)")
    expect(page.get_by_text("No entries yet.")).to_be_visible()
    page.get_by_placeholder("A, CR, 4/1").fill("N")
    page.get_by_placeholder("A, nothing").fill("E")
    page.get_by_role("button", name="Add entry").click()
    expect(page.locator(".ml-suspects > li").first).to_contain_text("stop lever")
    shot(page, "bench_own_machine")
    assert console_errors(page) == []
