"""Run the checks, one after the other, and say how each ended.

Usage: python tools/check.py all|lint|types|doors|fast|browser|site|wheel|benches
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
BIN = Path(sys.executable).parent
PYTEST = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider"]

ENVIRONMENT = {**os.environ, "OPENBLAS_NUM_THREADS": "1"}
"""Two test processes on two cores: threads of linear algebra beneath them only stand in each other's way."""

STEPS: dict[str, list[list[str]]] = {
    "lint": [
        [str(BIN / "ruff"), "check", "."],
        [str(BIN / "ruff"), "format", "--check", "."],
    ],
    "types": [[str(BIN / "mypy")]],
    "doors": [[str(BIN / "lint-imports"), "--no-cache"]],
    "fast": [
        [*PYTEST, "--doctest-modules", "src/lodestarch"],
        [*PYTEST, "-n", "2", "-m", "not browser", "tests"],
    ],
    "browser": [[*PYTEST, "-n", "2", "--dist", "loadfile", "-m", "browser", "tests/browser"]],
    "site": [[sys.executable, "tools/make_site.py", "--pages-only"]],
    "wheel": [[sys.executable, "tools/check_wheel.py"]],
    "benches": [[sys.executable, "benchmarks/run.py", "--quick"]],
}

ASKED_FOR = {"benches"}
"""Steps that `all` leaves out: three minutes in which other work on the machine decides how long they take."""


def run_step(name: str) -> bool:
    """Run one step; True when every command of it ended well."""
    for command in STEPS[name]:
        print(f"--- {name}: {' '.join(Path(c).name if '/' in c else c for c in command)}", flush=True)
        start = time.monotonic()
        code = subprocess.run(command, cwd=ROOT, check=False, env=ENVIRONMENT).returncode
        print(
            f"    {'good' if code == 0 else f'ended with {code}'} after {time.monotonic() - start:.0f} s",
            flush=True,
        )
        if code != 0:
            return False
    return True


def main() -> None:
    """Run the steps named; all of them even where one fails, so that one run tells everything."""
    names = sys.argv[1:] or ["all"]
    wanted = [n for n in STEPS if n not in ASKED_FOR] if names == ["all"] else names
    failed = [name for name in wanted if not run_step(name)]
    if failed:
        sys.exit(f"did not hold: {', '.join(failed)}")
    print("every check holds")


if __name__ == "__main__":
    main()
