"""The lab of the bench's tests serves the office too."""

from __future__ import annotations

from work.bench.conftest import lab

__all__ = ["lab"]
