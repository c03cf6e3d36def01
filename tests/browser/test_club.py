"""An instructor makes an evening: the sheets appear beside the workbook, and none is lost."""

from playwright.sync_api import expect


def test_a_preview_and_three_files(page, open_workbook, run_all, console_errors, shot):
    folder = open_workbook(page, "10_club_evening.ipynb")
    run_all(page)
    page.get_by_label("Machine").first.select_option(label="Saltmere wind stamp")
    page.get_by_role("button", name="Preview").click()
    expect(page.get_by_text("Team 4: level 2")).to_be_visible()
    shot(page, "club_preview")
    page.get_by_role("button", name="Make the sheets").click()
    expect(page.get_by_text("club_wind_1_instructor_a4.html")).to_be_visible()
    made = sorted(folder.rglob("club_*.html"))
    assert [path.name for path in made] == [
        "club_wind_1_instructor_a4.html",
        "club_wind_b483_hand_outs_a4.html",
        "club_wind_b483_hunt_sheets_a4.html",
    ]
    shot(page, "club_made")
    made[0].write_bytes(b"somebody's own")
    page.get_by_role("button", name="Make the sheets").click()
    expect(page.get_by_role("alert").first).to_contain_text("is there already")
    assert made[0].read_bytes() == b"somebody's own"
    assert console_errors(page) == []
