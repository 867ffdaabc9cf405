"""Write the invented harvest: ``python -m lodestarch.demo.make_harvest FOLDER``.

The files under ``harvest/`` are the output of this script with the seed of ``cast``; a test compares the two.
``terms.toml`` is written by hand and not made here.
"""

from __future__ import annotations

import csv
import io
import sys
from collections.abc import Iterable
from datetime import datetime
from pathlib import Path
from typing import Final

from lodestarch.demo.cast import CHECKS, SEED
from lodestarch.demo.clean_day import Day, Reading, make_day
from lodestarch.demo.slips import Slip, apply_slips

__all__ = ["BENCH", "SAMPLES", "harvest_files", "main", "sheet_bytes"]

BENCH: Final = (
    "ticket", "sample", "profile", "run", "bath", "position", "tube_id", "stirrer_id", "seconds",
    "moisture_pct", "mass_g", "pressure_hpa", "corrected_by_instrument", "analyst", "run_at",
    "set_aside_cause",
)  # fmt: skip
SAMPLES: Final = (
    "ticket", "sample", "kind", "material", "grower", "origin", "variety", "harvest_date", "tonnes", "bin",
    "received_at", "ground_mass_g", "mill_id", "ground_at", "moisture_method", "moisture_on", "moisture_at",
)  # fmt: skip

_BENCH_NAME: Final = "bench.csv"
_SAMPLES_NAME: Final = "samples.csv"


def _cell(value: object, decimals: int | None = None) -> str:
    if value is None:
        return ""
    if isinstance(value, datetime):
        return value.isoformat(sep=" ", timespec="minutes")
    if isinstance(value, float):
        return f"{value:.{decimals}f}" if decimals is not None else f"{value:g}"
    return str(value)


_DECIMALS: Final = {"moisture_pct": 1, "mass_g": 2, "pressure_hpa": 1, "tonnes": 1}
_FIXED: Final = {"profile": "", "corrected_by_instrument": "no"}


def sheet_bytes(header: tuple[str, ...], rows: Iterable[object]) -> bytes:
    """Write rows as a sheet: CSV with the decimals that a bench writes."""
    out = io.StringIO()
    writer = csv.writer(out)  # RFC 4180: comma, CR LF
    writer.writerow(header)
    for row in rows:
        writer.writerow(
            _FIXED[c] if c in _FIXED else _cell(getattr(row, c), _DECIMALS.get(c)) for c in header
        )
    return out.getvalue().encode()


def _checks() -> bytes:
    lines = ["# Check materials of the invented lab. Values are invented.", ""]
    for c in CHECKS:
        lines += [
            "[[material]]",
            f'id = "{c.material_id}"',
            f'name = "{c.name}"',
            f"target_s = {c.target_s:g}",
            f"u_s = {c.u_s:g}",
            "",
        ]
    return "\n".join(lines).encode()


def _faults(day: Day, slips: list[Slip]) -> bytes:
    lines = ["# Slips in the invented day, and what the software has to find: once each, at its row.", ""]
    rows = {id(r): n for n, r in enumerate(day.readings, start=2)} | {
        id(s): n for n, s in enumerate(day.samples, start=2)
    }
    for slip in slips:
        lines += ["[[fault]]", f'id = "{slip.name}"', f'story = "{slip.story}"']
        for e in slip.expected:
            sheet = _BENCH_NAME if isinstance(e.at, Reading) else _SAMPLES_NAME
            lines += ["", "[[fault.finding]]", f'code = "{e.code}"', f'severity = "{e.severity}"']
            lines += [f'sheet = "{sheet}"', f"row = {rows[id(e.at)]}"]
            lines += [f'run = "{e.run}"'] if e.run else [f'sample = "{e.at.sample}"']
        lines.append("")
    return "\n".join(lines).encode()


def harvest_files(seed: int = SEED) -> dict[str, bytes]:
    """Make the files of the invented harvest.

    Parameters
    ----------
    seed : int
        Of the random source.

    Returns
    -------
    dict
        Bytes by file name: bench sheet, sample sheet, check materials, and the faults with their rows.
    """
    day = make_day(seed)
    slips = apply_slips(day)
    return {
        _BENCH_NAME: sheet_bytes(BENCH, day.readings),
        _SAMPLES_NAME: sheet_bytes(SAMPLES, day.samples),
        "checks.toml": _checks(),
        "faults.toml": _faults(day, slips),
    }


def main(arguments: list[str]) -> int:
    """Write the files into the folder named, or beside this script."""
    folder = Path(arguments[0]) if arguments else Path(__file__).parent / "harvest"
    folder.mkdir(parents=True, exist_ok=True)
    for name, data in harvest_files().items():
        (folder / name).write_bytes(data)
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
