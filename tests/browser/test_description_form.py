"""A machine is described in a form, with scripted hands and no line of TOML typed."""

import pytest
from playwright.sync_api import Locator, Page, expect


class Hands:
    """Clicks and typing in one form; each is counted."""

    def __init__(self, page: Page, form: Locator) -> None:
        self.page, self.form = page, form
        self.actions = self.keys = 0

    @property
    def minutes(self) -> float:
        """At 200 ms a key, and 6 s to find and do each thing."""
        return (self.keys * 0.2 + self.actions * 6) / 60

    def press(self, name: str) -> None:
        self.form.get_by_role("button", name=name, exact=True).click()
        self.actions += 1

    def choose(self, label: str, option: str) -> None:
        box = self.form.locator("input,textarea,select").and_(
            self.form.get_by_label(label, exact=True)
        )
        box.locator("option", has_text=option).first.wait_for(state="attached")
        value = box.locator("option").filter(has_text=option).first.text_content()
        box.select_option(label=value)
        self.actions += 1

    def write(self, label: str, said: str) -> None:
        box = self.form.locator("input,textarea,select").and_(
            self.form.get_by_label(label, exact=True)
        )
        box.click()
        box.press("Control+a")
        self.page.keyboard.type(said)
        box.blur()
        self.actions += 1
        self.keys += len(said)


@pytest.fixture
def hands(page: Page, open_workbook, run_all) -> Hands:
    page.set_viewport_size({"width": 1366, "height": 768})
    open_workbook(page, "08_your_own_machine.ipynb")
    run_all(page)
    form = page.locator(".ml-screen").filter(has_text="Add parts and tables").last
    page.get_by_text("Add parts and tables").last.click()
    return Hands(page, form)


def test_six_bits_and_two_rows_of_32_from_a_blank_form(hands, console_errors, shot):
    """Five bits shift a bar of 32 places by summing levers; the sixth lifts the second row."""
    for summing in ("three bits", "two bits"):
        hands.choose("Assembly", f"A whiffletree of {summing}")
        if summing == "two bits":
            hands.write("Its bars", "bar4, bar5")
        hands.press("Add it")
    hands.choose("Table", "part bar5")
    hands.press("Copy")
    hands.choose("Moved by", "output pin divides")
    hands.write("Name", "turn")
    hands.press("Add a part")
    hands.write("first", "main_lever")
    hands.write("second", "lever_2")
    hands.write("first_arm_mm", "24")  # a place of the one lever is eight places of the other
    hands.write("second_arm_mm", "7,0")
    expect(hands.form.locator("svg.mechlogic").first).to_be_visible()
    shot(hands.page, "form_half_described")
    hands.choose("Prints with", "A type wheel")
    hands.press("Add this table")
    hands.write("lift", "bar6")
    hands.write("turn", "turn")
    low, high = "ABCDEFGHIJKLMNOPQRSTUVWXYZ012345", "abcdefghijklmnopqrstuvwxyz6789+-"
    hands.write("glyphs", f"{low}\n{high}")
    expect(hands.form).to_contain_text("to mend")
    shot(hands.page, "form_wheel")
    hands.choose("Table", "codes")
    hands.write("alphabet", low + high)
    hands.press("Take what it prints now")
    expect(hands.form).to_contain_text("Every claim about its codes holds")
    shot(hands.page, "form_done")
    print(hands.actions, "actions,", hands.keys, "keys:", hands.minutes, "minutes")
    assert hands.minutes < 15
    assert console_errors(hands.page) == []


def test_a_shift_and_typebars_from_a_blank_form(hands, console_errors):
    """Two bits, four pull bars, of which one throws a shift and one throws it back."""
    hands.choose("Assembly", "Pull bars over two notched bars")
    hands.press("Add it")
    hands.choose("Moved by", "stays where it was last put")
    hands.write("Name", "shift")
    hands.press("Add a part")
    hands.write("set", "pull_3")
    hands.write("reset", "pull_2")
    hands.write("throw_mm", "6")
    hands.choose("Prints with", "A basket of typebars")
    hands.press("Add this table")
    hands.write("shift", "shift")
    for pull, letters in (("pull_0", "A1"), ("pull_1", "B2")):
        hands.choose("Table", "what it prints with: typebars")
        hands.press("Add to bars")
        hands.write("pull", pull)
        hands.write("type", letters)
    hands.choose("Table", "what it prints with: typebars")
    hands.write("unused", "1\n2")  # a code of one's own has one case
    hands.choose("Table", "codes")
    hands.write("alphabet", "ABCD")
    hands.press("Take what it prints now")
    expect(hands.form).to_contain_text("Every claim about its codes holds")
    print(hands.actions, "actions,", hands.keys, "keys:", hands.minutes, "minutes")
    assert hands.minutes < 15
    assert console_errors(hands.page) == []
