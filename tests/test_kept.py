"""What is worked out for a machine is kept with it, shared by whoever uses it, and goes with it."""

import gc
import weakref
from importlib import resources

import mechlogic
from mechlogic.acceptance.coverage import coverage
from mechlogic.bench.checks import options
from mechlogic.bench.search import look_further
from mechlogic.helpers.kept import kept
from mechlogic.machines import names


class Thing:
    def __init__(self) -> None:
        self.asked = 0


@kept(2)
def doubled(thing: Thing, n: int) -> int:
    thing.asked += 1
    return 2 * n


def test_an_answer_is_worked_out_once_for_each_owner():
    one, other = Thing(), Thing()
    assert [doubled(one, 3), doubled(one, 3), doubled(other, 3)] == [6, 6, 6]
    assert (one.asked, other.asked) == (1, 1)


def test_only_so_many_answers_are_kept():
    thing = Thing()
    for n in (1, 2, 3, 1):
        doubled(thing, n)
    assert thing.asked == 4


def test_a_machine_that_nobody_holds_is_gone_with_all_that_was_worked_out_for_it(tmp_path):
    """Each is made anew under a name of its own, since equal machines are shared by all tests."""
    for name in names():
        told = resources.files("mechlogic.machines").joinpath(f"{name}.toml").read_text("utf-8")
        path = tmp_path / f"{name}_again.toml"
        path.write_text(told.replace("about = ", "# again\nabout = ", 1), "utf-8")
        machine = mechlogic.load(path)
        assert machine is not mechlogic.load(name)
        codes = machine.printing_codes[:4] or tuple(range(4))
        printed = machine.good_print(codes[0])
        entries = tuple(mechlogic.Entry(code, printed) for code in codes)
        log = mechlogic.Logbook(entries, machine.code)
        found = mechlogic.diagnose(machine, log)
        options(found)
        look_further(machine, log, 1)
        coverage(machine, codes)
        gone = weakref.ref(machine)
        del machine, log, found
        gc.collect()
        assert gone() is None, name


def test_a_machine_in_use_is_the_same_for_everybody():
    first = mechlogic.load("wind")
    assert mechlogic.load("wind") is first
