"""Hand every bad file to its loader in a process of its own, and say what came of it.

    python measure.py OUT.jsonl

For each row of each table one line of JSON: the name, what was raised, the problems it told, the
seconds of the processor, and the most memory that Python held besides, in MiB.  The process may
take two gigabytes: what wants more ends in an error of its own.
"""

import json
import resource
import sys
import tempfile
import time
import tracemalloc
from collections.abc import Callable
from pathlib import Path

sys.path[:0] = [str(Path(__file__).parents[1]), str(Path(__file__).parents[2])]

from bad_input import descriptions, logs  # noqa: E402
from bad_input.cases import made  # noqa: E402

from mechlogic.describing import description  # noqa: E402
from mechlogic.model import logbook  # noqa: E402

MOST_BYTES = 2 << 30


def main(out: Path) -> None:
    """Try every row, and write what came of it."""
    resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, MOST_BYTES))
    with tempfile.TemporaryDirectory() as folder, out.open("w", encoding="utf-8") as lines:
        for table, module, read in (
            ("description", descriptions, description.read),
            ("log", logs, logbook.read_logbook),
        ):
            path = Path(folder) / f"bad.{'toml' if table == 'description' else 'csv'}"
            for row in module.BAD:
                path.write_bytes(made(row.change, module.GOOD))
                print(
                    json.dumps({"table": table, "name": row.name, **tried(read, path)}), file=lines
                )
                lines.flush()


def tried(read: Callable[[Path], object], path: Path) -> dict[str, object]:
    """What came of reading a file: once against the clock, once against the scales."""
    begin = time.process_time()
    told = outcome(read, path)
    seconds = time.process_time() - begin
    tracemalloc.start()
    outcome(read, path)
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    return {**told, "seconds": seconds, "mib": most / 2**20}


def outcome(read: Callable[[Path], object], path: Path) -> dict[str, object]:
    """What was raised, the whole message, and the problems in it."""
    try:
        read(path)
    except Exception as error:  # whatever it is, the test says which it had to be
        problems = [
            {
                "source": problem.source,
                "line": problem.line,
                "at": problem.place,
                "what": problem.what,
                "mend": problem.mend,
            }
            for problem in getattr(error, "problems", ())
        ]
        return {
            "raised": type(error).__name__,
            "message": str(error)[:20_000],
            "problems": problems,
        }
    return {"raised": "", "message": "", "problems": []}


if __name__ == "__main__":
    main(Path(sys.argv[1]))
