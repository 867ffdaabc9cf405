"""The season of a centre that holds several sites: every site's results, on either database."""

from __future__ import annotations

import pytest

from lodestarch.cli.season_options import kept_of
from lodestarch.common.errors import LodestarchError
from lodestarch.records.engine import open_records
from lodestarch.work.season.asked import SeasonAsked, from_kept
from records.harvest import day


def test_two_sites_that_exchange_are_one_season_at_the_centre(address, tmp_path, clock):
    """Also where both gave the same codes to different grain, as here."""
    with open_records(address, clock=clock) as centre:
        with centre.unit("Ann Example", clock()) as unit:
            unit.store_day(day(12))
        with open_records(tmp_path / "satellite.db", clock=clock, site="north") as satellite:
            with satellite.unit("Ben Example", clock.move(minutes=5)) as unit:
                unit.store_day(day(12, seed=2, sheet="n"))
            package, _ = satellite.write_package(clock())
        assert centre.take_package(package, clock()).taken["north"] > 0
    where = str(address)
    with kept_of(where, "lab") as lab, kept_of(where, "north") as north, kept_of(where, "lab,north") as both:
        assert both.results.height == lab.results.height + north.results.height
        assert both.tested.height == lab.tested.height + north.tested.height
        asked = SeasonAsked(factors=("variety",))
        tables = [from_kept(k, asked).table for k in (lab, north, both)]
    assert tables[2].n == tables[0].n + tables[1].n > 0
    assert sorted([*tables[0].seconds_s, *tables[1].seconds_s]) == sorted(tables[2].seconds_s)
    # Without a name nothing is guessed: the message tells which sites there are.
    with pytest.raises(LodestarchError, match="north"), kept_of(where):
        pass
