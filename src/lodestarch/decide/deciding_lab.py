"""The lab whose report decides: what it reads beside ours, and how sure that is."""

from __future__ import annotations

import math
from dataclasses import dataclass

from lodestarch.common.errors import OutOfRange

__all__ = ["DecidingLab"]


@dataclass(frozen=True, slots=True)
class DecidingLab:
    """What separates the report of the deciding lab from the true value as our bench sees it.

    Parameters
    ----------
    sd_s : float
        Standard deviation of one of its reports about its own long-run value: tubes, grinding, and its own
        sample where it draws one. [s]  At least 0.
    bias_s, u_bias_s : float
        What it reads above ours, and the standard uncertainty of that. [s]
    drift_s, u_drift_s : float
        Change of the grain between our test and theirs (storage), and its standard uncertainty. [s]
    pressure_s, u_pressure_s : float
        What a difference of station pressure that neither corrects for adds there, and its standard
        uncertainty. [s]

    Raises
    ------
    OutOfRange
        A value that is not finite, a standard deviation below 0.
    """

    sd_s: float
    bias_s: float = 0.0
    u_bias_s: float = 0.0
    drift_s: float = 0.0
    u_drift_s: float = 0.0
    pressure_s: float = 0.0
    u_pressure_s: float = 0.0

    def __post_init__(self) -> None:
        for name in ("bias_s", "drift_s", "pressure_s"):
            value = getattr(self, name)
            if not math.isfinite(value):
                raise OutOfRange(name, value, -math.inf, math.inf, "s")
        for name in ("sd_s", "u_bias_s", "u_drift_s", "u_pressure_s"):
            value = getattr(self, name)
            if not (value >= 0.0 and math.isfinite(value)):
                raise OutOfRange(name, value, 0.0, math.inf, "s")

    @property
    def shift_s(self) -> float:
        """Mean of its report less the true value. [s]"""
        return self.bias_s + self.drift_s + self.pressure_s

    @property
    def lasting_sd_s(self) -> float:
        """Standard deviation of what all its reports on a load have in common. [s]"""
        return math.sqrt(self.u_bias_s**2 + self.u_drift_s**2 + self.u_pressure_s**2)

    @property
    def report_sd_s(self) -> float:
        """Standard deviation of one report about the true value plus the shift. [s]"""
        return math.hypot(self.sd_s, self.lasting_sd_s)
