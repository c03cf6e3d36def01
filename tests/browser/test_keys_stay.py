"""Every workbook runs; keys pressed in it leave its cells as they were; no picture is 0 wide."""

from pathlib import Path

import pytest
from playwright.sync_api import Page

WORKBOOKS = Path(__file__).parents[2] / "workbooks"
CELLS = """() => Array.from(jupyterapp.shell.currentWidget.context.model.cells, cell =>
    [cell.id, cell.type, cell.sharedModel.getSource()])"""
KEYS = ("x", "d", "d", "m", "a", "b", "Enter", "Space", "Escape")
# Everything in an output that can have the focus; one of each kind in a cell is enough, or of all
# questions.
MARK = """() => {
    const all = [...document.querySelectorAll('.jp-OutputArea-output :is(button, input, select,'
        + ' textarea, summary, [tabindex="0"], a[href])')].filter(n => n.checkVisibility());
    const seen = new Set();
    const some = all.filter(n => {
        const place = n.closest('.mq-question') ? 'a question' : n.closest('.jp-Cell')?.dataset;
        const kind = [place?.windowedListIndex ?? place, n.tagName, n.type,
            n.className?.baseVal ?? n.className, n.closest('[role]')?.role].join();
        return seen.has(kind) ? false : seen.add(kind);
    });
    some.forEach((n, i) => n.setAttribute('data-try', i));
    return [some.length, all.length];
}"""
FOCUS = """i => {
    const node = document.querySelector(`[data-try="${i}"]`);
    if (!node || !node.checkVisibility() || node.disabled) return false;
    if (node.type === 'file') return false;  // Enter opens the desk's own window
    node.focus({ preventScroll: true });
    return document.activeElement === node;
}"""
NOTHING_IS_FETCHED = """() => addEventListener('click', (event) => {
    if (event.target.closest('a[href], input[type=file], .jupyter-widget-upload'))
        event.preventDefault();
}, true)"""
WIDTHS = """() => [...document.querySelectorAll('.jp-OutputArea-output svg')]
    .filter(n => n.checkVisibility() && !n.closest('defs') && !n.closest('button'))
    .map(n => n.getBoundingClientRect()).filter(r => r.width < 20 || r.height < 5).length"""


@pytest.mark.parametrize("name", sorted(p.name for p in WORKBOOKS.glob("*.ipynb")))
def test_a_workbook_runs_from_top_to_bottom_and_no_key_in_a_control_changes_a_cell(
    page: Page, open_workbook, run_all, console_errors, shot, name
):
    page.set_viewport_size({"width": 1366, "height": 768})
    open_workbook(page, name)
    run_all(page)
    shot(page, f"workbook_{name[:2]}")
    assert console_errors(page) == []
    assert page.evaluate(WIDTHS) == 0, "every picture has a width"
    page.evaluate(NOTHING_IS_FETCHED)
    cells = page.evaluate(CELLS)
    some, every = page.evaluate(MARK)
    assert some or not every
    tried = 0
    for number in range(some):
        for key in KEYS:
            if page.evaluate(FOCUS, number):
                page.keyboard.press(key)
                tried += 1
        assert page.evaluate(CELLS) == cells, f"control {number}"
    assert tried > 0 or not some


def test_a_machine_of_ones_own_is_shown(page: Page, open_workbook, run_all, shot):
    open_workbook(page, "08_your_own_machine.ipynb")
    run_all(page)
    box = page.locator(".ml-description").last
    right = (WORKBOOKS / "machines" / "tarrow.toml").read_text(encoding="utf-8")
    page.get_by_role("tab", name="Text", exact=True).last.click()
    box.locator("textarea").fill(right)
    page.get_by_role("button", name="Check it").last.click()
    picture = page.locator(".jp-OutputArea-output:has(.ml-description) .mv-stage svg").last
    picture.wait_for()
    picture.scroll_into_view_if_needed()
    shot(page, "own_machine")
    assert picture.bounding_box()["width"] > 200
