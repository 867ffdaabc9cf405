"""How times are written."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta, timezone

from lodestarch.words.times import day_text, when


def test_a_time_carries_its_zone_where_it_has_one():
    local = datetime(2026, 8, 12, 18, 5)  # noqa: DTZ001 - a bench sheet's clock
    assert when(local) == "2026-08-12 18:05"
    assert when(local.replace(tzinfo=UTC)) == "2026-08-12 18:05 UTC"
    assert when(local.replace(tzinfo=timezone(timedelta(hours=-6)))) == "2026-08-12 18:05 -0600"


def test_a_day_or_none():
    assert day_text(date(2026, 8, 11)) == "2026-08-11"
    assert day_text(None) == ""
