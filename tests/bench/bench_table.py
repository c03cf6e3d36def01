"""How much is gained by tabulating many codes at once.  Run it by hand; nothing is asserted.

    python tests/bench/bench_table.py

Four readings of where the parts of the Saltmere printer stand for all 256 settings of its code
bars: the table; the plain loop of the tests' brute force; python-sat, asked for one setting after
the other; and substituting numbers into SymPy's formula (one part and a few settings only, it is
that slow).  Then a proof, by the table and by python-sat.  Ratios travel between computers; times
do not.
"""

import sys
from collections.abc import Iterator
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parents[1] / "external"))

from brute_force import Printer, read
from figures import Figure, lines, seconds
from test_second_engines import Clauses

from mechlogic.explaining import formulas, proofs
from mechlogic.explaining.formulas import bit
from mechlogic.machines import FOLDER, load
from mechlogic.model.behaviour import Behaviour
from mechlogic.model.faults import single_faults
from mechlogic.model.table import tabulate

SALTMERE, PLAIN = load("saltmere"), Printer(read(FOLDER / "saltmere.toml"))
MECHANISM, ROWS = SALTMERE.mechanism, SALTMERE.all_codes
PART, FEW = "lift", ROWS.codes[::32]


def substitute() -> None:
    """SymPy's formula of one part, with numbers for the code bars."""
    formula = formulas.travel_from_bars(MECHANISM, PART)
    bars = {name: formulas.displacement(MECHANISM, name) for name in MECHANISM.bars}
    for code in FEW:
        formula.subs(
            {
                symbol: formulas.exact(bar.stroke) * (code >> (bar.bit - 1) & 1)
                for name, symbol in bars.items()
                for bar in (MECHANISM.bars[name],)
            }
        )


def loop() -> None:
    for code in ROWS.codes:
        PLAIN.follow(code)


def asked_one_by_one(clauses: Clauses, bits: dict[int, int]) -> None:
    """python-sat's model for each setting: it says where every part stands."""
    for code in ROWS.codes:
        setting = (one if code >> (number - 1) & 1 else -one for number, one in bits.items())
        assert clauses.model(bits, *setting) == code


def refuted(clauses: Clauses, wrong: int) -> None:
    assert not clauses.solver.solve(assumptions=[wrong])


def every_fault() -> None:
    for fault in single_faults(MECHANISM):
        behaviour = Behaviour(SALTMERE, (fault,))
        for world in behaviour.worlds():
            SALTMERE.prints(behaviour.table(ROWS, ROWS.every, world, SALTMERE.healthy), ROWS)


def figures() -> Iterator[Figure]:
    clauses = Clauses()
    bits, at = clauses.copy()
    claim = bit(2) | bit(5)
    wrong = clauses.differ(clauses.passed(at, "middle_stop", 0), clauses.formula(claim, bits))

    table = seconds(lambda: [tabulate(MECHANISM, ROWS) for _ in range(100)]) / 100
    plain, sat = seconds(loop), seconds(lambda: asked_one_by_one(clauses, bits))
    sympy = seconds(substitute) * len(ROWS.codes) / len(FEW)
    whole = f"every part for {len(ROWS.codes)} settings"
    yield Figure(whole, table, "plain loop", plain / table)
    yield Figure(whole, table, "python-sat, setting by setting", sat / table)
    yield Figure(whole, table, "SymPy substitution, one part only", sympy / table)

    proof = seconds(lambda: proofs.operated_when(MECHANISM, "middle_stop", claim))
    sat = seconds(lambda: [refuted(clauses, wrong) for _ in range(100)]) / 100
    yield Figure(
        "a lever is the OR of two bits, proved",
        proof,
        "python-sat, its clauses at hand",
        sat / proof,
    )

    took, n_faults = seconds(every_fault), len(single_faults(MECHANISM))
    what = f"what {n_faults} single faults print, {len(ROWS.codes)} settings"
    yield Figure(what, took, "a healthy table", table / took)


def main() -> None:
    print("\n".join(lines(figures())))


if __name__ == "__main__":
    main()
