"""The page on the model says what the model has."""

import re
from pathlib import Path

import pytest

from lodestarch.tube.inputs import LEGAL
from lodestarch.tube.origins import decay_of, origins
from lodestarch.tube.parameters import constants, set_names, shipped_set
from lodestarch.tube.standing import Limit

PAGE = (Path(__file__).parents[2] / "docs" / "tube-model.md").read_text("utf-8")


def cells(line):
    return [cell.strip() for cell in line.strip().strip("|").split("|")]


def row(start):
    return next(cells(line) for line in PAGE.splitlines() if line.startswith(f"| {start} |"))


@pytest.mark.parametrize("key", list(constants()))
def test_every_constant_stands_there_with_its_standing(key):
    constant = constants()[key]
    expected = [f"`{key}`", constant.symbol, f"{constant.value:g}", constant.unit]
    assert row(f"`{key}`") == [*expected, constant.provenance, constant.source]


@pytest.mark.parametrize("name", list(origins()))
def test_every_origin_stands_there(name):
    decay = decay_of(name, shipped_set())
    expected = [name, f"{decay.at_85_per_s:.3g}", f"{decay.energy_j_mol / 1000:.1f}"]
    assert row(name)[:3] == expected
    assert row(name)[3:] == [origins()[name].provenance, origins()[name].source]


def test_every_set_limit_and_input_stands_there():
    assert all(f"`{name}`" in PAGE for name in set_names())
    codes = set(re.findall(r"^\| `(tube-[a-z-]+)` \|", PAGE, flags=re.MULTILINE))
    assert codes == {limit.value for limit in Limit}
    for key, (low, high) in LEGAL.items():
        if key in {"ln", "activity"}:
            continue
        ends = [float(x) for x in row(f"`{key}`")[4].split(" to ")]
        assert ends == [low, high], key
