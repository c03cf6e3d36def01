"""How well the line keeps its times: the intervals asked for, and those that came about.

    python tests/bench/measure_line.py

Over a pseudo-terminal of this system; an adapter's own delay is not in it. Also: how long a test of
a machine takes over the line, and typed by hand one character at a time (8 s a character, to type,
read and write down; common practice, no source).
"""

import random
from itertools import pairwise
from statistics import median, quantiles

import mechlogic
from mechlogic.acceptance.testcards import typeable
from mechlogic.line.framing import SPEEDS, Framing, framing_for
from mechlogic.line.log import timed_log
from mechlogic.line.port import SerialPort
from mechlogic.line.session import Errand, LineSession
from mechlogic.line.simulated import SimulatedMachine
from mechlogic.model.faults import single_faults

BY_HAND_S = 8.0


def intervals() -> None:
    saltmere = mechlogic.load("saltmere")
    print("baud    asked    median      95 %   most   (ms between characters)")
    for baud in SPEEDS:
        framing = Framing(baud, 5, stop_units=1.5)
        simulated = SimulatedMachine(saltmere, (), framing)
        session = LineSession(SerialPort(simulated.name, framing), framing)
        errand = session.send(Errand([1] * 60))
        errand.wait()
        found = [1000 * (b.at_s - a.at_s) for a, b in pairwise(errand.sent)]
        asked = framing.rate.character_ms
        print(
            f"{baud:6g} {asked:7.2f} {median(found):9.2f} {quantiles(found, n=20)[-1]:9.2f} "
            f"{max(found):6.2f}"
        )
        session.close()
        simulated.close()


def found_over_the_line() -> None:
    rng = random.Random(1)
    print("\nmachine     faults found  characters  seconds on the line  by hand, s")
    for name in ("saltmere", "ebbing", "ness", "sluice", "wind"):
        machine = mechlogic.load(name)
        framing = framing_for(machine)
        fast = Framing(9600, framing.bits, framing.parity, framing.stop_units)
        first = n = 0
        faults = [f for f in single_faults(machine.mechanism) if f.mode != "disconnected"]
        for fault in rng.sample(faults, 10):
            simulated = SimulatedMachine(machine, (fault,), fast)
            session = LineSession(SerialPort(simulated.name, fast), fast)
            codes = rng.sample(typeable(machine), len(typeable(machine))) * 2
            errand = session.send(Errand(codes))
            errand.wait()
            while len(simulated.prints) < len(codes):
                pass
            found = mechlogic.diagnose(
                machine, timed_log(machine, fast, errand.sent, simulated.prints)
            )
            first += any((fault,) in suspect.members for suspect in found.considered[:3])
            n += len(codes)
            session.close()
            simulated.close()
        print(
            f"{name:10} {first:3} of 10 in 3  {n / 10:8.0f} {n / 10 * framing.character_s:14.1f} "
            f"{n / 10 * BY_HAND_S:17.0f}"
        )


if __name__ == "__main__":
    intervals()
    found_over_the_line()
