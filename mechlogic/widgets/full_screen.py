"""A button that gives the whole screen to the box it stands in."""

import anywidget
import traitlets

from mechlogic.widgets.scripts import script


class FullScreen(anywidget.AnyWidget):
    """Put among the children of a box: its button gives that box the screen, and takes it back.

    Attributes:
        around: The CSS class of the box.
    """

    around = traitlets.Unicode("ml-bench").tag(sync=True)

    _esm = script("full_screen.js")
