"""Set up what a command needs, from nothing but Python: a virtual environment from the hashed locks.

Usage: python tools/prepare.py run|test

``run`` makes ``.venv`` with what the product needs; ``test`` makes ``.venv-test`` with everything the checks
need and looks for the programs of the system that some checks drive. Both do nothing when the locks have not
changed since the last time.
"""

from __future__ import annotations

import hashlib
import os
import shutil
import subprocess
import sys
import venv
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
LOCKS = {"run": ("build.txt", "run.txt"), "test": ("dev.txt",)}
FOLDERS = {"run": ".venv", "test": ".venv-test"}
PROGRAMS = {
    "chromium": ("chromium", lambda: shutil.which("chromium")),
    "pdftoppm": ("poppler-utils", lambda: shutil.which("pdftoppm")),
    "qpdf": ("qpdf", lambda: shutil.which("qpdf")),
    "PostgreSQL": ("postgresql", lambda: next(Path("/usr/lib/postgresql").glob("*/bin/initdb"), None)),
}
OLDEST = (3, 11)


def say(text: str) -> None:
    """Tell what goes on, at once."""
    print(text, flush=True)


def python_of(folder: Path) -> Path:
    """Return the interpreter of an environment, on any system."""
    return folder / ("Scripts/python.exe" if os.name == "nt" else "bin/python")


def digest_of(locks: tuple[str, ...]) -> str:
    """Fingerprint of the locks, the package metadata and the interpreter."""
    sha = hashlib.sha256(sys.version.encode())
    for path in [*(ROOT / "requirements" / name for name in locks), ROOT / "pyproject.toml"]:
        sha.update(path.read_bytes())
    return sha.hexdigest()


def make_environment(kind: str) -> None:
    """Make or renew the environment of ``kind``."""
    folder = ROOT / FOLDERS[kind]
    stamp = folder / "made-from"
    wanted = digest_of(LOCKS[kind])
    if stamp.exists() and stamp.read_text() == wanted and python_of(folder).exists():
        return
    say(f"Setting up {folder.name} (once; a few minutes on a clean machine) ...")
    venv.EnvBuilder(with_pip=True, clear=True).create(folder)
    pip = [str(python_of(folder)), "-m", "pip", "--disable-pip-version-check", "--quiet"]
    for name in LOCKS[kind]:
        lock = ROOT / "requirements" / name
        subprocess.run([*pip, "install", "--require-hashes", "--no-deps", "-r", str(lock)], check=True)
    flags = ["--no-deps", "--no-build-isolation", "--editable", str(ROOT)]
    subprocess.run([*pip, "install", *flags], check=True)
    stamp.write_text(wanted)


def find_programs() -> None:
    """Install the system's programs that the checks drive, or say in one line what to install."""
    missing = [package for package, found in PROGRAMS.values() if not found()]
    if not missing:
        return
    line = f"apt-get install -y {' '.join(missing)}"
    if shutil.which("apt-get") and hasattr(os, "geteuid") and os.geteuid() == 0:
        say(f"Installing {', '.join(missing)} ...")
        quiet = {"stdout": subprocess.DEVNULL, "env": {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}}
        subprocess.run(["apt-get", "update", "-qq"], check=True, **quiet)
        subprocess.run(["apt-get", "install", "-y", "-qq", *missing], check=True, **quiet)
        return
    sys.exit(f"The checks drive {', '.join(missing)}. Install with: {line}")


def main() -> None:
    """Set up for the command named on the command line."""
    if sys.version_info < OLDEST:
        sys.exit("Lodestarch needs Python 3.11 or newer.")
    kind = sys.argv[1] if len(sys.argv) == 2 else ""
    if kind not in LOCKS:
        sys.exit(__doc__)
    make_environment(kind)
    if kind == "test":
        find_programs()


if __name__ == "__main__":
    main()
