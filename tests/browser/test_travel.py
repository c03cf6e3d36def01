"""Errors at the hammer and a bar part-way, as a reader moves the sliders."""

from playwright.sync_api import Page, expect


def test_sliders_clip_letters_and_push_a_bar_while_the_page_stands_still(
    page: Page, open_workbook, run_all, console_errors, shot
):
    open_workbook(page, "06_travel_and_adjustment.ipynb")
    run_all(page)
    errors = page.locator(".jp-OutputArea-output").filter(has=page.locator(".mechlogic-errors"))
    says = errors.get_by_role("status")
    expect(says).to_have_text("Of 56 characters: 56 whole.")
    stop = errors.get_by_role("slider").first
    height = errors.bounding_box()["height"]
    stop.focus()
    for _ in range(10):
        page.keyboard.press("ArrowLeft")
    expect(says).to_have_text("Of 56 characters: 42 whole and 14 clipped at the bottom.")
    assert abs(errors.bounding_box()["height"] - height) < 2, "nothing below it jumps"
    shot(page, "errors_one_stop_low")
    errors.get_by_role("button", name="All in order").click()
    expect(says).to_have_text("Of 56 characters: 56 whole.")

    breaks = page.locator(".jp-OutputArea-output").filter(has=page.locator(".mechlogic-breaks"))
    depth, told = breaks.first.get_by_role("slider"), breaks.first.get_by_role("status")
    expect(told).to_contain_text("stands at 0.00 of 4 mm: A is printed, whole.")
    depth.focus()
    page.keyboard.press("End")
    expect(told).to_contain_text("stands at 4.00 of 4 mm: E is printed, whole.")
    shot(page, "bar_part_way")
    assert console_errors(page) == []
