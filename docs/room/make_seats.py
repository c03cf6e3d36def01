"""Make the seats of a room: an account, a password and a copy of the workbooks for each.

    sudo python docs/room/make_seats.py 20 > slips.txt
    sudo python docs/room/make_seats.py 20 --remove

Run it as root on Linux, from a checkout, before the hub is started.  The slips, one for each seat,
hold the passwords: print them, cut them up, delete the file.  Nothing else keeps a password in the
clear.  A seat that is there already keeps its files and is given a new password.
"""

import argparse
import os
import pwd
import re
import secrets
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

WORKBOOKS = Path(__file__).parents[2] / "workbooks"
MOST_SEATS = 60
NOT_FOR_STUDENTS = shutil.ignore_patterns(
    ".*", "__*", "*.pdf", "*.jsonl", "records", "10_club_evening.ipynb"
)
"""What somebody has left beside the workbooks, and what is the instructor's."""

LETTERS = "abcdefghjkmnpqrstuvwxyz23456789"  # none that is taken for another
PASSWORD = 12
"""Letters of a password: 31 to the power of 12, about 59 bits."""
SEAT = re.compile(r"seat[0-9]{2}")


def main() -> None:
    """Make the seats, or remove them."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("seats", type=int, help=f"how many, from 1 to {MOST_SEATS}")
    parser.add_argument("--folder", type=Path, default=Path("/srv/room"))
    parser.add_argument("--remove", action="store_true", help="remove the accounts, keep the files")
    asked = parser.parse_args()
    if not 1 <= asked.seats <= MOST_SEATS:
        parser.error(f"{asked.seats} seats: choose from 1 to {MOST_SEATS}")
    if sys.platform != "linux" or os.geteuid() != 0:
        parser.error("accounts are made by root, on Linux: use sudo")
    names = [f"seat{number:02}" for number in range(1, asked.seats + 1)]
    folder = asked.folder.resolve()
    if strangers := [name for name in names if _home(name) not in (None, folder / name)]:
        parser.error(f"{', '.join(strangers)}: an account of this name has its home elsewhere")
    if asked.remove:
        for name in names:
            if _home(name):
                _run("userdel", name)
        print(f"The accounts are gone. Their files are still in {folder}.")
        return
    folder.mkdir(mode=0o755, parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as skeleton:
        shutil.copytree(WORKBOOKS, Path(skeleton) / "workbooks", ignore=NOT_FOR_STUDENTS)
        passwords = {name: make_seat(name, folder, skeleton) for name in names}
    (folder / "seats.txt").write_text("\n".join(names) + "\n", encoding="utf-8")
    for name, password in passwords.items():
        print(f"{name}   password {password}\n")


def make_seat(name: str, folder: Path, skeleton: str) -> str:
    """Make one seat, or take over the one that is there.

    Args:
        name: Name of the account.
        folder: Where the homes are.
        skeleton: What a new home holds.

    Returns:
        Its password.
    """
    assert SEAT.fullmatch(name)
    home = folder / name
    if _home(name) is None:
        kept = home.exists()
        how = ["--no-create-home"] if kept else ["--create-home", "--skel", skeleton]
        shell = ["--shell", "/usr/sbin/nologin"]  # it logs in at the hub and nowhere else
        _run("useradd", *how, *shell, "--home-dir", str(home), "--user-group", name)
        if kept:  # the files of an account that was removed; links are not followed
            _run("chown", "--recursive", "--no-dereference", f"{name}:{name}", str(home))
    home.chmod(0o700)  # nobody else may look inside
    password = "".join(secrets.choice(LETTERS) for _ in range(PASSWORD))
    subprocess.run(["chpasswd"], input=f"{name}:{password}\n", text=True, check=True)
    return password


def _home(name: str) -> Path | None:
    """The home of an account; None if there is no such account."""
    try:
        return Path(pwd.getpwnam(name).pw_dir)
    except KeyError:
        return None


def _run(*command: str) -> None:
    subprocess.run(command, check=True)


if __name__ == "__main__":
    main()
