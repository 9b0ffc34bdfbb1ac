"""Measure every kernel and its peers, and print the table.

    python -m tests.benchmarks              measure, then print
    python -m tests.benchmarks saved.json   print what pytest-benchmark has saved

Nothing else should be running: see the load that is printed with the table.
"""

from __future__ import annotations

import json
import math
import os
import platform
import subprocess
import sys
import tempfile
from collections.abc import Sequence
from importlib.metadata import version
from pathlib import Path
from typing import Any

from tests.benchmarks import peers

NONE = "–"


def main(arguments: Sequence[str]) -> None:
    busy = os.getloadavg()[0]
    if arguments:
        measured = json.loads(Path(arguments[0]).read_text())
        loaded = ""
    else:
        measured, loaded = measure(), f"; load {busy:.1f} at the start"
    print(table(measured["benchmarks"]), end="\n\n")
    print("Processor time of all cores together, which other work on the machine sways less:\n")
    print(table(measured["benchmarks"], cpu=True), end="\n\n")
    print(f"{conditions(measured['machine_info'])}{loaded}.")


def measure() -> dict[str, Any]:
    """Run the benchmarks and give back what pytest-benchmark wrote."""
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "measured.json"
        subprocess.run(
            [
                *(sys.executable, "-m", "pytest", str(Path(__file__).parent), "-q"),
                *("-n", "0", "--benchmark-enable", "--benchmark-only", f"--benchmark-json={file}"),
            ],
            check=True,
            stdout=sys.stderr,
        )
        measured: dict[str, Any] = json.loads(file.read_text())
        return measured


def table(benchmarks: Sequence[dict[str, Any]], *, cpu: bool = False) -> str:
    """Markdown: seconds a size, growth for four times the cells, and how much slower a peer is.

    cpu: processor time of all cores instead of the time that passed.
    """
    taken: dict[str, dict[int, float]] = {}
    question = {}
    for each in benchmarks:
        info = each["extra_info"]
        taken.setdefault(info["name"], {})[info["size"]] = _seconds(each, cpu)
        question[info["name"]] = info["question"]
    sizes = sorted({size for row in taken.values() for size in row})
    heads = ["seconds", *(f"{size}²" for size in sizes), "4 × the cells", "against ours"]
    rows = [
        [
            name,
            *(f"{row[size]:.3f}" if size in row else NONE for size in sizes),
            _growths(row),
            _ratio(row, taken.get(question[name], {})) if question[name] != name else "",
        ]
        for name, row in taken.items()
    ]
    aligned = ["---", *["---:"] * (len(heads) - 1)]
    return "\n".join(f"| {' | '.join(cells)} |" for cells in (heads, aligned, *rows))


def _seconds(benchmark: dict[str, Any], cpu: bool) -> float:
    """Of the best round, without what a program needs to start, to read and to write."""
    info = benchmark["extra_info"]
    if cpu:
        return float(info["cpu_s"] - info.get("aside_cpu_s", 0.0))
    return float(benchmark["stats"]["min"] - info.get("aside_s", 0.0))


def growth(size: int, took_s: float, larger: int, larger_s: float) -> float:
    """The factor of time for a factor of four in cells, between two sizes of side."""
    return float((larger_s / took_s) ** (math.log(4.0) / math.log((larger / size) ** 2)))


def conditions(machine: dict[str, Any]) -> str:
    """One line on what the table was measured with."""
    own = [f"{name} {version(name)}" for name in ("numba", "numpy", "richdem2")]
    cpu = machine.get("cpu", {}).get("brand_raw") or platform.machine()
    return (
        f"Best of the rounds on {os.cpu_count()} cores ({cpu}); "
        f"{', '.join([f'Python {platform.python_version()}', *own, *peers.versions()])}"
    )


def _growths(row: dict[int, float]) -> str:
    pairs = list(zip(sorted(row), sorted(row)[1:], strict=False))
    return ", ".join(f"×{growth(a, row[a], b, row[b]):.2f}" for a, b in pairs) or NONE


def _ratio(row: dict[int, float], ours: dict[int, float]) -> str:
    both = sorted(set(row) & set(ours))
    return f"{row[both[-1]] / ours[both[-1]]:.1f}" if both else NONE


if __name__ == "__main__":
    main(sys.argv[1:])
