"""Days that were opened at the bench, told from days that were read from a sheet."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final, cast

__all__ = ["AT_THE_BENCH", "is_bench_day"]

AT_THE_BENCH: Final = "bench"
"""What the summary of such a day says of itself."""


def is_bench_day(summary: object) -> bool:
    """Tell whether a day was opened at the bench, from its summary."""
    return isinstance(summary, Mapping) and cast("Mapping[str, Any]", summary).get("kind") == AT_THE_BENCH
