"""How far a student is: the workbooks, and how many of their questions are answered."""

from collections.abc import Sequence
from html import escape
from pathlib import Path

import ipywidgets as w

from mechlogic.bench import pages
from mechlogic.teaching.progress import FILE, SEALED, Kept, ProgressError, Workbook, workbooks
from mechlogic.widgets.buttons import AskFirst
from mechlogic.widgets.screen import Screen
from mechlogic.widgets.turns import in_turn

STYLE = """
.mp-list { border-collapse: collapse; margin: 6px 0; }
.mp-list :is(td, th) { padding: 3px 18px 3px 0; text-align: left; font-weight: 400; }
.mp-list progress { width: 140px; height: 12px; accent-color: #0f6199; vertical-align: middle; }
"""


class Progress(Screen):
    """The workbooks of a folder and how far each is done; it can all be forgotten.

    Args:
        folder: Where the workbooks lie.
    """

    def __init__(self, folder: str | Path = ".") -> None:
        self._folder, self._kept = Path(folder), Kept(Path(folder) / FILE)
        self._page = w.HTML(layout=w.Layout(width="auto"))
        again = w.Button(description="Look again", layout=w.Layout(width="auto"))
        again.on_click(lambda _: self.show())
        self._forget = AskFirst(
            "Forget all answers", "Forget every answer? Press again", self.reset
        )
        buttons = w.HBox([again, self._forget])
        style = w.HTML(f"<style>{pages.STYLE}{STYLE}</style>")
        super().__init__([style, self._page, buttons], layout=w.Layout(width="auto"))
        self.show()

    @in_turn
    def show(self) -> None:
        """Read what is kept, and show it."""
        self._forget.calm()
        try:
            done, problems = self._kept.read()
        except ProgressError as error:
            done, problems = frozenset(), (str(error),)
        self._say(_table(workbooks(self._folder), done), problems)

    def reset(self) -> None:
        """Forget every answer."""
        try:
            self._kept.reset()
        except ProgressError as error:
            self._say("", [str(error)])
        else:
            self.show()

    def _say(self, html: str, problems: Sequence[str]) -> None:
        items = "".join(f"<li>{escape(one)}</li>" for one in problems)
        said = f'<ul class="ml-problems" role="alert">{items}</ul>' if problems else ""
        self._page.value = f'<div class="ml-page">{html}{said}</div>'


def _table(found: Sequence[Workbook], done: frozenset[str]) -> str:
    """The workbooks as a table: title, a bar, and in words how many questions are answered."""
    rows = "".join(_row(workbook, done) for workbook in found if workbook.questions)
    if not rows:
        return "<p>No workbook with questions lies in this folder.</p>"
    sealed = sum(key.startswith(SEALED) for key in done)
    also = f"<p>Hidden faults repaired: {sealed}.</p>" if sealed else ""
    return (
        '<table class="mp-list"><tr><th scope="col"><b>Workbook</b></th>'
        f'<th scope="col" colspan="2"><b>Questions answered</b></th></tr>{rows}</table>{also}'
    )


def _row(workbook: Workbook, done: frozenset[str]) -> str:
    answered, n = workbook.answered(done), len(workbook.questions)
    tick = " ✓" if answered == n else ""
    return (
        f'<tr><th scope="row">{escape(workbook.title)}</th>'
        f'<td><progress max="{n}" value="{answered}" '
        f'aria-label="{escape(workbook.title)}"></progress></td>'
        f"<td>{answered} of {n}{tick}</td></tr>"
    )
