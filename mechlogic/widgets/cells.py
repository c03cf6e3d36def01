"""What a notebook's cell has made goes when the cell is run again, and a saved notebook says so.

A widget lives until it is closed, and nobody closes those of a cell whose output is replaced: forty
runs of a bench would keep forty benches, with their machines and diagnoses.

A saved notebook has no widgets, only their places.  Above each of them stands a line that says what
to do.  The style in it hides it as long as there is a live widget below.
"""

from typing import Any

from ipywidgets.widgets.widget import Widget, _instances

from mechlogic.widgets.screen import close, inside, said

__all__ = ["watch"]


class _Cells:
    """Which widgets each cell made in its last run.

    A cell is known by its ID.  One without is left alone: its twin may have the same text.

    Args:
        shell: The IPython that runs the cells.
    """

    def __init__(self, shell: Any) -> None:
        self._shell = shell
        self._made: dict[str, set[str]] = {}
        self._before: set[str] = set(_instances)

    def begins(self, info: Any) -> None:
        """Close what the last run of this cell made, with all that has come into it since."""
        if info.cell_id:
            gone = self._made.pop(info.cell_id, set())
            others = {id(one) for names in self._made.values() for one in _alive(names)}
            parts = [part for one in _alive(gone) for part in inside(one)]
            close(part for part in parts if id(part) not in others)
            self._forget_closed()
        self._before = set(_instances)

    def ended(self, result: Any) -> None:
        """Note what this run has made."""
        if result.info is not None and result.info.cell_id:
            self._made[result.info.cell_id] = _instances.keys() - self._before

    def _forget_closed(self) -> None:
        """Let go of what cells gave: IPython keeps it, with all it holds, under a number."""
        given = self._shell.user_ns.get("_oh", {})
        for number, value in list(given.items()):
            if isinstance(value, Widget) and value.comm is None:
                del given[number]
                for names in (self._shell.user_ns, self._shell.user_ns_hidden):
                    names.pop(f"_{number}", None)


def _alive(names: set[str]) -> list[Widget]:
    return [_instances[name] for name in names if name in _instances]


_watched: list[Any] = []


def _shown(widget: Widget, **wanted: Any) -> Any:
    """What a cell gives for a widget, once the line for the saved notebook stands above."""
    if any(type(part).__module__.startswith("mechlogic.") for part in inside(widget)):
        _watched[0].display_pub.publish({"text/html": said("saved")})
    return widget._repr_mimebundle_(**wanted)


def watch() -> None:
    """Do both from now on, if a notebook runs."""
    from IPython.core.getipython import get_ipython

    shell: Any = get_ipython()
    if shell is None or shell in _watched:
        return
    _watched[:] = [shell]
    cells = _Cells(shell)
    if shell.has_trait("kernel"):  # a notebook's, whose outputs are saved
        shell.display_formatter.mimebundle_formatter.for_type(Widget, _shown)
    shell.events.register("pre_run_cell", cells.begins)
    shell.events.register("post_run_cell", cells.ended)
