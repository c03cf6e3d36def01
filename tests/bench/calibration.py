"""Whether a stated probability is kept: of the suspects given 30 %, are 30 % true?  A report.

    python tests/bench/calibration.py [repairs, 2000 if left out]

A repair is a fault drawn by its prior weight, or none, and a log of 6 to 20 characters at speed,
misread and smudged at the stated rates.  The tests' own simulator prints.  Then the same once
more, the truth drawn from weights that are wrong by a factor of three, up or down, mode by mode.
"""

import random
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from repairs import MACHINE, Claim, binned, claims_of_repair, expected_error, wilson

from mechlogic.bench.diagnosis import HEALTHY_WEIGHT, prior
from mechlogic.model.faults import Hypothesis, single_faults


def table(claims: list[Claim]) -> None:
    bins = binned(claims)
    print("     stated   suspects   mean stated   share true   95 % interval (Wilson)")
    for b in bins:
        low, high = wilson(b.true, b.n)
        kept = "" if low <= b.stated <= high else "  outside"
        print(
            f"{100 * b.low:3.0f} – {100 * b.high:3.0f} % {b.n:9d} {100 * b.stated:11.2f} % "
            f"{100 * b.true / b.n:10.2f} %   {100 * low:6.2f} to {100 * high:6.2f} %{kept}"
        )
    likely = [claim for claim in claims if claim[0] >= 0.01]
    print(f"expected calibration error, all suspects: {100 * expected_error(bins):.3f} %")
    print(f"of those stated at 1 % or more: {100 * expected_error(binned(likely)):.2f} %\n")


def wrong_by_three(rng: random.Random) -> dict[str, float]:
    """For each mode, and for the healthy machine, how wrong its weight is."""
    modes = {fault.mode: None for fault in single_faults(MACHINE.mechanism)}
    return {name: 3 ** rng.choice((-1, 1)) for name in ("healthy", *modes)}


def weight_off_by(factors: dict[str, float], faults: Hypothesis) -> float:
    if not faults:
        return HEALTHY_WEIGHT * factors["healthy"]
    return prior(faults) * factors[faults[0].mode]


def main() -> None:
    repairs = int(sys.argv[1]) if len(sys.argv) > 1 else 2000
    rng = random.Random(1927)
    print(f"-- {repairs} repairs, drawn by the library's own weights")
    table([claim for _ in range(repairs) for claim in claims_of_repair(rng, prior)])

    print(f"-- {repairs} repairs, the weights wrong by three, drawn anew for each repair")
    claims = []
    for _ in range(repairs):
        factors = wrong_by_three(rng)
        claims += claims_of_repair(rng, lambda faults, f=factors: weight_off_by(f, faults))
    table(claims)

    for seed in range(3):
        factors = wrong_by_three(random.Random(seed))
        off = ", ".join(f"{name} {factor:.2g}" for name, factor in factors.items())
        print(f"-- {repairs} repairs, the weights wrong by three in one and the same way: {off}")
        claims = []
        for _ in range(repairs):
            claims += claims_of_repair(rng, lambda faults, f=factors: weight_off_by(f, faults))
        table(claims)


if __name__ == "__main__":
    main()
