"""The page on security against the standard's numbers, the source and the tests."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PAGE = (ROOT / "docs" / "security.md").read_text(encoding="utf-8")
ROWS = re.findall(r"^\| (\d+\.\d+\.\d+) \| ([^|]+) \| ([^|]+) \| ([^|]*)\|$", PAGE, flags=re.MULTILINE)
NUMBERS = """
1.2.1 1.2.2 1.2.3 1.2.4 1.2.5 1.3.1 1.3.2 1.5.1 2.1.1 2.2.1 2.2.2 2.3.1 3.2.1 3.2.2 3.3.1 3.4.1
3.4.2 3.5.1 3.5.2 3.5.3 4.1.1 4.4.1 5.2.1 5.2.2 5.3.1 5.3.2 6.1.1 6.2.1 6.2.2 6.2.3 6.2.4 6.2.5
6.2.6 6.2.7 6.2.8 6.3.1 6.3.2 6.4.1 6.4.2 7.2.1 7.2.2 7.2.3 7.2.4 7.4.1 7.4.2 8.1.1 8.2.1 8.2.2
8.3.1 9.1.1 9.1.2 9.1.3 9.2.1 10.4.1 10.4.2 10.4.3 10.4.4 10.4.5 11.3.1 11.3.2 11.4.1 12.1.1 12.2.1
12.2.2 13.4.1 14.2.1 14.3.1 15.1.1 15.2.1 15.3.1
"""
"""Requirements of level 1 in OWASP ASVS 5.0.0, from the standard's own list (May 2025): published."""
TESTS = set(
    re.findall(
        r"^def (test_\w+)",
        "\n".join(p.read_text(encoding="utf-8") for p in (ROOT / "tests").rglob("test_*.py")),
        flags=re.MULTILINE,
    )
)


def test_every_requirement_stands_there_once_and_in_order():
    wanted = NUMBERS.split()
    assert len(wanted) == 70
    assert [number for number, *_ in ROWS] == wanted


@pytest.mark.parametrize("row", ROWS, ids=[r[0] for r in ROWS])
def test_what_is_met_names_a_test_that_there_is(row):
    number, state, how, test = (part.strip() for part in row)
    assert state in {"met", "met over TLS", "met in part", "does not apply"}
    assert how
    named = re.findall(r"`(test_\w+)`", test)
    assert set(named) <= TESTS, number
    assert named or state == "does not apply" or number == "15.1.1"


def test_every_place_in_the_source_is_there():
    places = set(re.findall(r"`((?:web|work|records|sheets)/[\w/.\-]+)`", PAGE))
    assert len(places) > 12
    assert [p for p in places if not (ROOT / "src" / "lodestarch" / p).is_file()] == []
    assert set(re.findall(r"`(test_\w+)`", PAGE)) <= TESTS
