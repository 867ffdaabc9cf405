from __future__ import annotations

import polars as pl
import pytest

from lodestarch.common.errors import LodestarchError
from lodestarch.method.table import JUDGED, READINGS, RESULTS, SAMPLES, conform, empty


@pytest.mark.parametrize("schema", [READINGS, SAMPLES, JUDGED, RESULTS])
def test_an_empty_frame_has_the_columns(schema):
    frame = empty(schema)
    assert frame.schema == pl.Schema(schema)
    assert frame.height == 0


def test_missing_columns_become_null_and_types_are_those_of_the_schema():
    frame = conform(pl.DataFrame({"seconds": [287, 290], "sample": ["A", "A"]}), READINGS)
    assert frame.schema == pl.Schema(READINGS)
    assert frame["seconds"].to_list() == [287.0, 290.0]
    assert frame["mass_g"].null_count() == 2


def test_a_column_that_nobody_knows_is_refused():
    with pytest.raises(LodestarchError, match="colour"):
        conform(pl.DataFrame({"sample": ["A"], "colour": ["red"]}), READINGS)


def test_judged_rows_are_readings_and_three_columns_more():
    assert list(JUDGED)[: len(READINGS)] == list(READINGS)
    assert list(JUDGED)[len(READINGS) :] == ["state", "state_code", "portion_g"]
