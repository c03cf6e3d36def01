"""How much is gained by tabulating many codes at once.  Run it by hand; nothing is asserted.

    python tests/bench/bench_table.py

Three readings of where the lift of the Saltmere printer stands for all 256 settings of its code
bars: the table, the plain loop of the tests' brute force, and substituting numbers into SymPy's
formula (for a few settings only, it is that slow).  Ratios travel between computers; times do
not.
"""

import sys
from pathlib import Path
from timeit import Timer

sys.path.insert(0, str(Path(__file__).parents[1]))

from brute_force import Printer, read

from mechlogic.machines import FOLDER, load
from mechlogic.model.behaviour import Behaviour
from mechlogic.model.faults import single_faults
from mechlogic.model.table import tabulate
from mechlogic.readings import formulas


def seconds(run):
    """The best of five, each long enough to be measured."""
    timer = Timer(run)
    number, _ = timer.autorange()
    return min(timer.repeat(5, number)) / number


def main():
    saltmere, plain = load("saltmere"), Printer(read(FOLDER / "saltmere.toml"))
    mechanism, rows = saltmere.mechanism, saltmere.all_codes
    part = "lift"

    formula = formulas.travel_from_bars(mechanism, part)
    few = rows.codes[::32]
    bars = {name: formulas.displacement(mechanism, name) for name in mechanism.bars}

    def substitute():
        for code in few:
            formula.subs(
                {
                    symbol: formulas.exact(bar.stroke) * (code >> (bar.bit - 1) & 1)
                    for name, symbol in bars.items()
                    for bar in (mechanism.bars[name],)
                }
            )

    def loop():
        for code in rows.codes:
            plain.follow(code)

    def every_fault():
        for fault in single_faults(mechanism):
            behaviour = Behaviour(saltmere, (fault,))
            for world in behaviour.worlds():
                saltmere.prints(behaviour.table(rows, rows.every, world, saltmere.healthy), rows)

    n = len(rows.codes)
    table = seconds(lambda: tabulate(mechanism, rows)) / n
    readings = [
        ("table, every part", table),
        ("plain loop, every part", seconds(loop) / n),
        ("SymPy substitution, one part", seconds(substitute) / len(few)),
    ]
    print(f"{'reading':32}{'µs a code':>12}{'times the table':>18}")
    for name, took in readings:
        print(f"{name:32}{took * 1e6:12.3f}{took / table:18.0f}")
    n_faults = len(single_faults(mechanism))
    took = seconds(every_fault)
    print(f"\nWhat is printed under each of {n_faults} single faults, {n} codes each:", end=" ")
    print(f"{took * 1e3:.0f} ms, as long as {took / table / n:.0f} healthy tables.")


if __name__ == "__main__":
    main()
