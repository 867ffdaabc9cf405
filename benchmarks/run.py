"""Run every bench, keep what each printed, and write docs/performance.md.

Usage: python benchmarks/run.py [--only NAME]
"""

from __future__ import annotations

import json
import os
import platform
import subprocess
import sys
from datetime import UTC, datetime
from importlib.metadata import version
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
KEPT = ROOT / "benchmarks" / "results"
PACKAGES = ("numpy", "scipy", "numba", "polars", "sqlalchemy")


def machine() -> dict[str, object]:
    """What it ran on."""
    import sqlite3

    return {
        "cores": os.cpu_count(),
        "system": platform.platform(),
        "python": platform.python_version(),
        "sqlite": sqlite3.sqlite_version,
        **{p: version(p) for p in PACKAGES},
        "at": datetime.now(UTC).date().isoformat(),
    }


def flat(value: object, prefix: str = "") -> list[tuple[str, str]]:
    """Lines of a table from nested figures."""
    if isinstance(value, dict):
        return [row for k, v in value.items() for row in flat(v, f"{prefix}.{k}" if prefix else str(k))]
    if isinstance(value, list) and value and isinstance(value[0], dict):
        return [row for i, v in enumerate(value, 1) for row in flat(v, f"{prefix} {i}")]
    if isinstance(value, float):
        return [(prefix, f"{value:.4g}")]
    return [(prefix, str(value))]


def write_page() -> None:
    """Write docs/performance.md from what is kept."""
    parts = [
        (
            "# Performance\n\nMade by `make bench` from `benchmarks/results`. Ratios compare with a peer in the same run; "
            "absolute figures hold for the machine named and no other. Machines are shared and noisy: a ratio is the figure "
            "to read.\n"
        )
    ]
    for path in sorted(KEPT.glob("*.json")):
        body = json.loads(path.read_text("utf-8"))
        parts.append(f"\n## {path.stem}\n\n")
        made = ", ".join(f"{k} {v}" for k, v in body["machine"].items())
        parts.append(f"{made}\n\n| figure | value |\n|---|---|\n")
        parts += [f"| {name} | {value} |\n" for name, value in flat(body["figures"])]
    (ROOT / "docs" / "performance.md").write_text("".join(parts), encoding="utf-8")


def main() -> None:
    """Run the benches named, or all."""
    only = sys.argv[2] if len(sys.argv) == 3 and sys.argv[1] == "--only" else ""
    KEPT.mkdir(exist_ok=True)
    for bench in sorted((ROOT / "benchmarks").glob("bench_*.py")):
        name = bench.stem.removeprefix("bench_")
        if only and name != only:
            continue
        print(f"--- {name}", flush=True)
        done = subprocess.run(
            [sys.executable, str(bench)], capture_output=True, text=True, check=False, cwd=ROOT
        )
        if done.returncode != 0:
            sys.exit(f"{bench.name} ended with {done.returncode}\n{done.stderr}")
        body = {"machine": machine(), "figures": json.loads(done.stdout)}
        (KEPT / f"{name}.json").write_text(json.dumps(body, indent=2) + "\n", encoding="utf-8")
        print(done.stdout, flush=True)
    write_page()


if __name__ == "__main__":
    main()
