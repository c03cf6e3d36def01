"""Files that are replaced whole or not at all, and one writer at a time.

Whatever happens (a full disk, a kill, a power cut), a file written here is either the old one or
the new one.  The new text is written beside the old, forced onto the disk, and only then given
the old one's name; POSIX ``rename`` promises that nobody ever sees less than one of the two.
"""

import errno
import hashlib
import os
import re
import secrets
import shutil
import stat
import time
import unicodedata
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

__all__ = ["clear_away", "locked", "mend_for", "read_bytes", "safe_name", "write_whole"]

PATIENCE_S = 10.0
"""How long to wait for another program that is just saving, in seconds."""


HELD_S = 2.0
"""How long to try to exchange a file that another program holds, in seconds."""


def read_bytes(path: str | os.PathLike[str], most: int) -> bytes:
    """What is in an ordinary file, but no more than *most* bytes and one.

    A pipe or a device is not waited for.

    Raises:
        OSError: If it cannot be read, is no ordinary file, or no file can have such a name.
    """
    flags = os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0)
    with open(_checked(path), "rb", opener=lambda name, _: os.open(name, flags)) as file:
        if not stat.S_ISREG(os.fstat(file.fileno()).st_mode):
            raise OSError(errno.EINVAL, NO_FILE)
        return file.read(most + 1)


NO_FILE = "this is no ordinary file"


def _checked(path: str | os.PathLike[str]) -> Path:
    """A path that the system can be asked about."""
    try:
        if b"\0" in os.fsencode(path):
            raise ValueError
    except ValueError:  # half a character, too
        raise OSError(errno.EINVAL, "no file can have such a name") from None
    return Path(path)


def safe_name(title: str, usual: str) -> str:
    """A file name without its ending, small Latin letters and figures, safe on every system.

    Args:
        title: Anything, in any alphabet.  Where letters are lost, or a system keeps the name for
            itself, a few characters follow that differ from title to title.
        usual: What stands there if no letter is left.
    """
    plain = unicodedata.normalize("NFKD", title).lower()
    plain = "".join(c for c in plain if not unicodedata.combining(c))
    name = re.sub(r"[^a-z0-9]+", "-", plain).strip("-")[:60].strip("-")
    lost = any(c.isalnum() and not c.isascii() for c in plain) or len(plain) > 60
    if lost or not name or re.fullmatch("con|prn|aux|nul|(com|lpt)[0-9]", name):
        digest = hashlib.sha256(title.encode("utf-8", "surrogatepass")).hexdigest()[:8]
        name = f"{name or usual}-{digest}"
    return name


def write_whole(path: str | os.PathLike[str], data: bytes) -> None:
    """Put *data* in the place of a file, whole or not at all.

    A link is written through, and the file keeps its permissions.  One that may only be read
    stays as it is, even in a folder where it could be replaced.

    Raises:
        OSError: If it cannot be written, or is a device and no file; the old file is then as it
            was, and nothing is left beside it.
    """
    target = _checked(path).resolve()
    if target.exists():
        if not target.is_file() and not target.is_dir():
            raise OSError(errno.EINVAL, NO_FILE)
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
        _exchange(beside, target)
    finally:
        beside.unlink(missing_ok=True)
    _settle(target.parent)


def _exchange(beside: Path, target: Path) -> None:
    """Give the new file the old one's name, again and again while another program holds it."""
    give_up = time.monotonic() + HELD_S
    while True:
        try:
            return os.replace(beside, target)
        except OSError as error:
            if error.errno not in (errno.EACCES, errno.EPERM, errno.EBUSY):
                raise
            if time.monotonic() > give_up:
                said = "another program holds this file"
                raise OSError(errno.EBUSY, said, str(target)) from error
            time.sleep(0.02)


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
    handle = os.open(_checked(folder), os.O_RDONLY)
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
    errno.EBUSY: "Another program, or a folder that is kept in step with another computer, holds "
    "this file: close it there, or let it finish, then save again",
    errno.EINVAL: "Choose an ordinary file, with a plain name",
    errno.EISDIR: "This is a folder: choose a file in it",
    errno.ENAMETOOLONG: "Choose a shorter name",
}
