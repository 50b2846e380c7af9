"""``python -m tests.benchmarks [--quick] [--json FILE] [NAME…]``: measure, print, keep."""

from __future__ import annotations

import argparse
import sys
import tempfile
from pathlib import Path

from tests.benchmarks.cases import CASES
from tests.benchmarks.harness import Measure, as_json, table
from tests.benchmarks.stores import Bench


def main() -> int:
    """Run the chosen benchmarks; the status is 1 when a limit is not kept."""
    parser = argparse.ArgumentParser(prog="python -m tests.benchmarks")
    parser.add_argument("names", nargs="*", metavar="NAME", help=f"of {', '.join(CASES)}")
    parser.add_argument("--quick", action="store_true",
                        help="tiny sizes: shows that they run, says nothing about limits")
    parser.add_argument("--json", type=Path, metavar="FILE", help="keep the figures here as well")
    options = parser.parse_args()
    unknown = set(options.names) - set(CASES)
    if unknown:
        parser.error(f"no such benchmark: {', '.join(sorted(unknown))}")
    measures: list[Measure] = []
    with tempfile.TemporaryDirectory() as folder:
        bench = Bench(Path(folder), quick=options.quick)
        for name in options.names or CASES:
            print(f"{name} …", file=sys.stderr, flush=True)
            measures += CASES[name](bench)
    print(table(measures))
    if options.json:
        options.json.write_text(as_json(measures) + "\n", encoding="utf-8")
    return int(any(m.kept is False for m in measures) and not options.quick)


if __name__ == "__main__":
    sys.exit(main())
