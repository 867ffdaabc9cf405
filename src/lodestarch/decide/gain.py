"""What another test would show of the number that decides: its gain, by where the test comes from."""

from __future__ import annotations

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

from lodestarch.common.errors import OutOfRange
from lodestarch.decide.deciding_lab import DecidingLab

__all__ = ["AnotherTest", "Design", "Gain", "Source", "Spread", "gain_of"]


class Source(StrEnum):
    """What a further test is made from."""

    SAME_MEAL = "same-meal"
    REGRIND = "regrind"
    RETAINED_SAMPLE = "retained-sample"
    NEW_PROBE = "new-probe"


_SHARES: Final = {
    Source.SAME_MEAL: ("probe", "grind"),
    Source.REGRIND: ("probe",),
    Source.RETAINED_SAMPLE: ("probe",),
    Source.NEW_PROBE: (),
}
"""Parts of the first result's error that come again. The retained sample is divided and ground anew, as a
regrind is; the two differ in what is left over and in who may ask for them."""


@dataclass(frozen=True, slots=True)
class Spread:
    """Standard deviations of one draw of each kind. [s]  None negative.

    Parameters
    ----------
    tube_s, grind_s, probe_s : float
        Between tubes of one meal, grindings of one sample, probe samples of one load.
    lab_s : float
        Standard uncertainty of this lab's own lasting offset.
    """

    tube_s: float
    grind_s: float = 0.0
    probe_s: float = 0.0
    lab_s: float = 0.0

    def __post_init__(self) -> None:
        for name in ("tube_s", "grind_s", "probe_s", "lab_s"):
            value = getattr(self, name)
            if not (value >= 0.0 and math.isfinite(value)):
                raise OutOfRange(name, value, 0.0, math.inf, "s")


@dataclass(frozen=True, slots=True)
class Design:
    """How many of each a result is the mean of: tubes in grinds from probe samples, one within the other."""

    tubes: int = 2
    grinds: int = 1
    probes: int = 1

    def __post_init__(self) -> None:
        for name in ("tubes", "grinds", "probes"):
            if getattr(self, name) < 1:
                raise OutOfRange(name, getattr(self, name), 1, math.inf, "1")

    def parts(self, spread: Spread) -> dict[str, float]:
        """Variance of the mean by part. [s2]"""
        return {
            "tube": spread.tube_s**2 / self.tubes,
            "grind": spread.grind_s**2 / self.grinds,
            "probe": spread.probe_s**2 / self.probes,
            "lab": spread.lab_s**2,
        }


@dataclass(frozen=True, slots=True)
class AnotherTest:
    """A test that could still be made.

    Parameters
    ----------
    name : str
    source : Source
    design : Design
        Tubes, grinds and probe samples of the further test alone.
    cost : float
        In the unit of the money. At least 0.
    hours : float
        Until its result is there. [h]  At least 0.
    lab : DecidingLab or None
        Another lab; ``None``: this one.
    decides : bool
        Another lab that is the one whose report decides: what it reads above ours is met again.
    """

    name: str
    source: Source
    design: Design = Design()
    cost: float = 0.0
    hours: float = 0.0
    lab: DecidingLab | None = None
    decides: bool = False

    def __post_init__(self) -> None:
        for name, unit in (("cost", "1"), ("hours", "h")):
            value = getattr(self, name)
            if not (value >= 0.0 and math.isfinite(value)):
                raise OutOfRange(name, value, 0.0, math.inf, unit)

    def drawn_anew_s(self, spread: Spread) -> float:
        """Standard deviation of what the test draws anew at this lab. [s]"""
        parts = self.design.parts(spread)
        return math.sqrt(sum(parts[p] for p in ("tube", "grind", "probe") if p not in _SHARES[self.source]))


@dataclass(frozen=True, slots=True)
class Gain:
    """What is known of a test before it is made.

    Parameters
    ----------
    shown_mean_s, shown_sd_s : float
        Its predicted result. [s]
    gain_true_s, gain_report_s : float
        How far the true value, and the deciding lab's report, are moved when it comes out one sd high. [s]
    """

    shown_mean_s: float
    shown_sd_s: float
    gain_true_s: float
    gain_report_s: float


def gain_of(
    test: AnotherTest, spread: Spread, design: Design, result_s: float, *,
    mean_s: float | None = None, sd_s: float | None = None, deciding: DecidingLab | None = None,
) -> Gain:  # fmt: skip
    """Predict a further test and its pull on the true value and on the deciding report.

    Parameters
    ----------
    test : AnotherTest
    spread, design : Spread, Design
        Of the result that is there; together they give its variance V.
    result_s : float
        That result. [s]
    mean_s, sd_s : float, optional
        Belief on the true value under a stated prior; the result and sqrt(V) where not given. [s]
    deciding : DecidingLab, optional
        Its lasting offset is met again by a test at the same lab.

    Notes
    -----
    With C the variance of the first error that comes again, a = 1 - C/V and t^2 the variance of the true
    value::

        Var(test) = a^2 t^2 + C a + A,   Cov(true, test) = a t^2

    A is the variance of what the test draws anew. At another lab our own offset does not come again and its
    offset is drawn anew; where it is the deciding lab, Cov(report, test) has u_bias^2 besides.
    """
    parts = design.parts(spread)
    v = sum(parts.values())
    if v <= 0.0:
        raise OutOfRange("u_s", 0.0, 0.0, math.inf, "s")
    again = sum(parts[p] for p in _SHARES[test.source]) + (parts["lab"] if test.lab is None else 0.0)
    new_parts = test.design.parts(spread)
    if test.lab is None:
        anew = test.drawn_anew_s(spread) ** 2
        lasting, shift = 0.0, 0.0
    else:
        drawn = 0.0 if "probe" in _SHARES[test.source] else new_parts["probe"]
        anew = test.lab.sd_s**2 + drawn
        lasting, shift = test.lab.lasting_sd_s**2, test.lab.shift_s
    t2 = v if sd_s is None else sd_s**2
    believed = result_s if mean_s is None else mean_s
    a = 1.0 - again / v
    shown_var = a * a * t2 + again * a + anew + lasting
    shown_sd = math.sqrt(shown_var)
    shown_mean = a * believed + (1.0 - a) * result_s + shift
    if shown_sd == 0.0:  # the very same again shows nothing
        return Gain(shown_mean, 0.0, 0.0, 0.0)
    cov = a * t2
    met_again = deciding.lasting_sd_s**2 if deciding is not None and test.decides else 0.0
    return Gain(shown_mean, shown_sd, cov / shown_sd, (cov + met_again) / shown_sd)
