"""Mutation testing: is there a test that notices when one thing in the pure core is wrong?

A *mutant* is the library with one small change: a ``+`` that became a ``-``, an argument left out,
a case of a ``match`` gone.  It is *killed* when a test fails.  One that survives shows what no test
holds, or is *equivalent*: no test could tell it from the library.

    pip install -e '.[test,mutation]'
    python tests/mutation/run.py model.laws bench.evidence      # 25 mutants of each, drawn by seed
    python tests/mutation/run.py --sample 10                    # ten of every module of the core
    python tests/mutation/run.py model.table --sample 0         # every mutant of one module

It works on a copy of the tree in a temporary folder.  A mutant meets only test files that run its
line, at most ``--files`` of them: the module's own file first, then those that import the module;
if none of these runs it, those of the modules that import it.  Which lines a file runs is learnt
once, under ``coverage`` (``--keep`` keeps that for the next time).  No browser, no workbook;
Hypothesis draws the same few examples each time.  A mutant that runs much longer than its tests
should counts as timed out, which is noticed.

The table at the end gives for each module the mutants drawn, killed, timed out and left alive;
below it stands each survivor as a diff.  README.md in this folder holds the figures of the last
long run, and why each survivor survives.  With ``--results FILE`` a run that was stopped goes on
where it was, and with ``--again`` the survivors in that file are tried once more.

What is changed is settled by mutmut's own operators.  ``LEFT_OUT`` below says what is left alone.
"""

import argparse
import json
import os
import random
import re
import resource
import shutil
import signal
import sys
import tempfile
import time
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import asdict, dataclass
from difflib import unified_diff
from functools import partial
from hashlib import sha256
from pathlib import Path
from typing import Any

import libcst as cst
from libcst.metadata import MetadataWrapper, PositionProvider
from mutmut.mutation.mutators import mutation_operators, operator_string

ROOT = Path(__file__).parents[2]
CORE = "general model readings describing bench acceptance fit time teaching".split()

# -- what is left alone ----------------------------------------------------------------------------

LEFT_OUT = {
    "strings": "wording, docstrings, names and keys: most are prose, which tests need not fix",
    "type hints": "mypy judges them",
    "type aliases": "a name in capitals and small letters, set at the head of a module: hints too",
    "decorators": "they run when the module is loaded",
    "imports": "a wrong one does not load",
    "strict=": "of zip: a guard against our own slips, never met by right code",
    "encoding=": "of files: UTF-8 is what this machine would take without it",
}
KEYWORDS = {"strict", "encoding"}

# -- what is run -----------------------------------------------------------------------------------

COPIED = ("mechlogic", "tests", "workbooks", "docs", "pyproject.toml", "README.md", "LICENSE")
COPIED += ("CHANGELOG.md", "DEVELOPERS.md", "environment.yml")
NOT_RUN = {  # other things than the pure core: paperwork, Jupyter, pictures
    *("test_project.py", "test_imports.py", "test_format_page.py", "test_room.py"),
    *("test_workbooks.py", "test_widgets.py", "test_mutation.py"),
}
EXAMPLES = 40
GRACE_S = 10.0
"""How long a mutant may run, beside half as long again as its tests take under ``coverage``."""
SLOW_S = 45.0
"""A test file slower than this under ``coverage`` is not run, unless it is the module's own."""
MEMORY_BYTES = 6 << 30


@dataclass(frozen=True)
class Mutant:
    """One change to one module.

    Attributes:
        module: As in ``model.laws``.
        line: The first line of what is changed.
        first: The first line of the statement that it stands in.
        diff: The change, without context.
        key: What tells it from any other.
        source: The whole module, changed.
    """

    module: str
    line: int
    first: int
    diff: str
    key: str
    source: str


@dataclass(frozen=True)
class Result:
    """What became of a mutant: "killed", "timed out" or "survived"."""

    module: str
    line: int
    diff: str
    key: str
    fate: str
    seconds: float


# -- mutants ---------------------------------------------------------------------------------------


class Sites(cst.CSTVisitor):
    """Every node with everything that may be put in its place."""

    METADATA_DEPENDENCIES = (PositionProvider,)

    def __init__(self) -> None:
        self.found: list[tuple[int, int, cst.CSTNode, cst.CSTNode]] = []
        self._depth = 0
        self._statements: list[int] = []

    def on_visit(self, node: cst.CSTNode) -> bool:
        line = self.get_metadata(PositionProvider, node).start.line
        if isinstance(node, cst.FunctionDef | cst.ClassDef):
            self._depth += 1
        if isinstance(node, cst.SimpleStatementLine | cst.BaseCompoundStatement):
            self._statements.append(line)
        if self._is_left_out(node):
            return False
        for kind, operator in mutation_operators:
            if isinstance(node, kind) and operator is not operator_string:
                for other in operator(node):
                    if not self._differs_only_in_keywords(node, other):
                        self.found.append((line, self._statements[-1], node, other))
        return True

    def on_leave(self, node: cst.CSTNode) -> None:
        if isinstance(node, cst.FunctionDef | cst.ClassDef):
            self._depth -= 1
        if isinstance(node, cst.SimpleStatementLine | cst.BaseCompoundStatement):
            self._statements.pop()

    def _is_left_out(self, node: cst.CSTNode) -> bool:
        match node:
            case cst.Annotation() | cst.Decorator() | cst.Import() | cst.ImportFrom():
                return True
            case cst.Arg(keyword=cst.Name(value=name)):
                return name in KEYWORDS
            case cst.Assign(targets=[cst.AssignTarget(target=cst.Name(value=name))]):
                is_alias = name[0].isupper() and name != name.upper()
                return self._depth == 0 and (is_alias or name == "__all__")
        return False

    def _differs_only_in_keywords(self, node: cst.CSTNode, other: cst.CSTNode) -> bool:
        if not (isinstance(node, cst.Call) and isinstance(other, cst.Call)):
            return False
        kept = [[cst.Module([]).code_for_node(a) for a in _kept(one)] for one in (node, other)]
        return kept[0] == kept[1] and node.func.deep_equals(other.func)


def _kept(call: cst.Call) -> list[cst.Arg]:
    """The arguments that a mutant may change, each written alike wherever it stands."""
    plain = [arg.with_changes(comma=cst.MaybeSentinel.DEFAULT) for arg in call.args]
    return [arg for arg in plain if not (arg.keyword and arg.keyword.value in KEYWORDS)]


def mutants_of(module: str, source: str, sample: int, seed: int) -> tuple[int, list[Mutant]]:
    """How many mutants a module has, and those drawn, in the order of their lines.

    Args:
        module: As in ``model.laws``.
        source: Its text.
        sample: How many to draw; 0 for all.
        seed: The same seed draws the same ones; a larger sample holds a smaller one.
    """
    wrapper = MetadataWrapper(cst.parse_module(source))
    sites = Sites()
    wrapper.visit(sites)
    order = list(range(len(sites.found)))
    random.Random(f"{seed} {module}").shuffle(order)
    drawn = sorted(order[: sample or None])
    found = []
    for line, first, node, other in (sites.found[n] for n in drawn):
        changed = wrapper.module.deep_replace(node, other).code
        diff = unified_diff(source.splitlines(), changed.splitlines(), n=0, lineterm="")
        text = "\n".join(list(diff)[2:])
        key = sha256(f"{module} {changed}".encode()).hexdigest()[:16]
        found.append(Mutant(module, line, first, text, key, changed))
    return len(sites.found), found


# -- the copy, and what its tests run --------------------------------------------------------------


def copy_of_the_tree(folder: Path) -> None:
    """Copy what the tests need."""
    skip = shutil.ignore_patterns("__pycache__", ".*", "browser")
    for name in COPIED:
        if (ROOT / name).is_dir():
            shutil.copytree(ROOT / name, folder / name, ignore=skip, dirs_exist_ok=True)
        elif (ROOT / name).exists():
            shutil.copy(ROOT / name, folder / name)


def test_files(folder: Path) -> list[str]:
    """Every test file that may meet a mutant, relative to the copy."""
    tests = folder / "tests"
    paths = sorted([*tests.glob("test_*.py"), *(tests / "external").glob("test_*.py")])
    return [str(path.relative_to(folder)) for path in paths if path.name not in NOT_RUN]


class Settings:
    """A plugin: few examples, the same each time, and no search for a smaller one."""

    @staticmethod
    def pytest_configure() -> None:
        """Set Hypothesis up, after ``conftest.py`` has."""
        from hypothesis import HealthCheck, Phase, settings

        settings.register_profile(
            "mutation",
            deadline=None,
            max_examples=EXAMPLES,
            derandomize=True,
            database=None,
            phases=(Phase.explicit, Phase.generate),
            suppress_health_check=list(HealthCheck),
        )
        settings.load_profile("mutation")


def run_tests(folder: Path, files: Sequence[str]) -> int:
    """Run test files in this very process until one fails; pytest's exit code."""
    import pytest

    sys.path.insert(0, str(folder))
    os.chdir(folder)
    options = ["-x", "-q", "-o", "addopts=", "--import-mode=importlib", "--no-header"]
    options += ["-p", "no:cacheprovider", "--rootdir", str(folder)]
    code = int(pytest.main([*options, *files], plugins=[Settings]))
    import mechlogic

    assert Path(mechlogic.__file__).is_relative_to(folder), "the tests met another library"
    return code


def _preload() -> None:
    """Load in this process, once, what every test process needs; nothing of the library."""
    import hypothesis  # noqa: F401
    import matplotlib.figure  # noqa: F401
    import numpy  # noqa: F401
    import pytest  # noqa: F401
    import scipy.optimize  # noqa: F401
    import sympy  # noqa: F401
    from hypothesis.internal.charmap import charmap

    charmap()  # all of Unicode, which takes a second


def in_a_process_of_its_own(
    call: Callable[[], int], seconds: float, output: Path
) -> tuple[int | None, float]:
    """The exit code of a call, or None if it took longer than it may; and the seconds it took.

    Seconds are those of the processor, which other work on the machine does not lengthen; one that
    only waits is stopped after ten times as many on the clock.

    Args:
        call: Called in a fork of this process; what it returns is the exit code.
        seconds: How long it may take.
        output: Where all that it prints goes.
    """
    child = os.fork()
    if child == 0:
        code = 70
        try:
            os.setsid()
            resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
            resource.setrlimit(resource.RLIMIT_CPU, (int(seconds), int(seconds) + 5))
            with output.open("w", encoding="utf-8") as out:
                os.dup2(out.fileno(), 1)
                os.dup2(out.fileno(), 2)
            code = call()
        finally:
            sys.stdout.flush()
            os._exit(code)
    ends, killed = time.monotonic() + 10 * seconds, False
    while True:
        done, status, used = os.wait4(child, os.WNOHANG)
        if done:
            code = os.waitstatus_to_exitcode(status)
            over = killed or code == -signal.SIGXCPU
            return None if over else code, used.ru_utime + used.ru_stime
        if time.monotonic() > ends and not killed:
            os.killpg(child, signal.SIGKILL)
            killed = True
        time.sleep(0.02)


def lines_run(folder: Path, file: str, limit: float) -> dict[str, object]:
    """How long a test file takes, and which lines of the library it runs; none if it is slow."""
    report = folder / "lines.json"

    def watched() -> int:
        import coverage

        sys.dont_write_bytecode = False
        watch = coverage.Coverage(data_file=None, source=[str(folder / "mechlogic")])
        watch.start()
        code = run_tests(folder, [file])
        watch.stop()
        data = watch.get_data()
        lines = {p: sorted(data.lines(p) or ()) for p in data.measured_files()}
        report.write_text(json.dumps(lines), encoding="utf-8")
        return code

    code, took = in_a_process_of_its_own(watched, limit, folder / "output.txt")
    if code is None:
        return {"seconds": took, "lines": {}}
    if code != 0:
        text = (folder / "output.txt").read_text(encoding="utf-8")
        raise SystemExit(f"{file} fails before anything is changed:\n{text[-3000:]}")
    lines = json.loads(report.read_text(encoding="utf-8"))
    root = folder / "mechlogic"
    named = {
        ".".join(Path(p).relative_to(root).with_suffix("").parts): at for p, at in lines.items()
    }
    return {"seconds": took, "lines": named}


class Files:
    """What is known of the test files: which lines they run, and how long that takes.

    Args:
        folder: The copy of the tree.
        keep: A file that keeps what was learnt, for the next time.
    """

    def __init__(self, folder: Path, keep: Path | None) -> None:
        self.folder, self.keep = folder, keep
        self.files = test_files(folder)
        self.known = json.loads(keep.read_text("utf-8")) if keep and keep.exists() else {}
        library = sorted((folder / "mechlogic").rglob("*.py"))
        self._library = b"".join(path.read_bytes() for path in library)

    def near(self, module: str) -> tuple[list[str], list[str]]:
        """The test files that import a module, its own first; those of modules that import it."""
        package, _, name = module.rpartition(".")
        imports = re.compile(
            rf"mechlogic\.{package}\.{name}\b|from mechlogic\.{package} import .*\b{name}\b"
        )
        library = sorted((self.folder / "mechlogic").rglob("*.py"))
        importing = {path.stem for path in library if imports.search(path.read_text("utf-8"))}
        texts = {file: (self.folder / file).read_text("utf-8") for file in self.files}
        by_length = sorted(texts, key=lambda file: len(texts[file]))
        own = [file for file in by_length if Path(file).stem == f"test_{name}"]
        others = [file for file in by_length if imports.search(texts[file])]
        theirs = [f for f in by_length if Path(f).stem.removeprefix("test_") in importing]
        near = list(dict.fromkeys([*own, *others]))
        return near, [file for file in theirs if file not in near]

    def learnt(self, file: str, limit: float = SLOW_S) -> dict[str, Any]:
        """How long a test file takes, and which lines it runs; it is run once to learn that."""
        mark = sha256(self._library + (self.folder / file).read_bytes()).hexdigest()
        known = self.known.get(file, {})
        was_too_slow = known and not known["lines"] and known["seconds"] < limit / 2
        if known.get("mark") != mark or was_too_slow:
            self.known[file] = {"mark": mark, **lines_run(self.folder, file, limit)}
            print(f"  learnt    {self.known[file]['seconds']:5.1f} s  {file}", flush=True)
            if self.keep:
                self.keep.write_text(json.dumps(self.known), encoding="utf-8")
        return self.known[file]

    def running(self, mutant: Mutant, most: int) -> Iterator[str]:
        """So many of the near test files that run a mutant's line, before any that are further."""
        near, further = self.near(mutant.module)
        statement = set(range(mutant.first, mutant.line + 1))
        found = 0
        for file in (*near, *further):
            if found == most or (found and file in further):
                return
            own = Path(file).stem == f"test_{mutant.module.rpartition('.')[2]}"
            limit = 20 * SLOW_S if own else SLOW_S  # its own is waited for
            if statement.intersection(self.learnt(file, limit)["lines"].get(mutant.module, ())):
                found += 1
                yield file


# -- the run ---------------------------------------------------------------------------------------


def try_out(mutant: Mutant, files: Files, most: int) -> Result:
    """Run the tests of a mutant, one file after another, until one notices it."""
    folder = files.folder
    path = path_of(mutant.module, folder)
    sound = path.read_text(encoding="utf-8")
    fate, spent = "survived", 0.0
    for file in files.running(mutant, most):
        shutil.rmtree(path.parent / "__pycache__", ignore_errors=True)
        path.write_text(mutant.source, encoding="utf-8")
        try:
            code, took = in_a_process_of_its_own(
                partial(run_tests, folder, [file]),
                GRACE_S + 1.5 * files.learnt(file)["seconds"],
                folder / "output.txt",
            )
        finally:
            path.write_text(sound, encoding="utf-8")
        if code == 5:
            raise SystemExit(f"no test was found in {file}")
        spent += took
        fate = {None: "timed out", 0: "survived"}.get(code, "killed")
        if fate != "survived":
            break
    return Result(mutant.module, mutant.line, mutant.diff, mutant.key, fate, round(spent, 1))


def path_of(module: str, root: Path = ROOT) -> Path:
    """The file of a module that is named as in ``model.laws``."""
    return root / "mechlogic" / Path(*module.split(".")).with_suffix(".py")


def modules_of(names: Iterable[str]) -> Iterator[str]:
    """Modules for what was asked: a module, or a package with all its modules."""
    for name in names:
        path = ROOT / "mechlogic" / Path(*name.split("."))
        if path.is_dir():
            yield from (f"{name}.{one.stem}" for one in sorted(path.glob("[!_]*.py")))
        elif path.with_suffix(".py").exists():
            yield name
        else:
            raise SystemExit(f"there is no module {name}; modules are named as in model.laws")


def table(results: Iterable[Result], all_mutants: dict[str, int]) -> str:
    """The figures by module, and the survivors as diffs."""
    by_module: dict[str, list[Result]] = {}
    for one in results:
        by_module.setdefault(one.module, []).append(one)
    lines = [
        "| module | of | mutants | killed | timed out | survived |",
        "|---|--:|--:|--:|--:|--:|",
    ]
    total = [0] * 5
    for module, found in by_module.items():
        counts = [
            sum(one.fate == fate for one in found) for fate in ("killed", "timed out", "survived")
        ]
        row = [all_mutants.get(module, 0), len(found), *counts]
        total = [a + b for a, b in zip(total, row, strict=True)]
        lines.append(f"| {module} | " + " | ".join(map(str, row)) + " |")
    lines.append("| all | " + " | ".join(map(str, total)) + " |")
    if total[1]:
        lines.append(f"\nNoticed: {(total[2] + total[3]) / total[1]:.1%} of {total[1]}.")
    for one in (one for found in by_module.values() for one in found):
        if one.fate == "survived":
            lines.append(f"\n{one.module}, line {one.line}  [{one.key}]\n{one.diff}")
    return "\n".join(lines)


def results_in(path: Path | None) -> dict[str, Result]:
    """What an earlier run found, the last word on each mutant."""
    if not path or not path.exists():
        return {}
    rows = (json.loads(line) for line in path.read_text(encoding="utf-8").splitlines())
    return {row["key"]: Result(**row) for row in rows}


def main(argv: Sequence[str] | None = None) -> int:
    """Draw mutants, try them, print the table.  Exit 0 if at least nine in ten were noticed."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument(
        "modules", nargs="*", default=CORE, help="model.laws, or model for all of it"
    )
    parser.add_argument("--sample", type=int, default=25, help="mutants of each module; 0 for all")
    parser.add_argument("--seed", type=int, default=1, help="which ones are drawn")
    parser.add_argument("--files", type=int, default=4, help="test files that one mutant may meet")
    parser.add_argument("--results", type=Path, help="a file for the results, one a line, to go on")
    parser.add_argument("--again", action="store_true", help="try the survivors in it once more")
    parser.add_argument("--keep", type=Path, help="a file for what the test files run")
    asked = parser.parse_args(argv)
    os.environ |= {"OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1", "MPLBACKEND": "Agg"}
    os.environ["PYTEST_DISABLE_PLUGIN_AUTOLOAD"] = "1"  # those of Jupyter take seconds to load
    _preload()
    earlier, results, all_mutants = results_in(asked.results), [], {}
    with tempfile.TemporaryDirectory(prefix="mutation_") as scratch:
        folder = Path(scratch).resolve()
        copy_of_the_tree(folder)
        files = Files(folder, asked.keep)
        sys.dont_write_bytecode = True
        for module in modules_of(asked.modules):
            source = path_of(module, folder).read_text(encoding="utf-8")
            all_mutants[module], drawn = mutants_of(module, source, asked.sample, asked.seed)
            for mutant in drawn:
                result = earlier.get(mutant.key)
                if result is None or (asked.again and result.fate == "survived"):
                    result = try_out(mutant, files, asked.files)
                    print(f"  {result.fate:9} {result.seconds:5.1f} s  {module}:{mutant.line}")
                    sys.stdout.flush()
                    if asked.results:
                        with asked.results.open("a", encoding="utf-8") as out:
                            out.write(json.dumps(asdict(result)) + "\n")
                results.append(result)
    print(table(results, all_mutants))
    noticed = sum(one.fate != "survived" for one in results)
    return 0 if noticed >= 0.9 * len(results) else 1


if __name__ == "__main__":
    sys.exit(main())
