"""A picture that is gone has a line that says what to do: of a saved workbook, of a closed one."""

import nbformat
from nbformat.v4 import new_code_cell, new_notebook
from playwright.sync_api import Page, expect

NEXT_DAY = """async () => {
    await jupyterapp.shell.currentWidget.context.save();
    await jupyterapp.serviceManager.sessions.shutdownAll();
}"""


def test_a_saved_workbook_says_what_to_do_and_says_so_no_more_once_it_runs(
    page: Page, open_workbook, run_all, shot
):
    open_workbook(page, "00_start_here.ipynb")
    run_all(page)
    line = page.locator(".ml-saved")
    expect(page.locator(".mv-bits").first).to_be_visible()
    expect(line.first).to_be_attached()
    assert not any(one.is_visible() for one in line.all()), "the widgets live"
    shot(page, "saved_live")
    page.evaluate(NEXT_DAY)
    page.goto(f"{page.url}?reset")
    expect(line.first).to_be_visible()
    expect(line.first).to_contain_text("Run All Cells")
    places = page.get_by_text("Error displaying widget")
    expect(places.first).to_be_attached()
    line.first.scroll_into_view_if_needed()
    shot(page, "saved_next_day")
    assert all(one.is_visible() for one in line.all())
    run_all(page)
    expect(page.locator(".mv-bits").first).to_be_visible()
    assert not any(one.is_visible() for one in line.all())


MADE = "from mechlogic import load\nfrom mechlogic.widgets import FaultBench, MachineView\n"
RUN_FIRST = """async () => {
    const notebook = jupyterapp.shell.currentWidget.content;
    notebook.activeCellIndex = 0;
    notebook.deselectAll();
    await jupyterapp.commands.execute('notebook:run-cell');
}"""


def test_what_one_cell_made_and_another_shows_lives_through_run_all_twice(
    page: Page, open_workbook, run_all, console_errors, shot, tmp_path
):
    cells = (f"{MADE}view = MachineView(load('wind'))", "view", "FaultBench(view)")
    kernel = {"name": "python3", "display_name": "Python 3 (ipykernel)", "language": "python"}
    made = new_notebook(
        cells=[new_code_cell(source) for source in cells], metadata={"kernelspec": kernel}
    )
    nbformat.write(made, tmp_path / "small.ipynb")
    open_workbook(page, "small.ipynb", tmp_path)
    for _ in range(2):
        run_all(page)
        expect(page.locator(".mv-bits")).to_have_count(1)
        page.locator(".mv-bits button").first.click()
        expect(page.locator(".mv-bits button").first).to_have_attribute("aria-pressed", "true")
    shot(page, "run_all_twice")
    page.evaluate(RUN_FIRST)  # its old picture is closed, and the cell that shows it says so
    expect(page.locator(".mv-bits")).to_have_count(0)
    expect(page.locator(".ml-saved").first).to_be_visible()
    shot(page, "first_cell_again")
    run_all(page)
    expect(page.locator(".mv-bits")).to_have_count(1)
    assert not any(one.is_visible() for one in page.locator(".ml-saved").all())
    assert console_errors(page) == []
