"""My own machines: once described, they are kept beside the logs and listed in every workbook.

Each is kept as the TOML text that describes it, in a file of its own; see
:mod:`mechlogic.helpers.storage` for where.  A description that is wrong is never kept.
"""

from mechlogic.describing.description import LARGEST_FILE, DescriptionError, decode
from mechlogic.helpers import safe_file
from mechlogic.helpers.refusal import on_one_line
from mechlogic.helpers.storage import Storage
from mechlogic.model.machine import Machine

__all__ = ["forget", "keep", "kept_machines"]


def keep(storage: Storage, data: bytes, source: str = "description") -> Machine:
    """Keep a machine of one's own; one that has the same short name is replaced.

    Args:
        storage: Where.
        data: The TOML text that describes it, in UTF-8.
        source: What the text is called in error messages.

    Returns:
        The machine.

    Raises:
        DescriptionError: If the description is wrong; nothing is kept then.
        OSError: If it cannot be saved.
    """
    machine = decode(data, source)
    with storage.locked():
        storage.write(_file_name(machine.name), data)
    return machine


def kept_machines(storage: Storage) -> tuple[dict[str, Machine], tuple[str, ...]]:
    """The machines that are kept, by their short names, and what is wrong with other files."""
    found: dict[str, Machine] = {}
    problems: list[str] = []
    try:
        names = storage.names()
    except OSError as error:
        said = on_one_line(str(error.strerror or error))
        return {}, (f"your own machines cannot be read ({said}). {safe_file.mend_for(error)}.",)
    for name in names:
        if not (name.startswith("machine-") and name.endswith(".toml")):
            continue
        try:
            machine = decode(storage.read(name, 4 * LARGEST_FILE) or b"", name)
        except DescriptionError as error:
            problems.append(str(error))
        except OSError as error:
            problems.append(f"{name}: {error.strerror or error}. {safe_file.mend_for(error)}.")
        else:
            found[machine.name] = machine
    return found, tuple(problems)


def forget(storage: Storage, name: str) -> None:
    """Remove a machine of one's own; its logs stay.

    Raises:
        OSError: If it cannot be removed.
    """
    with storage.locked():
        storage.remove(_file_name(name))


def _file_name(name: str) -> str:
    return f"machine-{safe_file.safe_name(name, 'machine')}.toml"
