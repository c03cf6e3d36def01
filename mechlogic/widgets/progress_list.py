"""How far a student is: the workbooks, and how many of their questions are answered."""

from pathlib import Path

import ipywidgets as w

from mechlogic.bench import pages
from mechlogic.teaching.progress import FILE, SEALED, Kept, ProgressError, workbooks
from mechlogic.widgets.buttons import AskFirst
from mechlogic.widgets.screen import Screen, button, page, row, said, styled
from mechlogic.widgets.turns import in_turn

STYLE = Path(__file__).with_suffix(".css").read_text(encoding="utf-8")


class Progress(Screen):
    """The workbooks of a folder and how far each is done; it can all be forgotten.

    Args:
        folder: Where the workbooks lie.
    """

    def __init__(self, folder: str | Path = ".") -> None:
        self._folder, self._kept = Path(folder), Kept(Path(folder) / FILE)
        self._page = page()
        self._forget = AskFirst(
            "Forget all answers", "Forget every answer? Press again", self.reset
        )
        buttons = row(button("Look again", self.show), self._forget)
        style = styled(pages.STYLE, STYLE)
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
        rows = [
            (workbook.title, workbook.answered(done), len(workbook.questions))
            for workbook in workbooks(self._folder)
            if workbook.questions
        ]
        sealed = sum(key.startswith(SEALED) for key in done)
        self._page.value = said("progress", rows, sealed, problems)

    @in_turn
    def reset(self) -> None:
        """Forget every answer."""
        try:
            self._kept.reset()
        except ProgressError as error:
            self._page.value = said("progress", [], 0, [str(error)])
        else:
            self.show()
