"""The motion of a lever in thick oil, as a reader moves the sliders."""

from playwright.sync_api import Page, expect


def test_a_slider_moved_by_key_changes_curve_and_words_in_place(
    page: Page, open_workbook, run_all, console_errors, shot
):
    open_workbook(page, "07_oil_and_time.ipynb")
    run_all(page)
    view = page.locator(".ot-view").first
    says = view.locator(".ot-says")
    expect(says).to_contain_text("10.4 ms in hand")
    chart = view.locator("svg").element_handle()
    curve = view.locator('[data-mark="way"]')
    before = curve.get_attribute("d")

    oil, warmth, rate = (
        view.get_by_role("slider", name=label) for label in ("Oil", "Temperature", "Rate")
    )
    oil.focus()
    for _ in range(10):
        page.keyboard.press("ArrowRight")
    expect(says).to_contain_text("With this oil at this rate it is late below")
    expect(curve).not_to_have_attribute("d", before)
    warmth.focus()
    for _ in range(12):
        page.keyboard.press("ArrowLeft")
    expect(says).to_contain_text("late: it keeps up to")
    expect(view.locator('[data-mark="says"]')).to_contain_text("late")
    shot(page, "oil_late")

    rate.focus()
    page.keyboard.press("Home")
    expect(says).to_contain_text("in hand")
    expect(view.locator('[data-mark="says"]')).to_contain_text("in time")
    assert view.locator("svg").element_handle().evaluate("(now, then) => now === then", chart)
    expect(view.get_by_role("img")).to_have_accessible_name(says.text_content() or "")
    shot(page, "oil_slow_line")
    assert console_errors(page) == []
