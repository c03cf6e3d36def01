"""The machines that come with the library, each described in a TOML file beside this one."""

from pathlib import Path
from weakref import WeakValueDictionary

from mechlogic.describing import description
from mechlogic.model.machine import Machine
from mechlogic.model.mechanism import did_you_mean

FOLDER = Path(__file__).parent

_LOADED: WeakValueDictionary[str, Machine] = WeakValueDictionary()
"""The machines that ship and are in use: whoever loads one again shares what is worked out."""


def names() -> tuple[str, ...]:
    """Names of the machines that come with the library."""
    return tuple(sorted(path.stem for path in FOLDER.glob("*.toml")))


def load(name: str | Path) -> Machine:
    """Load a machine that comes with the library, by name, or one of your own, by path.

    One that comes with the library is the same object for everybody, as long as anybody holds it.

    Args:
        name: ``"saltmere"``, or the path of a TOML file (anything that ends in ``.toml``).

    Raises:
        KeyError: If no machine has that name; the message offers the nearest.
        DescriptionError: If the file cannot be read, or the description is wrong.
    """
    if str(name).endswith(".toml"):
        return description.read(name)
    if name not in names():
        raise KeyError(f"no machine is called {str(name)!r}. {did_you_mean(str(name), names())}")
    machine = _LOADED.get(str(name))
    if machine is None:
        machine = _LOADED[str(name)] = description.read(FOLDER / f"{name}.toml")
    return machine
