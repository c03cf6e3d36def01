"""One laptop serves a room: a login and a copy of the workbooks for each seat.

Read ../serving_a_room.md first.  The hub runs as root, for it starts every student's server under
an account of its own.  What it needs to be told comes from the environment:

==================  ===========================================================================
ROOM_FOLDER         where seats.txt, the homes and the hub's own state are; /srv/room if unset
ROOM_ADDRESS        the address to listen on; 127.0.0.1, this laptop alone, if unset
ROOM_PORT           the port; 8000 if unset
ROOM_TLS_KEY, ROOM_TLS_CERT   files of a key and a certificate: then the line is encrypted
ROOM_IN_CLEAR       must be "yes" to listen to others without these two
ROOM_PROXY          path of configurable-http-proxy; found on the PATH if unset
ROOM_MEMORY_GIB     address space of one process of a student, in GiB; 4 if unset
ROOM_IDLE_MINUTES   a server that nobody has used for so long is stopped; 60 if unset
==================  ===========================================================================
"""

import ipaddress
import os
import sys
from pathlib import Path

from traitlets.config import get_config

c = get_config()

FOLDER = Path(os.environ.get("ROOM_FOLDER", "/srv/room"))
ADDRESS = os.environ.get("ROOM_ADDRESS", "127.0.0.1")
PORT = int(os.environ.get("ROOM_PORT", "8000"))
KEY, CERTIFICATE = os.environ.get("ROOM_TLS_KEY", ""), os.environ.get("ROOM_TLS_CERT", "")
MEMORY_GIB = float(os.environ.get("ROOM_MEMORY_GIB", "4"))
IDLE_MINUTES = float(os.environ.get("ROOM_IDLE_MINUTES", "60"))

if bool(KEY) != bool(CERTIFICATE):
    sys.exit("Give both ROOM_TLS_KEY and ROOM_TLS_CERT, or neither.")
alone = ipaddress.ip_address(ADDRESS).is_loopback
if not alone and not KEY and os.environ.get("ROOM_IN_CLEAR") != "yes":
    sys.exit(
        f"{ADDRESS} can be reached by others, and nothing would be encrypted: passwords could be "
        "read on the line. Give ROOM_TLS_KEY and ROOM_TLS_CERT, or say ROOM_IN_CLEAR=yes."
    )
try:
    SEATS = set((FOLDER / "seats.txt").read_text(encoding="utf-8").split())
except FileNotFoundError:
    sys.exit(f"There is no {FOLDER / 'seats.txt'}. Make the seats first: make_seats.py.")

# Who may come in: the seats, each with the password on its slip, and nobody else.
c.JupyterHub.authenticator_class = "pam"
c.Authenticator.allowed_users = SEATS
c.Authenticator.allow_all = False
c.Authenticator.admin_users = set()
c.PAMAuthenticator.open_sessions = False
c.LocalAuthenticator.create_system_users = False

# Where it listens.  What the hub and its proxy say to each other stays on this laptop.
host = f"[{ADDRESS}]" if ":" in ADDRESS else ADDRESS
c.JupyterHub.bind_url = f"{'https' if KEY else 'http'}://{host}:{PORT}"
c.JupyterHub.ssl_key, c.JupyterHub.ssl_cert = KEY, CERTIFICATE
c.JupyterHub.hub_ip = "127.0.0.1"
c.ConfigurableHTTPProxy.api_url = f"http://127.0.0.1:{PORT + 1}"
c.JupyterHub.hub_port = PORT + 2
c.ConfigurableHTTPProxy.command = [os.environ.get("ROOM_PROXY", "configurable-http-proxy")]

# What the hub remembers, for root alone.
state = FOLDER / "state"
state.mkdir(mode=0o700, exist_ok=True)
state.chmod(0o700)
c.JupyterHub.db_url = f"sqlite:///{state / 'hub.sqlite'}"
c.JupyterHub.cookie_secret_file = str(state / "cookie_secret")
c.ConfigurableHTTPProxy.pid_file = str(state / "proxy.pid")

# Each student's server: under the account of the seat, in its home, which only that seat can read.
# The limit is one of address space for each process: this spawner has none for a whole account.
c.JupyterHub.spawner_class = "jupyterhub.spawner.LocalProcessSpawner"
singleuser = Path(sys.executable).with_name("jupyterhub-singleuser")
limit = f"--as={int(MEMORY_GIB * 2**30)}"
c.Spawner.cmd = ["prlimit", limit, "--nproc=400", "--core=0", str(singleuser)]
c.Spawner.notebook_dir = "~"
c.Spawner.default_url = "/lab/tree/workbooks/00_start_here.ipynb"
c.Spawner.args = ["--ServerApp.terminals_enabled=False"]
c.Spawner.environment = {
    "OPENBLAS_NUM_THREADS": "1",  # a thread for each core in each kernel would cost memory alone
    "SHELL": "/bin/sh",
}
c.Spawner.env_keep = ["PATH", "LANG", "LC_ALL"]
# A room logs in at once: nobody is sent away, all wait till the processor has come round to them.
c.JupyterHub.active_server_limit = c.JupyterHub.concurrent_spawn_limit = len(SEATS)
c.Spawner.start_timeout = c.Spawner.http_timeout = 600
c.JupyterHub.shutdown_on_logout = True

# What nobody has used for a while is stopped; the files stay.
c.JupyterHub.services = [
    {
        "name": "idle",
        "command": [
            sys.executable,
            "-m",
            "jupyterhub_idle_culler",
            f"--timeout={int(60 * IDLE_MINUTES)}",
        ],
    }
]
c.JupyterHub.load_roles = [
    {
        "name": "idle",
        "services": ["idle"],
        "scopes": ["list:users", "read:users:activity", "read:servers", "delete:servers"],
    }
]
