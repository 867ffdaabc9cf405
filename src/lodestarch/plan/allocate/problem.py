"""An allocation as it is asked: bins, contracts and bids, and what is known of the lab that decides.

Plain values. Whatever is ``None`` was not stated; where the plan needs it, a finding says so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Final, Literal

from lodestarch.method.blend import CAP_S
from lodestarch.method.reading import Kind
from lodestarch.trade.offer import Clause

__all__ = [
    "FN",
    "DecidingLab",
    "Excluded",
    "FactorValue",
    "Pin",
    "PlanBin",
    "PlanLayer",
    "PlanOffer",
    "PlanProblem",
    "PriceBand",
    "Rule",
]

FN: Final = "fn_s"
"""Key of the falling number among the factors."""

Rule = Literal[
    "law",
    "other-material",
    "other-class",
    "not-comparable",
    "not-tested",
    "at-floor",
    "open-above",
    "not-measured",
    "asked",
]
"""Why a bin may not go to an offer: by law, or because it cannot be judged there."""


@dataclass(frozen=True, slots=True)
class FactorValue:
    """A factor other than the falling number, with its standard uncertainty where evaluated."""

    value: float
    u: float | None = None


@dataclass(frozen=True, slots=True)
class PlanLayer:
    """One filling of a bin, from the bottom up. [t, s]"""

    tonnes: float
    fn_s: float
    fn_u_s: float | None = None


@dataclass(frozen=True, slots=True)
class PlanBin:
    """One bin.

    Parameters
    ----------
    id : str
    tonnes : float
        What lies in it. [t]  Above 0.
    fn_s : float or None
        Its falling number as if turned; ``None``: from its layers, or not tested. [s]
    fn_says : Kind
        Exact, at or below, or above.
    fn_u_s : float or None
        Standard uncertainty of ``fn_s``, the part that other bins do not share. [s]
    factors : mapping of str to FactorValue
        By key of ``trade.factors``; they add by mass at one moisture.
    material, grain_class : str or None
    keep_price_per_t : float
        What a tonne is worth that stays. [money/t]
    reserve_t : float
        What has to stay. [t]
    least_draw_t, gate_error_t : float
        Smallest draw, and standard uncertainty of a draw. [t]
    gate_step_t : float or None
        Draws are multiples of it. [t]
    whole : bool
        Goes out whole or not at all.
    turned : bool
        Layers are mixed; otherwise what comes out first is one of them.
    layers : tuple of PlanLayer
    comparable_key : str
        Basis and portion of its result, as in :class:`lodestarch.method.blend.Lot`.
    """

    id: str
    tonnes: float
    fn_s: float | None = None
    fn_says: Kind = Kind.EXACT
    fn_u_s: float | None = None
    factors: Mapping[str, FactorValue] = field(default_factory=dict)
    material: str | None = None
    grain_class: str | None = None
    keep_price_per_t: float = 0.0
    reserve_t: float = 0.0
    least_draw_t: float = 0.0
    gate_error_t: float = 0.0
    gate_step_t: float | None = None
    whole: bool = False
    turned: bool = True
    layers: tuple[PlanLayer, ...] = ()
    comparable_key: str = ""


@dataclass(frozen=True, slots=True)
class DecidingLab:
    """What is known of the lab whose number is final; ``None``: not stated. [s]"""

    sd_s: float | None = None
    bias_s: float | None = None
    bias_u_s: float | None = None


@dataclass(frozen=True, slots=True)
class PriceBand:
    """One band of a schedule; ``change_per_t`` is added to the price, ``None``: turned away.

    ``low`` belongs to the band, ``high`` to the next; an end that is ``None`` is open. [factor's unit]
    """

    factor: str
    low: float | None
    high: float | None
    change_per_t: float | None


@dataclass(frozen=True, slots=True)
class PlanOffer:
    """A contract or a bid.

    Parameters
    ----------
    id : str
    price_per_t : float
        At the bin: freight and fees are taken off before. [money/t]
    least_t : float
        A contract has to be filled to it; a bid takes at least this or nothing. [t]
    most_t : float or None
        ``None``: whatever there is. [t]
    is_contract : bool
    clauses : tuple of Clause
        Limits, each with how it is judged.
    bands : tuple of PriceBand
        Of one or more factors; those of one factor do not overlap.
    wanted_odds : float or None
        Odds at the deciding lab that every limit needs; ``None``: planned at the mean. [1]  0.5 to below 1.
    lab : DecidingLab
    most_bins : int or None
        Bins in one blend at most.
    material, grain_class : str or None
    load_t : float or None
        What one truck or car carries. [t]
    name : str
    worst_only : bool
        Of the bands in which several factors lie only the worst counts; otherwise they add up.
    use : str
        ``food`` or ``feed``: law goes by it.
    """

    id: str
    price_per_t: float
    least_t: float = 0.0
    most_t: float | None = None
    is_contract: bool = True
    clauses: tuple[Clause, ...] = ()
    bands: tuple[PriceBand, ...] = ()
    wanted_odds: float | None = None
    lab: DecidingLab = DecidingLab()
    most_bins: int | None = None
    material: str | None = None
    grain_class: str | None = None
    load_t: float | None = None
    name: str = ""
    worst_only: bool = False
    use: Literal["food", "feed"] = "food"


@dataclass(frozen=True, slots=True)
class Pin:
    """A draw that is settled already. [t]"""

    bin_id: str
    offer_id: str
    tonnes: float


@dataclass(frozen=True, slots=True)
class Excluded:
    """A bin that may not go to an offer; ``offer_id`` ``None``: to none. ``source`` names the law.

    Where a law sets a limit, ``factor``, ``value`` and ``limit`` say what was met. [factor's unit]
    """

    bin_id: str
    offer_id: str | None
    rule: Rule
    source: str = ""
    factor: str | None = None
    value: float | None = None
    limit: float | None = None


@dataclass(frozen=True, slots=True)
class PlanProblem:
    """Everything an allocation is made from.

    Parameters
    ----------
    bins, offers : tuple
    pins : tuple of Pin
    excluded : tuple of Excluded
        What law, or the user, excludes; the rest is found in :mod:`.exclude`.
    bench_u_s : float
        Standard uncertainty that all results of this bench share. [s]
    law_u_s : float
        Standard uncertainty of a blend predicted by the liquefaction number: the lab's own margin. [s]
    law_bias_s : float
        How far own blends came out above what was predicted, where that is beyond chance. [s]
    own_blends : int or None
        Own blends from which those two come; ``None``: they are stated, or there are none.
    cap_s : float or None
        From here up LN is held constant. [s]
    most_bins_used : int or None
        Bins drawn from at all.
    currency, jurisdiction, title : str
    """

    bins: tuple[PlanBin, ...]
    offers: tuple[PlanOffer, ...]
    pins: tuple[Pin, ...] = ()
    excluded: tuple[Excluded, ...] = ()
    bench_u_s: float = 0.0
    law_u_s: float = 0.0
    law_bias_s: float = 0.0
    own_blends: int | None = None
    cap_s: float | None = CAP_S
    most_bins_used: int | None = None
    currency: str = ""
    jurisdiction: str | None = None
    title: str = ""
