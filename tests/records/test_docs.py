"""What the page on the records says, against the source."""

from __future__ import annotations

import re
from pathlib import Path

import lodestarch.records
from lodestarch.records.package import FORM
from lodestarch.records.tables import OUTSIDE

PAGE = (Path(__file__).parents[2] / "docs" / "records.md").read_text(encoding="utf-8")
SOURCE = Path(lodestarch.records.__path__[0])


def test_every_kind_of_entry_is_listed():
    text = "\n".join(p.read_text(encoding="utf-8") for p in SOURCE.glob("*.py"))
    kinds = set(re.findall(r'Entry\(\s*"([a-z-]+\.[a-z-]+)"', text))
    kinds |= set(re.findall(r'"(result\.[a-z]+)"', text))
    assert len(kinds) > 15
    assert sorted(k for k in kinds if f"`{k}`" not in PAGE) == []


def test_tables_outside_and_the_form_of_packages_are_named():
    assert all(f"`{name}`" in PAGE for name in OUTSIDE - {"alembic_version"})
    assert f"`{FORM}`" in PAGE


def test_the_settings_are_those_of_the_code():
    text = (SOURCE / "sqlite.py").read_text(encoding="utf-8")
    for setting in re.findall(r"`(\w+)=(\w+)`", PAGE.split("## SQLite")[1].split("## PostgreSQL")[0]):
        name, value = setting
        named = f"PRAGMA {name}={value}" in text or (name, value) in {
            ("synchronous", "FULL"),
            ("busy_timeout", "5000"),
        }
        assert named, setting
