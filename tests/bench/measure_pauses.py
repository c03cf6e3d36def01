"""Sluggish parts, logs with and without pauses: how often the true fault comes first.  A report.

    python tests/bench/measure_pauses.py [machine, saltmere if left out]

Every single fault that is slow to return or slow to operate, and that a print can show: 12 random
characters, then the advised checks, until one suspect has 95 % or typing tells no more.  In a pause
the sluggish part comes home.  The machine is the tests' own simulator; nothing is misread.

columns    first: the true fault leads; contradicted: an entry must be misread if it is true; typed:
           characters, on average
"""

import random
import sys
from collections import Counter
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from brute_force import read
from plain_runs import Runs, plain

import mechlogic
from mechlogic import Entry, Logbook
from mechlogic.bench.advice import next_check, readable_codes
from mechlogic.bench.diagnosis import classes, diagnose
from mechlogic.machines import FOLDER

SURE, MOST = 0.95, 60
SLOW = "slow to return", "slow to operate"

WAYS = {
    "in a burst": (0.0, ("at once", "pause")),
    "every other a pause, noted": (0.5, ("at once", "pause")),
    "every other a pause, not noted": (0.5, ("", "")),
    "always a pause, noted": (1.0, ("at once", "pause")),
    "always a pause, not noted": (1.0, ("", "")),
}
"""How often there is a pause before a character, and what is noted of none and of one."""


class Typist:
    """A machine with a fault, and somebody who types and writes down what is printed."""

    def __init__(self, runs, machine, faults, way, seed):
        self.runs, self.faults, self.rng = runs, plain(faults), random.Random(seed)
        self.often, self.noted = WAYS[way]
        self.state = self.rng.choice(runs.states(self.faults))
        self.log = Logbook((), machine.code)

    def type(self, codes):
        for code in codes:
            if pause := len(self.log) > 0 and self.rng.random() < self.often:
                _, self.state = max(self.runs.printer.rested(self.faults, self.state))
            self.state, seen = self.rng.choice(self.runs.step(self.faults, code, False, self.state))
            self.log = self.log.adding(Entry(code, seen, gap=self.noted[pause]))


def followed(runs, machine, faults, way, seed):
    """The diagnosis of a log that was made as advised."""
    typist = Typist(runs, machine, faults, way, seed)
    typist.type(typist.rng.choices(readable_codes(machine), k=12))
    while True:
        diagnosis = diagnose(machine, typist.log)
        check = next_check(diagnosis) if diagnosis.ranked[0].probability < SURE else None
        if check is None or len(typist.log) >= MOST:
            return diagnosis
        typist.type(check.codes)


def main():
    name = sys.argv[1] if len(sys.argv) > 1 else "saltmere"
    machine, runs = mechlogic.load(name), Runs(read(FOLDER / f"{name}.toml"))
    silent, *shown = classes(machine)
    assert () in silent
    true = [f for members in shown for f in members if any(one.mode in SLOW for one in f)]
    n_of = Counter(f[0].mode for f in true)
    print(f"{name}: " + ", ".join(f"{n} parts {mode}" for mode, n in n_of.items()))
    print(f"{'':40}{'':16}    first  contradicted  typed")
    for way in WAYS:
        for mode in SLOW:
            first = contradicted = typed = 0
            for faults in (f for f in true if f[0].mode == mode):
                diagnosis = followed(runs, machine, faults, way, str(faults))
                first += faults in diagnosis.ranked[0].members
                contradicted += not diagnosis.find(faults).consistent
                typed += len(diagnosis.evidence.log)
            n = n_of[mode]
            print(f"{way:40}{mode:16} {first:4d}/{n} {contradicted:9d}/{n} {typed / n:8.1f}")


if __name__ == "__main__":
    main()
