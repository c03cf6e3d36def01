"""Looking into a screen of widgets."""


def inside(widget):
    """The widget itself and every widget in it."""
    yield widget
    for child in getattr(widget, "children", ()):
        yield from inside(child)
