from __future__ import annotations

import re
from pathlib import Path

import pytest

import lodestarch.sheets
from lodestarch.common.errors import UnknownName
from lodestarch.common.findings import Severity, Where
from lodestarch.sheets.codes import CODES, SHOWN, found
from lodestarch.words.catalogues import placeholders, sentences
from lodestarch.words.findings import sentence

SOURCE = Path(lodestarch.sheets.__file__).parent
PLACES = {"source", "row", "field", "ticket", "sample", "run", "position"}


@pytest.mark.parametrize("code", CODES, ids=lambda c: c.name)
def test_every_code_has_its_sentence_and_every_value_in_it(code):
    parts = sentences()[code.name]
    assert placeholders(parts.wrong) | placeholders(parts.do) <= set(code.values) | PLACES
    text = sentence(found(code.name, Where(source="day.csv", row=3), **dict.fromkeys(code.values, "x")))
    assert "{" not in str(text)
    assert not parts.wrong.endswith(".")
    assert parts.do.endswith(".")


def test_no_code_stands_twice_and_all_have_a_known_prefix():
    names = [c.name for c in CODES]
    assert len(names) == len(set(names))
    assert all(re.fullmatch(r"(sheet|row|field|column|terms)-[a-z0-9]+(-[a-z0-9]+)*", n) for n in names)


def test_every_code_is_used_in_this_room():
    text = "".join(p.read_text("utf-8") for p in SOURCE.rglob("*.py") if p.name != "codes.py")
    assert [c.name for c in CODES if f'"{c.name}"' not in text] == []


def test_no_sentence_here_without_a_code():
    ours = {code for code, s in sentences().items() if s.room == "sheets"}
    assert ours == {c.name for c in CODES}


def test_a_finding_with_another_code_or_other_values_is_a_fault_of_ours():
    with pytest.raises(UnknownName):
        found("row-odd", Where())
    with pytest.raises(UnknownName):
        found("row-twice", Where())
    with pytest.raises(UnknownName):
        found("row-twice", Where(), first_row=2, second_row=3)


def test_long_cells_are_clipped_in_findings():
    finding = found("row-seconds-unreadable", Where(), value="x" * 1000)
    assert len(finding.values["value"]) == SHOWN
    assert finding.severity is Severity.STOP
