"""A slow part is found over the line: sent as a burst, the paper read, the log diagnosed."""

import re

from playwright.sync_api import expect


def test_a_burst_is_sent_and_its_paper_is_entered(
    page, open_workbook, run_all, console_errors, shot
):
    folder = open_workbook(page, "11_on_the_line.ipynb")
    run_all(page)
    page.get_by_role("button", name="Open the line").click()
    expect(page.get_by_text("Open: 150 ms a character.")).to_be_visible()
    page.get_by_label("To send").fill("THE QUICK FOX 1234")
    page.get_by_role("button", name="Send the text", exact=True).click()
    expect(page.get_by_text(re.compile(r"Sent (\d+) of \1:"))).to_be_visible()
    paper = page.locator("pre.ml-paper").inner_text()
    assert paper != "THE QUICK FOX 1234"  # a part is slow
    shot(page, "line_sent")
    page.get_by_role("textbox", name="Paper shows").fill(paper)
    page.get_by_role("button", name="Enter what it shows").click()
    expect(page.get_by_text(re.compile(r"The log on the bench has \d+ entries"))).to_be_visible()
    page.get_by_role("button", name="Send the text", exact=True).click()
    expect(page.get_by_text(re.compile(r"Sent [2-9] of"))).to_be_visible()
    page.get_by_role("button", name="Stop sending").click()
    expect(page.get_by_text("Stopped: the next character is held back.")).to_be_visible()
    assert list(folder.rglob("line_sent.jsonl"))
    page.get_by_role("button", name="Close the line").click()
    expect(page.get_by_text("The line is closed.")).to_be_visible()
    assert console_errors(page) == []
