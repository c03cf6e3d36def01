"""Try the room on this machine, with as many simulated students as are asked for, and measure it.

    sudo /opt/room/bin/python docs/room/try_room.py 20 [--at-once 20] [--proxy PATH]

Everything stays on 127.0.0.1 and ends by itself.  It makes seats in a folder of its own, starts the
hub with jupyterhub_config.py as it is, and then each student logs in, opens a workbook, runs all
its cells, and keeps a file.  Each tries to read what is its neighbour's and the hub's.  The hub is
restarted, and the files have to be there still; at last the servers have to stop by themselves.
The accounts are removed at the end.  A claim that does not hold is printed, and the exit code is 1.
"""

import argparse
import contextlib
import json
import os
import pwd
import shutil
import signal
import subprocess
import sys
import tempfile
import time
import uuid
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from statistics import median

import requests
import websocket

HERE = Path(__file__).parent
PORT = 18600
HUB = f"http://127.0.0.1:{PORT}"
WORKBOOK = "workbooks/02_whole_machine.ipynb"
WIDGET = "application/vnd.jupyter.widget-view+json"
PATIENCE = 300.0
"""Seconds that any one step may take."""


@dataclass
class Student:
    """One student at one seat, and how long things took, in seconds after logging in."""

    name: str
    password: str
    web: requests.Session = field(default_factory=requests.Session)
    server: float = 0.0
    picture: float = 0.0
    cells: int = 0
    complaints: list[str] = field(default_factory=list)

    @property
    def base(self) -> str:
        """Where the student's own server is."""
        return f"{HUB}/user/{self.name}"

    def holds(self, what: str, is_so: bool) -> None:
        """Keep a complaint if something is not so."""
        if not is_so:
            self.complaints.append(f"{self.name}: {what}")

    def log_in(self, password: str | None = None) -> bool:
        """Log in at the hub's page, as a browser does."""
        self.web = requests.Session()
        self.web.get(f"{HUB}/hub/login", timeout=PATIENCE)
        form = {
            "username": self.name,
            "password": self.password if password is None else password,
            "_xsrf": self.web.cookies.get("_xsrf", path="/hub/"),
        }
        answer = self.web.post(f"{HUB}/hub/login?next=%2Fhub%2Fhome", data=form, timeout=PATIENCE)
        return answer.ok and "/hub/home" in answer.url

    def start_server(self) -> None:
        """Start the server, and wait until its page comes."""
        token = {"X-XSRFToken": self.web.cookies.get("_xsrf", path="/hub/") or ""}
        where = f"{HUB}/hub/api/users/{self.name}/server"
        deadline = time.monotonic() + PATIENCE
        answer = self.web.post(where, headers=token, timeout=PATIENCE)
        self.holds(f"its server was refused with {answer.status_code}", answer.ok)
        while time.monotonic() < deadline:
            model = self.web.get(f"{HUB}/hub/api/users/{self.name}", timeout=PATIENCE).json()
            if model["servers"].get("", {}).get("ready"):
                break
            time.sleep(0.5)
        page = self.web.get(f"{self.base}/lab", timeout=PATIENCE)
        self.holds(f"its server's page came with {page.status_code}", page.ok)

    def call(self, method: str, path: str, base: str = "", **more: object) -> requests.Response:
        """Call the REST interface of a server, the student's own unless told otherwise."""
        xsrf = self.web.cookies.get("_xsrf", path=f"/user/{self.name}/") or ""
        return self.web.request(
            method,
            f"{base or self.base}/api/{path}",
            headers={"X-XSRFToken": xsrf},
            timeout=PATIENCE,
            **more,  # type: ignore[arg-type]
        )

    def kernel(self) -> "Kernel":
        """A new kernel."""
        answer = self.call("POST", "kernels", json={"name": "python3", "path": "workbooks"})
        answer.raise_for_status()
        return Kernel(self, answer.json()["id"])

    def keep_file(self, text: str) -> None:
        """Write a file by the contents interface."""
        model = {"type": "file", "format": "text", "content": text}
        self.call("PUT", "contents/workbooks/mine.txt", json=model).raise_for_status()

    def kept_file(self) -> str:
        """Read the file again."""
        answer = self.call("GET", "contents/workbooks/mine.txt")
        return str(answer.json().get("content")) if answer.ok else f"status {answer.status_code}"


class Kernel:
    """A kernel, by its websocket."""

    def __init__(self, student: Student, number: str) -> None:
        cookies = _cookies_for(student)
        address = f"{student.base}/api/kernels/{number}/channels".replace("http", "ws", 1)
        self.socket = websocket.create_connection(address, cookie=cookies, timeout=PATIENCE)

    def run(self, source: str) -> tuple[str, str, bool]:
        """Run some source: what it printed, its error if any, and whether a widget was shown."""
        number = uuid.uuid4().hex
        content = {
            "code": source,
            "silent": False,
            "store_history": True,
            "user_expressions": {},
            "allow_stdin": False,
            "stop_on_error": True,
        }
        header = {"msg_id": number, "username": "", "session": number, "version": "5.3"}
        message = {
            "header": {**header, "msg_type": "execute_request", "date": ""},
            "parent_header": {},
            "metadata": {},
            "content": content,
            "channel": "shell",
            "buffers": [],
        }
        self.socket.send(json.dumps(message))
        printed, error, shown = "", "", False
        while True:
            raw = self.socket.recv()
            if isinstance(raw, bytes):  # a widget's state comes with buffers: none is needed here
                continue
            got = json.loads(raw)
            if got["parent_header"].get("msg_id") != number:
                continue
            kind, content = got["msg_type"], got["content"]
            if kind == "stream":
                printed += content["text"]
            elif kind == "error":
                error = f"{content['ename']}: {content['evalue']}"
            elif kind in ("display_data", "execute_result"):
                shown = shown or WIDGET in content["data"]
            elif kind == "status" and content["execution_state"] == "idle":
                return printed, error, shown


def _cookies_for(student: Student) -> str:
    """The cookies that a browser would send to the student's server."""
    paths = ("/", f"/user/{student.name}/")
    return "; ".join(f"{c.name}={c.value}" for c in student.web.cookies if c.path in paths)


def work(student: Student) -> None:
    """An evening of one student, in short."""
    begin = time.monotonic()
    student.holds("could not log in", student.log_in())
    student.start_server()
    student.server = time.monotonic() - begin
    book = student.call("GET", f"contents/{WORKBOOK}").json()["content"]
    kernel = student.kernel()
    for cell in book["cells"]:
        if cell["cell_type"] == "code":
            _, error, shown = kernel.run(cell["source"])
            student.holds(f"a cell ended with {error}", not error)
            student.cells += 1
            if shown and not student.picture:
                student.picture = time.monotonic() - begin
    student.holds("no picture was shown", student.picture > 0)
    student.keep_file(f"the work of {student.name}")


def pry(student: Student, other: str, folder: Path, hub: int) -> None:
    """Try to get at what is another student's, and the hub's."""
    answer = student.call("GET", "contents/workbooks/mine.txt", base=f"{HUB}/user/{other}")
    inside = answer.ok and "content" in answer.text and other in answer.text
    student.holds(f"could read a file of {other} through the hub", not inside)
    theirs = next(pid for pid, uid in _processes() if uid == pwd.getpwnam(other).pw_uid)
    paths = {
        f"open({str(folder / other / 'workbooks' / 'mine.txt')!r}).read()": "a file",
        f"__import__('os').listdir({str(folder / other)!r})": "the home",
        f"open('/proc/{theirs}/environ').read()": "the token of a server",
        f"open({str(folder / 'state' / 'cookie_secret')!r}).read()": "the cookie secret",
        f"open({str(folder / 'state' / 'hub.sqlite')!r}).read()": "the hub's memory",
        f"open('/proc/{hub}/environ').read()": "the hub's environment",
        "open('/etc/shadow').read()": "the password file",
        f"__import__('os').kill({theirs}, 0)": "a process",
    }
    kernel = student.kernel()
    own = folder / student.name / "workbooks" / "mine.txt"
    _, error, _ = kernel.run(f"open({str(own)!r}).read()")
    student.holds(f"could not read its own file: {error}", not error)
    for source, what in paths.items():
        _, error, _ = kernel.run(source)
        student.holds(f"could get at {what} of {other}", error.startswith("PermissionError"))
    _, error, _ = kernel.run("x = bytearray(6 * 2**30)")
    student.holds("could take 6 GiB at once", error.startswith("MemoryError"))


# -- the machine -----------------------------------------------------------------------------------


def _processes() -> Iterator[tuple[int, int]]:
    """(number, account) of every process."""
    for entry in Path("/proc").iterdir():
        if entry.name.isdigit():
            with contextlib.suppress(OSError):
                yield int(entry.name), entry.stat().st_uid


def memory_mib(pids: list[int]) -> float:
    """What processes take, in MiB; what several share is shared out (proportional set size)."""
    total = 0
    for pid in pids:
        with contextlib.suppress(OSError):
            for line in Path(f"/proc/{pid}/smaps_rollup").read_text().splitlines():
                if line.startswith("Pss:"):
                    total += int(line.split()[1])
    return total / 1024


def _below(pid: int) -> list[int]:
    """A process and all that it started, as far as they are root's."""
    parents = {}
    for number, uid in _processes():
        with contextlib.suppress(OSError):
            stat = Path(f"/proc/{number}/stat").read_text()
            if uid == 0:
                parents[number] = int(stat.rpartition(")")[2].split()[1])
    found = [pid]
    for one in found:
        found += [child for child, parent in parents.items() if parent == one]
    return found


class Hub:
    """The hub, with the shipped configuration."""

    def __init__(self, folder: Path, proxy: str, idle_minutes: float = 60) -> None:
        self.log = (folder / "hub.log").open("ab")
        wanted = {
            "ROOM_FOLDER": str(folder),
            "ROOM_PORT": str(PORT),
            "ROOM_PROXY": proxy,
            "ROOM_IDLE_MINUTES": str(idle_minutes),
        }
        self.process = subprocess.Popen(
            [sys.executable, "-m", "jupyterhub", "-f", str(HERE / "jupyterhub_config.py")],
            env={**os.environ, **wanted},
            cwd=folder,
            stdout=self.log,
            stderr=self.log,
        )
        _wait(lambda: requests.get(f"{HUB}/hub/login", timeout=5).ok, "the hub to start")

    def stop(self) -> None:
        """Stop it as Ctrl-C does, and all servers with it."""
        self.process.send_signal(signal.SIGINT)
        self.process.wait(PATIENCE)


def _wait(until: Callable[[], bool], what: str) -> None:
    deadline = time.monotonic() + PATIENCE
    while time.monotonic() < deadline:
        with contextlib.suppress(requests.ConnectionError):
            if until():
                return
        time.sleep(0.5)
    raise TimeoutError(f"waited {PATIENCE:g} s for {what}")


def main() -> int:
    """Try it, say what was measured, and whether every claim held."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").partition("\n")[0])
    parser.add_argument("students", type=int)
    parser.add_argument("--at-once", type=int, help="how many log in at a time; all if unset")
    parser.add_argument("--proxy", default="configurable-http-proxy")
    asked = parser.parse_args()
    folder = Path(tempfile.mkdtemp(prefix="room_"))
    folder.chmod(0o755)
    seats = [sys.executable, str(HERE / "make_seats.py"), str(asked.students), "--folder"]
    try:
        made = subprocess.run([*seats, folder], check=True, capture_output=True, text=True).stdout
        words = [line.split() for line in made.splitlines() if line]
        students = [Student(name, password) for name, _, password in words]
        complaints = evening(students, folder, asked.proxy, asked.at_once or len(students))
    finally:
        subprocess.run([*seats, folder, "--remove"], check=False, capture_output=True)
        shutil.copy(folder / "hub.log", tempfile.gettempdir() + "/try_room_hub.log")
        shutil.rmtree(folder)
    print(*complaints or ["every claim held"], sep="\n")
    return 1 if complaints else 0


def evening(students: list[Student], folder: Path, proxy: str, at_once: int) -> list[str]:
    """All of it; what did not hold."""
    hub = Hub(folder, proxy)
    try:
        with ThreadPoolExecutor(at_once) as pool:
            begin = time.monotonic()
            list(pool.map(work, students))
            print(f"{len(students)} students, {at_once} at a time, on {os.cpu_count()} cores")
            print(f"all cells of all run after {time.monotonic() - begin:.0f} s")
        _say("server ready after login, s", [one.server for one in students])
        _say("first picture after login, s", [one.picture for one in students])
        _say("cells run", [one.cells for one in students])
        uids = [pwd.getpwnam(one.name).pw_uid for one in students]
        taken = [[pid for pid, uid in _processes() if uid == own] for own in uids]
        _say("memory of a student, MiB (PSS)", [memory_mib(pids) for pids in taken])
        print(f"memory of hub, proxy and culler: {memory_mib(_below(hub.process.pid)):.0f} MiB")
        print(f"memory available on the machine: {_available():.1f} GiB")
        first = students[0]
        first.holds("a wrong password opened the door", not Student(first.name, "x").log_in())
        first.holds("root could log in", not Student("root", first.password).log_in())
        pairs = zip(students, students[1:] + students[:1], strict=True)
        for one, other in pairs if len(students) > 1 else ():
            pry(one, other.name, folder, hub.process.pid)
    finally:
        hub.stop()
    hub = Hub(folder, proxy, idle_minutes=0.5)
    try:
        for one in students:
            one.holds("could not log in after the restart", one.log_in())
            one.start_server()
            kept = one.kept_file()
            one.holds(f"its file is {kept!r} after the restart", kept == f"the work of {one.name}")
        begin = time.monotonic()
        _wait(lambda: not any(uid in uids for _, uid in _processes()), "idle servers to stop")
        print(f"idle servers (limit 30 s) had stopped {time.monotonic() - begin:.0f} s later")
    finally:
        hub.stop()
    return [complaint for one in students for complaint in one.complaints]


def _say(what: str, values: list[float]) -> None:
    low, high = min(values), max(values)
    print(f"{what}: least {low:.1f}, median {median(values):.1f}, most {high:.1f}")


def _available() -> float:
    for line in Path("/proc/meminfo").read_text().splitlines():
        if line.startswith("MemAvailable:"):
            return int(line.split()[1]) / 2**20
    return 0.0


if __name__ == "__main__":
    sys.exit(main())
