"""Whether memory comes back: machines loaded, diagnosed and dropped, many times over.

python tests/bench/measure_memory.py 500
"""

import gc
import sys
from pathlib import Path

import mechlogic
from mechlogic.bench.advice import next_check
from mechlogic.machines import names


def resident_mib() -> float:
    """Memory that this process holds now, in MiB (Linux)."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * 4096 / 2**20


def main(times: int) -> None:
    print(f"{times} loads, each with a diagnosis and advice; resident MiB")
    for name in names():
        seen = []
        for n in range(times):
            machine = mechlogic.load(name)
            codes = (machine.printing_codes or tuple(range(len(machine.code))))[:12]
            wrong = machine.good_print(codes[0])
            entries = tuple(mechlogic.Entry(code, wrong) for code in codes)
            next_check(mechlogic.diagnose(machine, mechlogic.Logbook(entries, machine.code)))
            del machine
            gc.collect()
            if n in (times // 10, times - 1):
                seen.append(resident_mib())
        print(f"{name:10} after a tenth {seen[0]:6.0f}, at the end {seen[-1]:6.0f}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 500)
