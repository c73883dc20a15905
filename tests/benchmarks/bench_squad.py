"""Squads of 10 to 5,000 runners over 16 weeks: processor time a runner, memory, growth, and one change.

``pytest -m benchmark -s tests/benchmarks/bench_squad.py`` prints ratios; no clock is asserted. By itself,
``python -m tests.benchmarks.bench_squad 10 100 1000 5000`` measures the sizes that are asked for.
"""

from __future__ import annotations

import json
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

import pytest

from tests.squad.squads import rows_of, write_roster, write_squad

_MEASURE = """
import json, resource, sys, time
from pathlib import Path
from planbuilder import delivery
from planbuilder.block import read_block
from planbuilder.outputs.workers import cores

warm, folder, out = map(Path, sys.argv[1:4])
changed, jobs = sys.argv[4] == "changed", int(sys.argv[5])
BOTH = (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)

def spent():
    return sum(used.ru_utime + used.ru_stime for used in map(resource.getrusage, BOTH))

list(delivery.build(read_block(warm), warm / "out", jobs=1))
before, began = spent(), time.monotonic()
built = skipped = 0
for one in delivery.build(read_block(folder), out, changed=changed, jobs=jobs or cores()):
    built, skipped = built + 1, skipped + one.skipped
found = dict(runners=built, skipped=skipped, cpu_s=spent() - before, wall_s=time.monotonic() - began)
print(json.dumps(found | dict(mb=max(resource.getrusage(who).ru_maxrss for who in BOTH) / 1024)))
"""


def measure(warm: Path, folder: Path, out: Path, *, changed: bool = False, jobs: int = 0) -> dict[str, float]:
    """What one build costs once everything is imported; memory is that of the largest process."""
    how = ["changed" if changed else "all", str(jobs)]
    command = [sys.executable, "-c", _MEASURE, str(warm), str(folder), str(out), *how]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    found: dict[str, float] = json.loads(done.stdout)
    return found


def sizes(counts: list[int]) -> None:
    """Build squads of these sizes and print what they cost."""
    with tempfile.TemporaryDirectory() as place:
        home = Path(place)
        warm = write_squad(home / "warm", 2, seed=9)
        singles = []
        for number in range(12):
            folder = write_squad(home / f"single-{number}", 1, seed=1)
            write_roster(folder / "roster.csv", [rows_of(12, 1)[number]])
            singles.append(measure(warm, folder, home / f"out-{number}", jobs=1)["cpu_s"])
        single = sum(singles) / len(singles)
        print(f"\none runner alone: {single * 1000:.0f} ms of processor time")
        walls: dict[int, float] = {}
        for count in counts:
            folder, out = write_squad(home / f"block-{count}", count), home / f"squad-{count}"
            full = measure(warm, folder, out)
            walls[count] = full["cpu_s"]
            size = sum(path.stat().st_size for path in out.rglob("*") if path.is_file())
            rows = rows_of(count, 1)
            rows[count // 2]["longest run"] = "13 km"
            write_roster(folder / "roster.csv", rows)
            one = measure(warm, folder, out, changed=True)
            print(
                f"{count} runners: {full['cpu_s'] / count * 1000:.0f} ms a runner "
                f"({full['cpu_s'] / count / single:.2f} times one alone), {full['wall_s']:.0f} s, "
                f"{full['mb']:.0f} MB in the largest process, {size / count / 1000:.0f} kB a runner; "
                f"one changed: {one['cpu_s']:.2f} s, 1/{full['cpu_s'] / one['cpu_s']:.0f} of all, "
                f"{count - one['skipped']:.0f} built",
                flush=True,
            )
            shutil.rmtree(out)
        if {1000, 5000} <= walls.keys():
            print(f"5,000 against 1,000: {walls[5000] / walls[1000]:.2f} times")


@pytest.mark.benchmark
def test_what_squads_cost() -> None:
    sizes([10, 100])


if __name__ == "__main__":
    sizes([int(word) for word in sys.argv[1:]] or [10, 100])
