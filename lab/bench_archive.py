"""How long the archive's page takes with many sets: rows made as for the tests, requests one after the other.

The processor's own time is told beside it: on a machine with other work that is the figure to go by.

python lab/bench_archive.py --sets 10000
"""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from desk_archive import fill
from desk_client import PAGE, client_of

from midfoot.store import Workspace

PATHS = (
    "/archive", "/archive?finding=squat_bar_forward", "/archive?lift=bench&view=side", "/archive?did=dropped",
    "/archive?start=4000", "/archive?from_load=100&to_load=140",
)  # fmt: skip


def main() -> None:
    """Fill a workspace and ask for each page so many times."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--sets", type=int, default=10_000)
    parser.add_argument("--times", type=int, default=60)
    asked = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder, Workspace.create(Path(folder) / "w") as workspace:
        fill(workspace, sets_n=asked.sets, lifters_n=max(30, asked.sets // 33))
        client = client_of(workspace)
        for path in PATHS:
            client.get(path, headers=PAGE)
            took, worked = [], []
            for _ in range(asked.times):
                start, cpu = time.perf_counter(), time.process_time()
                assert client.get(path, headers=PAGE).status_code == 200
                worked.append(1000 * (time.process_time() - cpu))
                took.append(1000 * (time.perf_counter() - start))
            said = "   ".join(
                f"{name} median {row[len(row) // 2]:6.1f} ms, p95 {row[int(len(row) * 0.95)]:6.1f} ms"
                for name, row in (("took", sorted(took)), ("of the processor", sorted(worked)))
            )
            print(f"{path:44} {said}")


if __name__ == "__main__":
    main()
