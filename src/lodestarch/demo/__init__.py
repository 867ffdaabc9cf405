"""An invented co-op lab's wet-harvest day, as data: sheets, terms, check materials, and the slips in them.

Nobody and nothing in it exists: names, places, varieties, buyers, prices and numbers are made up, and
whatever is shown of it says so. ``make_harvest`` writes the sheets from a seed; ``harvest/faults.toml`` lists
every slip and what has to be found of it.
"""

from __future__ import annotations

import tomllib
from importlib.resources import files
from typing import Any, Final

from lodestarch.control.bench_rules import CheckMaterial
from lodestarch.demo.cast import ELEVATION_M, PROFILE_ID
from lodestarch.sheets.check_materials import read_check_materials

__all__ = [
    "BENCH_NAME",
    "CHECKS_NAME",
    "ELEVATION_M",
    "GRADES_NAME",
    "LAB",
    "PROFILE_ID",
    "RETEST_COST",
    "SAMPLES_NAME",
    "STORAGE_COST",
    "TERMS_NAME",
    "TITLE",
    "bench_sheet",
    "check_materials",
    "faults",
    "grades",
    "harvest_plan",
    "sample_sheet",
    "terms",
]

TITLE: Final = "Wet harvest, 21 August 2024 (invented)"
LAB: Final = "Ostrawick Growers' Lab (invented)"
BENCH_NAME: Final = "bench.csv"
SAMPLES_NAME: Final = "samples.csv"
TERMS_NAME: Final = "terms.toml"
CHECKS_NAME: Final = "checks.toml"
GRADES_NAME: Final = "grades.csv"
RETEST_COST: Final = 12.0
"""What one more pair of tubes costs the invented lab, all in. [USD]"""
STORAGE_COST: Final = 1.1
"""What keeping costs it. [USD/(t month)]"""


def _bytes(name: str) -> bytes:
    return files("lodestarch.demo").joinpath("harvest", name).read_bytes()


def bench_sheet() -> bytes:
    """Bench sheet of the invented day: a row a tube."""
    return _bytes(BENCH_NAME)


def sample_sheet() -> bytes:
    """Sample sheet of the invented day: a row a sample."""
    return _bytes(SAMPLES_NAME)


def terms() -> bytes:
    """Terms of the four invented buyers, and the six bins."""
    return _bytes(TERMS_NAME)


def grades() -> bytes:
    """Other factors of some of the invented day's loads; one of them is over a limit of law."""
    return _bytes(GRADES_NAME)


def harvest_plan() -> bytes:
    """Plan problem of the invented week: six bins, the buyers of the terms."""
    return _bytes("plan.toml")


def check_materials() -> tuple[CheckMaterial, ...]:
    """Check materials of the invented lab, with their targets and standard uncertainties."""
    return read_check_materials(_bytes(CHECKS_NAME), CHECKS_NAME).materials


def faults() -> tuple[dict[str, Any], ...]:
    """Every slip in the day: ``id``, ``story``, and the findings it has to give with sheet and row."""
    return tuple(tomllib.loads(_bytes("faults.toml").decode())["fault"])
