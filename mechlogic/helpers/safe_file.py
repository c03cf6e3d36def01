"""Files that are replaced whole or not at all, and one writer at a time.

Whatever happens (a full disk, a kill, a power cut), a file written here is either the old one or
the new one.  The new text is written beside the old, forced onto the disk, and only then given
the old one's name; POSIX ``rename`` promises that nobody ever sees less than one of the two.
"""

import errno
import os
import secrets
import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

__all__ = ["clear_away", "locked", "mend_for", "write_whole"]

PATIENCE_S = 10.0
"""How long to wait for another program that is just saving, in seconds."""


def write_whole(path: str | os.PathLike[str], data: bytes) -> None:
    """Put *data* in the place of a file, whole or not at all.

    A link is written through, and the file keeps its permissions.  One that may only be read
    stays as it is, even in a folder where it could be replaced.

    Raises:
        OSError: If it cannot be written; the old file is then as it was, and nothing is left
            beside it.
    """
    target = Path(path).resolve()
    if target.exists():
        with open(target, "r+b"):  # the system's own word on whether it may be changed
            pass
    beside = target.with_name(f".{target.name}.{secrets.token_hex(4)}")
    try:
        with open(beside, "xb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        if target.exists():
            shutil.copymode(target, beside)
        os.replace(beside, target)
    finally:
        beside.unlink(missing_ok=True)
    _settle(target.parent)


def _settle(folder: Path) -> None:
    """Force a folder's list of names onto the disk, where the system knows how."""
    if os.name == "nt":  # Windows opens no folders; its own journal does this
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    except OSError as error:
        if error.errno not in (errno.EINVAL, errno.ENOTSUP):  # some network folders cannot
            raise
    finally:
        os.close(handle)


def clear_away(path: str | os.PathLike[str]) -> None:
    """Clear away what a writer of this file left beside it when it was killed.

    Only for a writer that holds the lock: it would pull the rug from under another.
    """
    target = Path(path).resolve()
    prefix = f".{target.name}."
    for beside in target.parent.iterdir():
        tail = beside.name.removeprefix(prefix)
        if beside.name != tail and len(tail) == 8 and not set(tail) - set("0123456789abcdef"):
            beside.unlink(missing_ok=True)


@contextmanager
def locked(folder: str | os.PathLike[str]) -> Iterator[None]:
    """Keep other programs that ask for this lock out of a folder meanwhile.

    The lock is the system's own: it leaves no file behind and ends with the program, however that
    ends.  Windows and some network folders have none; there two programs that save within the
    same few milliseconds are not kept apart.

    Raises:
        OSError: If there is no such folder, or another program holds the lock for ten seconds.
    """
    try:
        import fcntl
    except ImportError:
        yield
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        give_up = time.monotonic() + PATIENCE_S
        while True:
            try:
                fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
                break
            except BlockingIOError:
                if time.monotonic() > give_up:
                    raise
                time.sleep(0.005)
            except OSError:  # a folder that knows no locks
                break
        yield
    finally:
        os.close(handle)


def mend_for(error: OSError) -> str:
    """What a person can do about a file that could not be written."""
    return _MENDS.get(error.errno or 0, "Check the name and the folder, then save again")


_MENDS = {
    errno.ENOSPC: "Free some space on the disk, or choose another folder, then save again",
    errno.EDQUOT: "Free some of your share of the disk, or choose another folder, then save again",
    errno.EFBIG: "Files may not grow so large here: choose another folder, then save again",
    errno.EACCES: "You may not write here: choose a folder of your own, or ask for permission",
    errno.EPERM: "You may not write here: choose a folder of your own, or ask for permission",
    errno.EROFS: "This disk can only be read: choose a folder on another one",
    errno.ENOENT: "There is no such folder: make it, or choose another",
    errno.EAGAIN: "Another program is saving in this folder: wait until it has done, or close it",
    errno.ENAMETOOLONG: "Choose a shorter name",
}
