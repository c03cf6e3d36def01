"""The proof of workbook 01 taken apart, as a reader does it with the keyboard."""

from playwright.sync_api import Page, expect


def narrow(page):
    """A window as wide as a telephone, with nothing but the notebook in it."""
    page.evaluate("jupyterapp.commands.execute('application:toggle-left-area')")
    page.evaluate("jupyterapp.commands.execute('application:toggle-mode')")
    page.set_viewport_size({"width": 390, "height": 844})


def assert_inside(page, seen):
    """Nothing of them reaches beyond the right edge of the notebook."""
    edge = page.locator(".jp-Notebook").bounding_box()
    for one in seen:
        at = one.bounding_box()
        assert at["x"] + at["width"] <= edge["x"] + edge["width"]


def test_a_claim_is_proved_or_refuted_by_a_setting_that_the_picture_shows(
    page: Page, open_workbook, run_all, console_errors, shot
):
    page.set_viewport_size({"width": 1366, "height": 768})
    open_workbook(page, "01_levers_as_logic.ipynb")
    run_all(page)
    box = page.locator(".ml-screen").filter(has=page.get_by_label("exactly when"))
    claim, says = box.get_by_label("exactly when"), box.get_by_role("status").first
    claim.focus()
    page.keyboard.type("b1 and b2")
    page.keyboard.press("Enter")
    expect(says).to_contain_text("Refuted: the middle stop lever")
    expect(box.locator(".mv-bits button[aria-pressed=true]")).to_have_count(1)
    shot(page, "claim_refuted")
    claim.fill("b1 or")
    page.keyboard.press("Enter")
    expect(box.get_by_role("alert").first).to_contain_text(
        "At letter 6, the end: a name is missing"
    )
    box.get_by_label("Machine", exact=True).select_option(label="Saltmere type-wheel page printer")
    box.get_by_label("Part", exact=True).select_option(label="print hammer")
    claim.fill("b7 or b6 and (b4 or b5)")
    page.keyboard.press("Enter")
    expect(says).to_contain_text("Proved: the print hammer stands at 4 mm")
    narrow(page)
    claim.scroll_into_view_if_needed()
    shot(page, "claim_390")
    assert_inside(page, (*box.get_by_role("combobox").all()[:3], claim, says))
    assert console_errors(page) == []


def test_levers_are_set_by_keyboard_until_four_heights_come_and_all_triples_are_seen(
    page: Page, open_workbook, run_all, console_errors, shot
):
    page.set_viewport_size({"width": 1366, "height": 768})
    open_workbook(page, "01_levers_as_logic.ipynb")
    run_all(page)
    box = page.locator(".ml-screen").filter(has=page.get_by_label("00: middle stop lever out"))
    says = box.get_by_role("status")
    expect(says).to_contain_text("1 height, and four are wanted")
    levers = {"01": ["middle"], "10": ["middle", "left"], "11": ["middle", "left", "right"]}
    for setting, names in levers.items():
        for name in names:
            box.get_by_label(f"{setting}: {name} stop lever out").focus()
            page.keyboard.press("Space")
    expect(says).to_contain_text(
        "Four different heights. With no bit set the rack is at the lowest"
    )
    expect(says).to_contain_text("middle stop lever: b1 | b2")
    shown = box.get_by_role("img", name="11: the rack stops at 15 mm, with nothing in the way.")
    expect(shown).to_be_visible()
    box.get_by_role("img").first.scroll_into_view_if_needed()
    shot(page, "rack_trial")
    triples = page.get_by_role("img", name="Of 4,096 triples of levers, 192 give four heights")
    triples.evaluate("e => e.scrollIntoView({block: 'center'})")
    shot(page, "all_triples")
    narrow(page)
    levers = box.get_by_role("checkbox").all()
    assert_inside(page, (triples, says, *box.get_by_role("img").all(), *levers))
    triples.evaluate("e => e.scrollIntoView({block: 'center'})")
    shot(page, "all_triples_390")
    box.get_by_role("img").first.evaluate("e => e.scrollIntoView()")
    shot(page, "rack_trial_390")
    assert console_errors(page) == []


def test_the_steps_of_a_formula_are_set_as_latex(
    page: Page, open_workbook, run_all, console_errors, shot
):
    page.set_viewport_size({"width": 1366, "height": 768})
    open_workbook(page, "01_levers_as_logic.ipynb")
    run_all(page)
    formula = page.locator(".jp-RenderedLatex mjx-container").first
    expect(formula).to_be_visible()
    formula.evaluate("e => e.scrollIntoView({block: 'center'})")
    shot(page, "steps")
    narrow(page)
    formula.evaluate("e => e.scrollIntoView({block: 'center'})")
    shot(page, "steps_390")
    assert console_errors(page) == []
