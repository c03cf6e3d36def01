"""All benchmarks in one table: what the library does, and how much longer other ways take.

    python tests/bench/run.py

Times are computing times of one process and differ from computer to computer; ratios travel, and
docs/speed.md says how to read them.  Nothing is asserted.  Each benchmark can also be run alone,
and then says more.
"""

import bench_diagnosis
import bench_search
import bench_table
import bench_testcards
import bench_tolerance
from figures import lines

BENCHMARKS = bench_table, bench_diagnosis, bench_search, bench_testcards, bench_tolerance


def main() -> None:
    for line in lines(figure for bench in BENCHMARKS for figure in bench.figures()):
        print(line, flush=True)


if __name__ == "__main__":
    main()
