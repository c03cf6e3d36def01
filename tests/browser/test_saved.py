"""A workbook that was saved and is opened the next day says what to do."""

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
