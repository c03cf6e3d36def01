"""What a notebook's cell has made goes when the cell is run again.

A widget lives until it is closed, and nobody closes those of a cell whose output is replaced: forty
runs of a bench would keep forty benches, with their machines and diagnoses.
"""

from typing import Any

from ipywidgets.widgets.widget import Widget, _instances

from mechlogic.widgets.screen import close, inside

__all__ = ["watch"]


class _Cells:
    """Which widgets each cell made in its last run.

    Args:
        shell: The IPython that runs the cells.
    """

    def __init__(self, shell: Any) -> None:
        self._shell = shell
        self._made: dict[str, list[Widget]] = {}
        self._before: set[str] = set()

    def begins(self, info: Any) -> None:
        """Close what the last run of this cell made, with all that has come into it since."""
        gone = self._made.pop(_key(info), [])
        close(part for widget in gone for part in inside(widget))
        closed = {id(widget) for widget in gone}
        for number, value in list(self._shell.user_ns.get("_oh", {}).items()):
            if id(value) in closed:  # what a cell gave is kept under its number
                del self._shell.user_ns["_oh"][number]
                self._shell.user_ns.pop(f"_{number}", None)
        self._before = set(_instances)

    def ended(self, result: Any) -> None:
        """Note what this run has made."""
        if result.info is not None:
            made = [one for name, one in _instances.items() if name not in self._before]
            self._made[_key(result.info)] = made


def _key(info: Any) -> str:
    return str(info.cell_id or info.raw_cell)


_watched: list[Any] = []


def watch() -> None:
    """Close what a cell made when it is run again, from now on, if a notebook runs."""
    from IPython.core.getipython import get_ipython

    shell: Any = get_ipython()
    if shell is None or shell in _watched:
        return
    _watched[:] = [shell]
    cells = _Cells(shell)
    cells._before = set(_instances)
    shell.events.register("pre_run_cell", cells.begins)
    shell.events.register("post_run_cell", cells.ended)
