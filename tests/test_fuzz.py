"""A short run of hostile files, always the same ones; tests/fuzz says how to run it for long."""

import runpy
import signal
from pathlib import Path

import pytest

SCRIPT = Path(__file__).parent / "fuzz" / "fuzz_loaders.py"


@pytest.fixture(scope="module")
def fuzz():
    return runpy.run_path(str(SCRIPT), run_name="fuzz_loaders")


@pytest.mark.parametrize("loader", ["description", "log"])
def test_files_drawn_from_a_seed_are_taken_or_refused_as_they_should_be(fuzz, loader):
    signal.signal(signal.SIGVTALRM, fuzz["_does_not_come_back"])
    run = fuzz["Run"](fuzz["target"](loader), most_seconds=10.0)  # no measurement: a guard
    run.warm()
    fuzz["plain"](run, seed=20310203, seconds=300.0, most=400)
    assert run.findings == {}
    assert run.tried == 400 and 20 < run.taken < 380  # both kinds come up


@pytest.mark.parametrize("raised", [KeyError("x"), RecursionError(), MemoryError(), SystemError()])
def test_a_loader_that_raises_anything_else_is_found_out(fuzz, raised):
    def check(data):
        raise raised

    run = fuzz["Run"](fuzz["Target"](check, (b"",)))
    run.try_(b"")
    (said,) = run.findings
    assert type(raised).__name__ in said


def test_a_refusal_without_the_files_name_or_without_a_mend_is_found_out(fuzz):
    with pytest.raises(fuzz["Broken"], match="name the file"):
        fuzz["_look_at"]("something is wrong", [object()])
    with pytest.raises(fuzz["Broken"], match="no mend"):
        fuzz["_look_at"](f"{fuzz['NAME']}: wrong", [object()])
