"""What every screen of ours is: a column of boxes whose keys stay in it and that tidies up."""

from collections.abc import Callable, Iterable, Sequence
from functools import partial
from pathlib import Path
from typing import Any, ParamSpec, TypeVar

import anywidget
import ipywidgets as w
import traitlets

from mechlogic.helpers.safe_file import mend_for
from mechlogic.helpers.templates import piece
from mechlogic.widgets.scripts import script
from mechlogic.widgets.turns import in_turn

P = ParamSpec("P")
R = TypeVar("R")


said = partial(piece, "said.html")
"""What a screen says, as HTML: a macro of templates/said.html, and what it is called with."""


def styled(*sheets: str) -> w.HTML:
    """Style sheets, as a child of a screen."""
    return w.HTML(said("style", "".join(sheets)))


def row(*boxes: w.Widget) -> w.HBox:
    """Boxes side by side, and below each other where there is no room."""
    return w.HBox(boxes, layout={"flex_flow": "row wrap"})


def button(words: str, do: Callable[[], object] = lambda: None) -> w.Button:
    """A button as wide as its words."""
    made = w.Button(description=words, layout={"width": "auto", "align_self": "flex-start"})
    made.on_click(lambda _: do())
    return made


def labelled(
    kind: type[w.DOMWidget], words: str, width: str = "auto", label: str = "", **options: Any
) -> Any:
    """A control with its label.

    Args:
        kind: Which of ipywidgets.
        words: The label.
        width: How wide it is with its label, in CSS.
        label: How wide the label is, in CSS; as ipywidgets has it if left out.
        options: Whatever else the control takes.
    """
    style = {"description_width": label} if label else {}
    return kind(description=words, layout={"width": width}, style=style, **options)


def page() -> w.HTML:
    """Room for what a screen says, as wide as the screen."""
    return w.HTML(layout={"width": "auto"})


def say(where: w.HTML, html: str) -> None:
    """Change what stands there, in place."""
    where.value = said("page", html) if html else ""


def refused(error: Exception, folder: object) -> str:
    """Why something could not be done, and what to do about it, as HTML.

    Args:
        error: What went wrong.
        folder: What it was done in, where an error of the system names no file.
    """
    if isinstance(error, OSError) and error.errno:
        told = f"{error.filename or folder}: {error.strerror}. {mend_for(error)}."
    else:
        told = str(error)
    return said("problems", [told])


class KeyShield(anywidget.AnyWidget):
    """Put among the children of a box: then no key pressed in it is a command to the notebook.

    Without it, whoever looks for "code bar" in a list by typing its first letters has the notebook
    add a cell for the b and, for two d's, delete one.  Enter in a line of text presses the main
    button beside it, as soon as Python has all that was typed.

    Attributes:
        asked: How often the browser asked whether Python has read everything.
        answered: How often Python said so.
        pressed: What the button in the screen's text that was last pressed asks for, and when.
    """

    asked = traitlets.Int(0).tag(sync=True)
    answered = traitlets.Int(0).tag(sync=True)
    pressed: "traitlets.List[Any]" = traitlets.List().tag(sync=True)

    @traitlets.observe("asked")
    def _answer(self, change: Any) -> None:
        self.answered = change["new"]

    _esm = script("screen.js")
    _css = (Path(__file__).parent / "screen.css").read_text(encoding="utf-8")


class Screen(w.VBox):  # type: ignore[misc]
    """A column of boxes with a shield round it; it says so when Python was restarted.

    Args:
        children: The boxes.
        options: Whatever else a VBox takes.
    """

    def __init__(self, children: Sequence[w.Widget] = (), **options: Any) -> None:
        self._shield, self._trouble = KeyShield(), w.HTML()
        super().__init__([*children, self._trouble, self._shield], **options)
        self.add_class("ml-screen")

    def put(self, children: Iterable[w.Widget]) -> None:
        """Show other boxes; those that are not shown any more are closed."""
        replace_children(self, [*children, self._trouble, self._shield])

    def say_trouble(self, words: str) -> None:
        """Say that something failed, below the boxes; nothing if there are no words."""
        told = words and said("trouble", words)
        if not hasattr(self, "_trouble"):  # it is still being put together, and who does so hears
            return
        if self._trouble.value != told:
            self._trouble.value = told

    def in_turn(self, callback: Callable[P, R]) -> Callable[P, R]:
        """A callback of this screen that waits for its turn; if it fails, this screen says so."""
        return in_turn(callback, self)


def replace_children(box: w.Box, children: Iterable[w.Widget]) -> None:
    """Put other widgets into a box, and close those that were there before.

    Each has a layout and a style of its own, which are closed with it: share none of them.
    """
    before, box.children = box.children, tuple(children)
    kept = {id(one) for one in inside(box)}
    close(gone for one in before for gone in inside(one) if id(gone) not in kept)


def close(widgets: Iterable[w.Widget]) -> None:
    """Close widgets, each with the layout and the style of its own."""
    for gone in list(widgets):
        for part in ("layout", "style"):
            if isinstance(own := getattr(gone, part, None), w.Widget):
                own.close()
        gone.close()


def inside(widget: w.Widget) -> Iterable[w.Widget]:
    """A widget and all that are in it."""
    yield widget
    for child in getattr(widget, "children", ()):
        yield from inside(child)
