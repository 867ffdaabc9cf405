"""A history as a table: a row a moment, units in the names of the columns."""

from __future__ import annotations

import csv
import io

from lodestarch.tube.history import TubeHistory

__all__ = ["history_csv"]

_PHASES = ("waiting", "stirring", "falling")


def history_csv(history: TubeHistory) -> str:
    """Return a history as CSV (RFC 4180, comma, point).

    Columns: ``time_s``, ``phase``; means over the slurry of temperature, swelling, enzyme and cuts; the core
    and the wall; the glass; ``strength_ln`` (logarithm of the paste strength), ``speed_per_s``,
    ``share_fallen``; then ``temp_c_1`` to the last shell, from the axis outward.
    """
    shells = len(history.weights)
    out = io.StringIO()
    sheet = csv.writer(out, lineterminator="\r\n")
    sheet.writerow(
        ["time_s", "phase", "temp_mean_c", "temp_core_c", "temp_wall_c", "glass_c", "swollen_mean",
         "enzyme_left_mean", "cuts_mean", "strength_ln", "speed_per_s", "share_fallen",
         *(f"temp_c_{i}" for i in range(1, shells + 1))]
    )  # fmt: skip
    rows = zip(
        history.time_s.tolist(), history.phase.tolist(), history.mean(history.temp_c).tolist(),
        history.temp_c.tolist(), history.glass_c.tolist(), history.mean(history.swollen).tolist(),
        history.mean(history.enzyme_left).tolist(), history.mean(history.cuts).tolist(),
        history.strength.tolist(), history.speed_per_s.tolist(), history.share_fallen.tolist(), strict=True,
    )  # fmt: skip
    for time_s, phase, mean, temps, glass, swollen, left, cuts, strength, speed, fallen in rows:
        shown = (mean, temps[0], temps[-1], glass, swollen, left, cuts, strength, speed, fallen, *temps)
        sheet.writerow([f"{time_s:.6g}", _PHASES[phase], *(f"{x:.6g}" for x in shown)])
    return out.getvalue()
