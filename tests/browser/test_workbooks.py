"""The workbooks in JupyterLab, used as their readers would."""

from playwright.sync_api import Page, expect


def test_a_bit_is_clicked_in_the_whole_machine_and_the_character_changes(
    page: Page, open_workbook, run_all, shot
):
    open_workbook(page, "02_whole_machine.ipynb")
    run_all(page)
    chosen = page.locator(".cell.facing").first
    expect(chosen).to_have_attribute("data-glyph", "A")
    page.locator(".mv-bits button").nth(5).click()  # b2; the highest bit is on the left
    expect(chosen).to_have_attribute("data-glyph", "C")
    page.locator(".mv-bits button").nth(5).click()  # b2; the highest bit is on the left
    expect(chosen).to_have_attribute("data-glyph", "A")
    shot(page, "whole_machine")


def test_a_newcomer_gets_from_a_sample_log_to_the_right_suspect(
    page: Page, open_workbook, run_all, console_errors, shot
):
    open_workbook(page, "03_bench.ipynb")
    run_all(page)
    page.get_by_label("Log", exact=True).select_option("cold morning")
    first = page.locator(".ml-suspects > li").first
    expect(first).to_contain_text("middle stop lever: slow to return")
    expect(first).to_contain_text("It explains all 7 misprints")
    expect(page.locator(".ml-next")).to_contain_text("middle stop lever")
    shot(page, "bench_cold_morning")

    page.get_by_label("Log", exact=True).select_option("three letters")
    expect(page.locator(".ml-next")).to_contain_text("Next: type 7")

    page.get_by_placeholder("A, CR, 4/1").fill("7")
    page.get_by_placeholder("A, nothing").fill("3")
    page.get_by_role("button", name="Add entry").click()
    expect(page.locator(".ml-summary")).to_contain_text("4 entries")
    expect(first).to_contain_text("left stop lever")
    shot(page, "bench_three_letters")
    assert console_errors(page) == []


SCROLLING = """() => [...document.querySelectorAll('.jp-OutputArea-output *')].filter(e => {
    const style = getComputedStyle(e);
    return /auto|scroll/.test(style.overflowX + style.overflowY)
        && (e.scrollWidth > e.clientWidth + 1 || e.scrollHeight > e.clientHeight + 1
            && !e.matches('.ml-suspected, .ml-columns .widget-tab-contents'));  // long lists
}).map(e => e.className)"""
CUT = """() => [...document.querySelectorAll('.jp-OutputArea button, .jp-OutputArea label')]
    .filter(e => e.offsetWidth && e.scrollWidth > e.clientWidth + 1).map(e => e.textContent)"""


def test_the_bench_says_what_it_searched_with_nothing_cut(page: Page, open_workbook, run_all, shot):
    page.set_viewport_size({"width": 1366, "height": 768})
    open_workbook(page, "03_bench.ipynb")
    run_all(page)
    page.get_by_label("Log", exact=True).select_option("three letters")
    page.get_by_label("Misread entries").select_option("up to 2")
    page.get_by_role("button", name="Look further").click()
    searched = page.get_by_text("Searched: every set of at most two faults")
    expect(searched).to_contain_text("counting up to 2 misread entries")
    for tab in ("Every check", "My hypothesis", "Acceptance", "Record", "Type map"):
        page.get_by_role("tab", name=tab).click()
        expect(page.get_by_role("tab", name=tab)).to_have_attribute("aria-selected", "true")
        assert page.evaluate(SCROLLING) == [], tab
        assert page.evaluate(CUT) == [], tab
    shot(page, "bench_searched")


def test_the_whole_bench_is_seen_at_once(page: Page, open_workbook, run_all, shot):
    """Machine, log, entry, next check, suspects and type map, in a window of 1366 x 768."""
    page.set_viewport_size({"width": 1366, "height": 768})
    open_workbook(page, "03_bench.ipynb")
    run_all(page)
    page.get_by_label("Log", exact=True).select_option("cold morning")
    expect(page.locator(".ml-suspects > li")).to_have_count(5)  # and what is not on the list
    bench, paper = page.locator(".ml-bench"), page.locator(".jp-WindowedPanel-outer")
    bench.evaluate("e => e.scrollIntoView()")
    within, above = bench.bounding_box(), paper.bounding_box()
    assert within["y"] + within["height"] <= above["y"] + above["height"]
    for seen in (
        page.get_by_label("Machine", exact=True),
        page.get_by_role("button", name="Add entry"),
        page.locator(".ml-next"),
        page.locator(".ml-suspects > li").last,
        page.get_by_role("button", name="Look further"),
        page.locator(".ml-wheel tr").last,
        page.get_by_role("tab", name="Record"),
    ):
        expect(seen).to_be_in_viewport(ratio=1)
    shot(page, "bench_at_once")


def test_enter_adds_an_entry_and_the_bench_takes_the_whole_screen(
    page: Page, open_workbook, run_all, console_errors, shot
):
    open_workbook(page, "03_bench.ipynb")
    run_all(page)
    page.get_by_placeholder("A, CR, 4/1").fill("G")
    page.get_by_placeholder("A, nothing").fill("U")
    page.keyboard.press("Enter")
    expect(page.locator(".ml-summary")).to_contain_text("1 entry, 1 misprint")
    expect(page.get_by_placeholder("A, CR, 4/1")).to_be_focused()
    page.keyboard.type("H")  # and on, without a pause
    page.keyboard.press("Tab")
    page.keyboard.type("nothing")
    page.keyboard.press("Enter")
    expect(page.locator(".ml-summary")).to_contain_text("2 entries, 2 misprints")
    expect(page.get_by_label("entry 2: H sent, nothing printed")).to_be_visible()
    page.get_by_role("button", name="Full screen").press("Enter")
    leave = page.get_by_role("button", name="Leave full screen")
    expect(leave).to_be_visible()
    shot(page, "bench_full_screen")
    leave.press("Enter")
    expect(page.get_by_role("button", name="Full screen", exact=True)).to_be_visible()
    assert console_errors(page) == []


def test_a_hypothesis_is_held_against_the_log(page: Page, open_workbook, run_all, shot):
    open_workbook(page, "03_bench.ipynb")
    run_all(page)
    page.get_by_label("Log", exact=True).select_option("cold morning")
    page.get_by_role("tab", name="My hypothesis").click()
    page.locator(".jupyter-widgets select").filter(has_text="left stop lever").first.select_option(
        "left stop lever"
    )
    page.get_by_role("button", name="Test against the log").click()
    expect(page.locator(".ml-verdict")).to_contain_text("It cannot be the whole truth")
    shot(page, "bench_hypothesis")
