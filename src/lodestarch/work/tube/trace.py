"""A history as the curves take it: plain rows, one name."""

from __future__ import annotations

import math

from lodestarch.tube.history import TubeHistory
from lodestarch.words.drawing.tube_curves import TubeTrace

__all__ = ["trace_of"]


def trace_of(history: TubeHistory, name: str = "") -> TubeTrace:
    """Rows of one tube against time."""
    h = history
    left = h.mean(h.enzyme_left).tolist()
    return TubeTrace(
        name=name,
        time_s=h.time_s.tolist(),
        mean_c=h.mean(h.temp_c).tolist(),
        core_c=h.temp_c[:, 0].tolist(),
        wall_c=h.temp_c[:, -1].tolist(),
        enzyme=[h.activity * share for share in left],
        strength=[math.exp(x) for x in h.strength.tolist()],
        fallen=h.share_fallen.tolist(),
    )
