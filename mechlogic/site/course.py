"""The workbooks, sample logs and examples that come with the library, put where they are wanted."""

from pathlib import Path

from mechlogic.helpers import safe_file

__all__ = ["course_files", "put_workbooks"]

PACKAGE = Path(__file__).parent.parent

KINDS = ("[0-9][0-9]_*.ipynb", "logs/*.csv", "machines/*.toml")
"""What belongs to the course."""


def course_folder() -> Path:
    """Where the workbooks lie: in an installed copy inside the package, in a checkout beside it."""
    inside = PACKAGE / "workbooks"
    return inside if inside.is_dir() else PACKAGE.parent / "workbooks"


def course_files() -> dict[str, bytes]:
    """All files of the course: path from its folder, and contents.

    Raises:
        FileNotFoundError: If they did not come with this copy.
    """
    folder = course_folder()
    found = sorted(path for kind in KINDS for path in folder.glob(kind))
    if not found:
        raise FileNotFoundError(f"no workbooks in {folder}: install mechlogic again")
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in found}


def put_workbooks(folder: str | Path) -> tuple[list[str], list[str]]:
    """Put the course into a folder; what is there already stays as it is.

    Args:
        folder: Where to; it is made if it is not there.

    Returns:
        The paths written, and the paths left alone because the reader has changed them.

    Raises:
        OSError: If a file cannot be written.
    """
    written, kept = [], []
    for name, data in course_files().items():
        target = Path(folder, name)
        if not target.exists():
            target.parent.mkdir(parents=True, exist_ok=True)
            safe_file.write_whole(target, data)
            written.append(name)
        elif target.read_bytes() != data:
            kept.append(name)
    return written, kept
