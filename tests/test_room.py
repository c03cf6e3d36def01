"""The room has no open door unless somebody opens it: the shipped configuration, run with traps."""

import runpy
import sys
import types
from collections import defaultdict
from pathlib import Path

import pytest

ROOM = Path(__file__).parent.parent / "docs" / "room"
CONFIG = ROOM / "jupyterhub_config.py"
SETTINGS = (
    "ROOM_ADDRESS ROOM_PORT ROOM_TLS_KEY ROOM_TLS_CERT ROOM_IN_CLEAR ROOM_PROXY ROOM_MEMORY_GIB "
    "ROOM_IDLE_MINUTES"
).split()


@pytest.fixture
def configured(tmp_path, monkeypatch):
    """Run the configuration with some settings; what it sets, without JupyterHub."""

    def run(**settings):
        kept = defaultdict(types.SimpleNamespace)
        asked = types.ModuleType("traitlets.config")
        asked.get_config = lambda: _Sections(kept)
        monkeypatch.setitem(sys.modules, "traitlets.config", asked)
        for name in SETTINGS:
            monkeypatch.delenv(name, raising=False)
        monkeypatch.setenv("ROOM_FOLDER", str(tmp_path))
        for name, value in settings.items():
            monkeypatch.setenv(name, value)
        runpy.run_path(str(CONFIG))
        return kept

    (tmp_path / "seats.txt").write_text("seat01\nseat02\n", encoding="utf-8")
    return run


class _Sections:
    """Stands for traitlets' configuration: each section is made when it is first named."""

    def __init__(self, kept):
        self._kept = kept

    def __getattr__(self, name):
        return self._kept[name]


def test_told_nothing_it_listens_to_this_laptop_alone(configured):
    kept = configured()
    assert kept["JupyterHub"].bind_url == "http://127.0.0.1:8000"
    assert kept["JupyterHub"].hub_ip == "127.0.0.1"
    assert kept["ConfigurableHTTPProxy"].api_url.startswith("http://127.0.0.1:")


def test_only_the_seats_come_in_and_each_by_a_password_of_the_system(configured):
    kept = configured()
    assert kept["JupyterHub"].authenticator_class == "pam"
    assert kept["Authenticator"].allowed_users == {"seat01", "seat02"}
    assert kept["Authenticator"].allow_all is False
    assert kept["Authenticator"].admin_users == set()
    assert kept["LocalAuthenticator"].create_system_users is False


def test_each_student_has_an_account_of_its_own(configured):
    kept = configured()
    assert kept["JupyterHub"].spawner_class == "jupyterhub.spawner.LocalProcessSpawner"
    assert kept["Spawner"].notebook_dir == "~"
    assert any(word.startswith("--as=") for word in kept["Spawner"].cmd)
    assert not [name for name in kept["Spawner"].env_keep if "TOKEN" in name or "ROOM" in name]


def test_what_the_hub_remembers_is_for_root_alone(configured, tmp_path):
    kept = configured()
    assert (tmp_path / "state").stat().st_mode & 0o077 == 0
    assert str(tmp_path / "state") in kept["JupyterHub"].db_url
    assert kept["JupyterHub"].cookie_secret_file == str(tmp_path / "state" / "cookie_secret")


def test_idle_servers_are_stopped_by_a_service_that_may_do_nothing_else(configured):
    kept = configured(ROOM_IDLE_MINUTES="10")
    (service,), (role,) = kept["JupyterHub"].services, kept["JupyterHub"].load_roles
    assert "--timeout=600" in service["command"]
    assert role["services"] == ["idle"]
    assert not [scope for scope in role["scopes"] if scope.startswith("admin")]


@pytest.mark.parametrize("address", ["0.0.0.0", "192.168.7.1", "::"])
def test_nothing_is_served_in_the_clear_unless_somebody_says_so(configured, address):
    with pytest.raises(SystemExit, match="ROOM_IN_CLEAR"):
        configured(ROOM_ADDRESS=address)
    with pytest.raises(SystemExit, match="ROOM_IN_CLEAR"):
        configured(ROOM_ADDRESS=address, ROOM_IN_CLEAR="no")
    assert configured(ROOM_ADDRESS=address, ROOM_IN_CLEAR="yes")
    sealed = configured(ROOM_ADDRESS=address, ROOM_TLS_KEY="k.pem", ROOM_TLS_CERT="c.pem")
    assert sealed["JupyterHub"].bind_url.startswith("https://")
    assert (sealed["JupyterHub"].ssl_key, sealed["JupyterHub"].ssl_cert) == ("k.pem", "c.pem")


def test_half_a_certificate_is_refused(configured):
    with pytest.raises(SystemExit, match="both"):
        configured(ROOM_TLS_KEY="k.pem")


def test_without_seats_it_does_not_start(configured, tmp_path):
    (tmp_path / "seats.txt").unlink()
    with pytest.raises(SystemExit, match="Make the seats first"):
        configured()


def test_no_password_and_no_door_for_everybody_stands_in_what_is_shipped():
    text = "".join(path.read_text(encoding="utf-8") for path in ROOM.glob("*.py"))
    for word in ("dummy", "allow_all = True", "any_allow_config", "0.0.0.0", "open_signup"):
        assert word not in text


def test_passwords_of_seats_are_drawn_and_long_enough():
    seats = runpy.run_path(str(ROOM / "make_seats.py"))
    assert len(set(seats["LETTERS"])) == len(seats["LETTERS"]) == 31
    assert len(seats["LETTERS"]) ** seats["PASSWORD"] > 2**59
    assert not set("01ilo") & set(seats["LETTERS"])


def test_what_an_instructor_left_beside_the_workbooks_is_not_handed_out(tmp_path):
    hidden = runpy.run_path(str(ROOM / "make_seats.py"))["NOT_FOR_STUDENTS"]
    names = [
        "03_bench.ipynb",
        "logs",
        "10_club_evening.ipynb",
        "club_wind_7_instructor_a4.pdf",
        "records",
        "progress.jsonl",
        ".ipynb_checkpoints",
    ]
    assert set(names) - hidden(str(tmp_path), names) == {"03_bench.ipynb", "logs"}
