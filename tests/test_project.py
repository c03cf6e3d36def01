"""The project's own paperwork: requirements, the front door, and a light import."""

import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest
import yaml
from jupyter_client.manager import run_kernel

ROOT = Path(__file__).parent.parent
PYPROJECT = (ROOT / "pyproject.toml").read_text(encoding="utf-8")
ENVIRONMENT = (ROOT / "environment.yml").read_text(encoding="utf-8")
HEAVY = {"sympy", "matplotlib", "scipy", "numpy", "ipywidgets", "anywidget"}


def bounds(requirements: list[str]) -> dict[str, str]:
    """Name (as package indexes compare names) -> lower bound."""
    split = (re.fullmatch(r"([\w.-]+)>=([\w.]+)", text) for text in requirements)
    pairs = [match.groups() for match in split if match]
    assert len(pairs) == len(requirements), f"not all of the form name>=version: {requirements}"
    return {re.sub(r"[-_.]+", "-", name).lower(): version for name, version in pairs}


def required_by_pip() -> dict[str, str]:
    project = tomllib.loads(PYPROJECT)["project"]
    extras = project["optional-dependencies"]
    del extras["mutation"]  # an hour's run of its own; no part of the tests
    return bounds(sum(extras.values(), project["dependencies"]))


def required_by_conda() -> dict[str, str]:
    entries = yaml.safe_load(ENVIRONMENT)["dependencies"]
    (through_pip,) = [entry["pip"] for entry in entries if isinstance(entry, dict)]
    plain = [entry for entry in entries if isinstance(entry, str) and entry != "pip"]
    assert "-e ." in through_pip, "environment.yml does not install mechlogic itself"
    found = bounds(plain + [entry for entry in through_pip if entry != "-e ."])
    return {name: version for name, version in found.items() if name != "python"}


def test_conda_and_pip_ask_for_the_same_packages_at_the_same_versions():
    assert required_by_conda() == required_by_pip()


def test_conda_and_pip_ask_for_the_same_python():
    requires_python = tomllib.loads(PYPROJECT)["project"]["requires-python"]
    assert f"python{requires_python}" in yaml.safe_load(ENVIRONMENT)["dependencies"]


@pytest.mark.parametrize(
    ("text", "requirement"),
    [
        # '    "numpy>=2",  # why'  and  '  - numpy>=2  # why', or '- -e .  # why'
        (PYPROJECT, r'^ +"(?P<name>[\w.-]+)>=[^"]*",(?P<rest>.*)$'),
        (ENVIRONMENT, r"^ +- (?P<name>[\w.-]+(?=>=)|pip(?= )|-e \.)(?:>=\S+)?(?P<rest>.*)$"),
    ],
    ids=["pyproject.toml", "environment.yml"],
)
def test_every_requirement_says_why_it_is_there(text: str, requirement: str):
    lines = list(re.finditer(requirement, text, re.MULTILINE))
    assert len(lines) >= len(required_by_pip()), "some requirement is not on a line of its own"
    silent = [line["name"] for line in lines if not re.match(r" +# \S+ \S+", line["rest"])]
    assert silent == []


def test_importing_mechlogic_loads_none_of_the_heavy_libraries():
    program = "import sys, mechlogic; print(*sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True, cwd=ROOT
    )
    loaded = set(done.stdout.split())
    assert "mechlogic" in loaded
    assert loaded & HEAVY == set()


def test_a_warning_of_what_goes_away_is_an_error_in_a_workbook_too():
    with run_kernel() as kernel:
        program = "import warnings; warnings.warn('going', DeprecationWarning)"
        reply = kernel.execute_interactive(program, allow_stdin=False, output_hook=print)
    assert reply["content"]["ename"] == "DeprecationWarning"


@pytest.mark.parametrize(
    "command",
    [
        r"python3 -m venv \.venv && \.venv/bin/pip install (-q )?-e \. "
        r"&& \.venv/bin/jupyter lab workbooks/00_start_here\.ipynb",
        r"python3 -m venv \.venv && \.venv/bin/pip install (-q )?-e '\.\[test\]' "
        r"&& \.venv/bin/python -m pytest",
    ],
    ids=["open", "test"],
)
def test_the_readme_opens_and_tests_the_project_with_one_command_each(command: str):
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    found = re.findall(rf"^ *{command}$", readme, re.MULTILINE)
    assert len(found) == 1, "README.md must give this command once, on a line of its own"


def test_the_workbook_that_the_readme_opens_exists():
    assert (ROOT / "workbooks" / "00_start_here.ipynb").is_file()


def test_the_example_in_the_readme_prints_what_the_readme_says():
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    program, printed = re.search(
        r"```python\n(.*?)```\n\n```\n(.*?)```", readme, re.DOTALL
    ).groups()
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, check=True, cwd=ROOT
    )
    assert done.stdout == printed


PAGES = ["README.md", "DEVELOPERS.md", *sorted(f"docs/{p.name}" for p in ROOT.glob("docs/*.md"))]


def blocks(page: str, language: str) -> list[str]:
    text = (ROOT / page).read_text(encoding="utf-8")
    return re.findall(rf"^```{language}\n(.*?)^```", text, re.DOTALL | re.MULTILINE)


@pytest.mark.parametrize("page", [page for page in PAGES if blocks(page, "python")])
def test_the_python_on_a_page_runs_from_top_to_bottom(page: str, tmp_path: Path):
    """One program after the other, beside the machines that the page about the format offers."""
    for name, text in zip(
        ("mine", "tally"), blocks("docs/describe_a_machine.md", "toml"), strict=True
    ):
        (tmp_path / f"{name}.toml").write_text(text, "utf-8")
    program = "\n".join(blocks(page, "python"))
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, cwd=tmp_path, check=False
    )
    assert not done.stderr, done.stderr


def test_the_example_for_a_new_joint_runs_on_the_machine_that_is_offered_to_be_copied(tmp_path):
    """Two Markdown pages together: the program of one reads the machine of the other."""
    page = (ROOT / "docs" / "describe_a_machine.md").read_text(encoding="utf-8")
    guide = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    (tmp_path / "mine.toml").write_text(page.split("```toml\n")[1].split("```")[0], "utf-8")
    program = guide.split("```python\n")[1].split("```")[0]
    done = subprocess.run(
        [sys.executable, "-c", program], capture_output=True, text=True, cwd=tmp_path, check=False
    )
    assert not done.stderr, done.stderr
    assert "Proved: every code prints what the description declares." in done.stdout
    assert "<Suspect " in done.stdout
    assert (tmp_path / "mine.html").stat().st_size > 0


def requirements(line: str) -> str:
    return re.match(r"[A-Za-z0-9-]+", line)[0].lower()


def test_every_requirement_is_locked_and_its_upkeep_noted():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    extras = project["optional-dependencies"]
    locked = (ROOT / ".ci" / "locked.txt").read_text("utf-8").lower()
    noted = (ROOT / "docs" / "dependencies.md").read_text("utf-8").lower()
    tested = [*project["dependencies"], *extras["test"], *extras["site"], *extras["line"]]
    for name in map(requirements, tested):
        assert f"\n{name}==" in locked, name
    for name in map(requirements, [*tested, *extras["mutation"]]):
        assert f"\n| {name} |" in noted, name
