"""Tables kept beside the tests."""

from __future__ import annotations

import csv
from pathlib import Path

DATA = Path(__file__).parent / "data"


def table(name: str) -> list[dict[str, str]]:
    """Rows of a table, its leading remarks left out."""
    lines = [x for x in (DATA / name).read_text("utf-8").splitlines() if not x.startswith("#")]
    return list(csv.DictReader(lines))
