"""The live picture on a page without Python, for browser tests."""

import json
from pathlib import Path

from playwright.sync_api import expect

from mechlogic import widgets
from mechlogic.drawing import scene, style, type_sheet
from mechlogic.widgets.frames import frames
from mechlogic.widgets.scripts import script

FRONT_END = Path(widgets.__file__).parent


class View:
    """The live picture, and what a reader sees and does there."""

    def __init__(self, page, shot):
        self.page, self.shot = page, shot
        self.view = page.locator(".mv-view")

    def show(self, machine, *faults):
        """Mount the picture of a machine with faults on an empty page."""
        picture = scene(machine)
        data = {
            "svg": picture.svg,
            "wheel": type_sheet(machine),
            "poses": picture.poses,
            "frames": frames(machine, faults),
        }
        look = style() + (FRONT_END / "front_end.css").read_text(encoding="utf-8")
        told = json.dumps(data).replace("</", "<\\/")
        self.page.set_content(
            f'<!doctype html><meta charset="utf-8"><style>{look}</style><body>'
            f'<main></main><script type="module">{script("front_end.js")}\n'
            f'mount(document.querySelector("main"), {told});</script>'
        )
        expect(self.view).to_be_visible()
        return self

    def type(self, text):
        self.view.locator(".mv-send").click()
        self.page.keyboard.type(text)

    def press(self, name):
        self.view.locator(".mv-keys").get_by_text(name, exact=True).click()

    def click(self, glyph):
        self.view.locator(f'[data-cell][data-glyph="{glyph}"]').click()

    def paper(self):
        return self.view.locator(".mv-print .mv-said").all_text_contents()

    def says(self, *words):
        for said in words:
            expect(self.view.locator(".mv-what")).to_contain_text(said)

    def classes(self, name, number=0):
        return self.view.locator(f'[data-part="{name}"]').nth(number).get_attribute("class").split()
