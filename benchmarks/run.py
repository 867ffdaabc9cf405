"""Run every bench, keep what each printed, and write docs/performance.md.

Usage: python benchmarks/run.py [--only NAME] [--quick]

``--quick`` runs small sizes and keeps nothing: it shows that each bench runs, not how fast.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import subprocess
import sys
import time
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
        "processor": _processor(),
        "system": platform.platform(),
        "python": platform.python_version(),
        "sqlite": sqlite3.sqlite_version,
        **{p: version(p) for p in PACKAGES},
        "at": datetime.now(UTC).date().isoformat(),
    }


def _processor() -> str:
    """Name of the processor, where the system tells it."""
    try:
        lines = Path("/proc/cpuinfo").read_text("utf-8").splitlines()
    except OSError:
        return platform.processor() or platform.machine()
    named = next((line.partition(":")[2].strip() for line in lines if line.startswith("model name")), "")
    return named or platform.machine()


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


def programs(only: str) -> list[Path]:
    """Every bench, or the one that is named; ends with the names there are where there is none."""
    found = {p.stem.removeprefix("bench_"): p for p in (ROOT / "benchmarks").glob("bench_*.py")}
    if only and only not in found:
        sys.exit(f"no bench named {only}; there are: {', '.join(sorted(found))}")
    return [found[only]] if only else [found[name] for name in sorted(found)]


def figures(bench: Path, *, quick: bool) -> dict[str, object]:
    """Run one bench and return what it printed; ends where it does not end well or prints no figures."""
    has_short_form = "--quick" in bench.read_text("utf-8")
    words = [sys.executable, str(bench), *(["--quick"] if quick and has_short_form else [])]
    # Benches may import each other's parts and the package, whether or not it is installed.
    path = os.pathsep.join([str(ROOT / "src"), str(ROOT / "benchmarks"), os.environ.get("PYTHONPATH", "")])
    done = subprocess.run(
        words, capture_output=True, text=True, check=False, cwd=ROOT, env={**os.environ, "PYTHONPATH": path}
    )
    if done.returncode != 0:
        sys.exit(f"{bench.name} ended with {done.returncode}\n{done.stderr}")
    try:
        made = json.loads(done.stdout)
    except ValueError:
        sys.exit(f"{bench.name} printed no JSON:\n{done.stdout[:2000]}")
    if not isinstance(made, dict) or not made:
        sys.exit(f"{bench.name} printed no figures")
    return made


def main() -> None:
    """Run the benches named, or all."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0] if __doc__ else None)
    parser.add_argument("--only", default="", metavar="NAME", help="one bench, such as tube")
    parser.add_argument(
        "--quick", action="store_true", help="small sizes, nothing kept: does each run at all"
    )
    parser.add_argument(
        "--page", action="store_true", help="write the page from what is kept, and run nothing"
    )
    asked = parser.parse_args()
    if asked.page:
        write_page()
        return
    for bench in programs(asked.only):
        name = bench.stem.removeprefix("bench_")
        print(f"--- {name}", flush=True)
        began = time.monotonic()
        made = figures(bench, quick=asked.quick)
        print(f"    {len(flat(made))} figures after {time.monotonic() - began:.0f} s", flush=True)
        if asked.quick:
            continue
        KEPT.mkdir(exist_ok=True)
        body = {"machine": machine(), "figures": made}
        (KEPT / f"{name}.json").write_text(json.dumps(body, indent=2) + "\n", encoding="utf-8")
        print(json.dumps(made, indent=2), flush=True)
        # The page follows every bench: one that ends badly takes nothing from those before it.
        write_page()


if __name__ == "__main__":
    main()
