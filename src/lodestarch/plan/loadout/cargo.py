"""A cargo: what is asked of it, the bins it is drawn from, the sublots in the order they were loaded."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, get_args

from lodestarch.common.errors import OutOfRange, UnknownName

__all__ = ["Asked", "Cargo", "Judged", "Lab", "Source", "Sublot"]

Judged = Literal["composite", "weighted-average", "average-with-sublot-minimum", "every-sublot"]


@dataclass(frozen=True, slots=True)
class Asked:
    """What the contract asks of the cargo.

    Parameters
    ----------
    judged : str
        How the floor is judged: ``composite``, ``weighted-average``, ``average-with-sublot-minimum``,
        ``every-sublot``.
    at_least_s : float
        Floor. [s]  Above 50.
    counts_from_s : float or None
        Smallest report that counts as reaching it; ``None``: the floor itself. [s]
    sublot_at_least_s : float or None
        Least of one sublot; needed with ``average-with-sublot-minimum``. [s]
    breakpoint_s : float
        What the load order allows a single sublot to lie under the floor before it is removed or certified
        apart. [s]  At least 0; entered by the lab: no breakpoint for falling number is published.
    tonnes : float
        To be loaded in all. [t]  Above 0.
    sublot_t : float
        Size of a sublot. [t]  Above 0.
    """

    judged: Judged
    at_least_s: float
    tonnes: float
    sublot_t: float
    counts_from_s: float | None = None
    sublot_at_least_s: float | None = None
    breakpoint_s: float = 0.0

    def __post_init__(self) -> None:
        if self.judged not in get_args(Judged):
            raise UnknownName("clause", self.judged, get_args(Judged))
        if not self.at_least_s > 50.0:
            raise OutOfRange("at_least_s", self.at_least_s, 50.0, math.inf, "s")
        for name in ("tonnes", "sublot_t"):
            if not getattr(self, name) > 0:
                raise OutOfRange(name, getattr(self, name), 0.0, math.inf, "t")
        if self.breakpoint_s < 0:
            raise OutOfRange("breakpoint_s", self.breakpoint_s, 0.0, math.inf, "s")
        if self.judged == "average-with-sublot-minimum" and self.sublot_at_least_s is None:
            raise UnknownName("sublot_at_least_s", "none", ("a number of seconds",))

    @property
    def passes_from_s(self) -> float:
        """Smallest figure that makes it. [s]"""
        return self.at_least_s if self.counts_from_s is None else self.counts_from_s


@dataclass(frozen=True, slots=True)
class Lab:
    """A lab whose number counts.

    Parameters
    ----------
    sd_s : float
        Standard deviation of one of its results near the floor. [s]  Above 0.
    bias_s : float
        What it reads above the truth as this bench sees it. [s]
    """

    sd_s: float
    bias_s: float = 0.0

    def __post_init__(self) -> None:
        if not self.sd_s > 0:
            raise OutOfRange("sd_s", self.sd_s, 0.0, math.inf, "s")


@dataclass(frozen=True, slots=True)
class Source:
    """A bin that the cargo is drawn from.

    Parameters
    ----------
    name : str
    tonnes : float
        What it holds when loading begins. [t]  At least 0.
    fn_s, u_s : float
        Its mixed falling number and how sure that is. [s]
    unmixed_s : float
        Standard deviation of what comes out of the gate about that mean, by sublot. [s]  At least 0.
    worth_t : float
        What a tonne brings if it stays. [money/t]
    """

    name: str
    tonnes: float
    fn_s: float
    u_s: float
    unmixed_s: float = 0.0
    worth_t: float = 0.0

    def __post_init__(self) -> None:
        if not (math.isfinite(self.fn_s) and self.fn_s > 50.0):
            raise OutOfRange("fn_s", self.fn_s, 50.0, math.inf, "s")
        for name, value, unit in (
            ("tonnes", self.tonnes, "t"),
            ("u_s", self.u_s, "s"),
            ("unmixed_s", self.unmixed_s, "s"),
        ):
            if not (math.isfinite(value) and value >= 0):
                raise OutOfRange(name, value, 0.0, math.inf, unit)


@dataclass(frozen=True, slots=True)
class Sublot:
    """A part of the cargo.

    Parameters
    ----------
    number : int
    tonnes : float
        [t]  Above 0.
    shares : mapping of str to float
        From which bins; adds up to 1.
    result_s : float or None
        What was reported of it; ``None``: loaded, not yet tested. [s]
    """

    number: int
    tonnes: float
    shares: Mapping[str, float]
    result_s: float | None = None

    def __post_init__(self) -> None:
        if not self.tonnes > 0:
            raise OutOfRange("tonnes", self.tonnes, 0.0, math.inf, "t")
        total = sum(self.shares.values())
        if not math.isclose(total, 1.0, abs_tol=1e-6) or any(s < 0 for s in self.shares.values()):
            raise OutOfRange("shares", total, 1.0, 1.0, "1")
        if self.result_s is not None and not self.result_s > 50.0:
            raise OutOfRange("result_s", self.result_s, 50.0, math.inf, "s")


@dataclass(frozen=True, slots=True)
class Cargo:
    """A cargo under way.

    Parameters
    ----------
    asked : Asked
    sources : tuple of Source
    sublots : tuple of Sublot
        In loading order.
    testing : Lab
        Who tests the sublots.
    deciding : Lab or None
        Whose number is final at the other end; ``None``: the results of loading are final.
    """

    asked: Asked
    sources: tuple[Source, ...]
    sublots: tuple[Sublot, ...]
    testing: Lab
    deciding: Lab | None = None

    @property
    def loaded_t(self) -> float:
        """Aboard. [t]"""
        return sum(s.tonnes for s in self.sublots)

    @property
    def to_load_t(self) -> float:
        """Still to load. [t]"""
        return max(self.asked.tonnes - self.loaded_t, 0.0)

    def left_t(self, name: str) -> float:
        """Return what a bin still holds. [t]"""
        source = next(s for s in self.sources if s.name == name)
        return source.tonnes - sum(s.tonnes * s.shares.get(name, 0.0) for s in self.sublots)
