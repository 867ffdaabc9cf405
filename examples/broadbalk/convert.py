"""Turn the plot table of the Broadbalk experiment into bench sheets and sample sheets, one a harvest.

Use::

    python convert.py TABLE.csv [FOLDER]

TABLE.csv: one row per plot and harvest with the columns ``harvest_year, harvest_date, plot, section,
previous_crop, variety, fertilizer_code, falling_number_s`` (more do no harm); UTF-8, comma, decimal point.
FOLDER: where ``bench/`` and ``samples/`` go; this script's own folder by default.

What is done: rows are sorted into harvests; plot and section make the sample's name; whole seconds lose
their ".0". What is not done: no value is changed, 62 stays 62 (the floor is the method's matter, not the
sheet's), and run and position stay empty, because the source does not say how many tubes stand behind a
value.
"""

# ruff: noqa: INP001, T201 - a script to run beside its data, not part of the package

from __future__ import annotations

import csv
import sys
from collections import defaultdict
from pathlib import Path

BENCH = ("sample", "run", "position", "seconds")
SAMPLES = ("sample", "material", "origin", "variety", "harvest_date")


def sample_name(row: dict[str, str]) -> str:
    """Name of a sample: harvest, plot (strip) and section."""
    return f"{row['harvest_year']}-p{int(row['plot']):02d}-s{row['section']}"


def whole(text: str) -> str:
    """Write a whole number of seconds without its decimals; anything else as it stands."""
    return text.removesuffix(".0")


def origin(row: dict[str, str]) -> str:
    """Where the grain grew, in one line."""
    before = row["previous_crop"].lower()
    # Section 1 has grown wheat every year; there the source gives the last crop that was not wheat.
    history = f"continuous wheat since {before}" if row["section"] == "1" else f"after {before}"
    return (
        f"Broadbalk, strip {row['plot']}, section {row['section']}; {history}; "
        f"fertiliser {row['fertilizer_code']}"
    )


def write(path: Path, header: tuple[str, ...], rows: list[tuple[str, ...]]) -> None:
    """Write one sheet: UTF-8, comma, CR LF (RFC 4180)."""
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("w", encoding="utf-8", newline="") as out:
        writer = csv.writer(out)
        writer.writerow(header)
        writer.writerows(rows)


def convert(table: Path, folder: Path) -> dict[str, int]:
    """Write the sheets of every harvest in ``table``; return how many samples each has."""
    harvests: dict[str, list[dict[str, str]]] = defaultdict(list)
    with table.open(encoding="utf-8", newline="") as source:
        for row in csv.DictReader(source):
            harvests[row["harvest_year"]].append(row)
    for year, rows in sorted(harvests.items()):
        bench = [(sample_name(r), "", "", whole(r["falling_number_s"])) for r in rows]
        about = [(sample_name(r), "wheat", origin(r), r["variety"], r["harvest_date"]) for r in rows]
        write(folder / "bench" / f"{year}.csv", BENCH, bench)
        write(folder / "samples" / f"{year}.csv", SAMPLES, about)
    return {year: len(rows) for year, rows in sorted(harvests.items())}


def main(arguments: list[str]) -> int:
    """Run from the command line."""
    if not 1 <= len(arguments) <= 2:
        print(__doc__)
        return 2
    folder = Path(arguments[1]) if len(arguments) == 2 else Path(__file__).parent
    for year, samples in convert(Path(arguments[0]), folder).items():
        print(f"{year}: {samples} samples")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
