"""Build the wheel, install it into a clean environment elsewhere, and use it there.

An editable install can hide a data file that the wheel lacks; this check can't be fooled that way.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import venv
import zipfile
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent


def run(command: list[str], cwd: Path) -> str:
    """Run a command away from the source tree and return what it printed."""
    env = {k: v for k, v in os.environ.items() if k not in {"PYTHONPATH", "VIRTUAL_ENV"}}
    done = subprocess.run(command, cwd=cwd, check=False, capture_output=True, text=True, env=env)
    if done.returncode != 0:
        sys.exit(f"{' '.join(command)}\n{done.stdout}\n{done.stderr}")
    return done.stdout


def main() -> None:
    """Build, install, use."""
    with tempfile.TemporaryDirectory() as name:
        clean = Path(name)
        pip = [sys.executable, "-m", "pip", "--disable-pip-version-check", "-q"]
        flags = ["--no-deps", "--no-build-isolation", "-w", str(clean)]
        run([*pip, "wheel", *flags, str(ROOT)], clean)
        wheel = next(clean.glob("lodestarch-*.whl"))
        names = zipfile.ZipFile(wheel).namelist()
        for needed in ("lodestarch/py.typed", "lodestarch/method/profiles/meal-15.toml"):
            if needed not in names:
                sys.exit(f"the wheel lacks {needed}")
        venv.EnvBuilder(with_pip=True).create(clean / "env")
        inner = str(clean / "env" / "bin" / "python")
        lock = str(ROOT / "requirements" / "run.txt")
        inner_pip = [inner, "-m", "pip", "--disable-pip-version-check", "-q", "install", "--no-deps"]
        run([*inner_pip, "--require-hashes", "-r", lock], clean)
        run([*inner_pip, str(wheel)], clean)
        program = str(clean / "env" / "bin" / "lodestarch")
        run([program, "--help"], clean)
        portion = json.loads(run([program, "portion", "9", "--json"], clean))
        if portion["mass_g"] != 6.42:
            sys.exit(f"portion 9 gave {portion}")
        run([program, "demo"], clean)
        if not (clean / "out" / "demo.db").exists():
            sys.exit("the demonstration left no records")
    print("the wheel works from a clean folder")


if __name__ == "__main__":
    main()
