"""Which field first, before harvest: from measured early samples and ratings, never from weather alone."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from scipy.special import ndtr

from lodestarch.common.errors import OutOfRange
from lodestarch.common.findings import Finding, Severity, Value

__all__ = ["FieldLine", "FieldState", "HarvestOrder", "harvest_order"]


@dataclass(frozen=True, slots=True)
class FieldState:
    """One field that is still standing.

    Parameters
    ----------
    name : str
    tonnes : float
        Expected. [t]
    hours : float
        To cut it. [h]  Above 0.
    early_s, u_early_s : float or None
        What its early sample read, and how well that stands for the field. [s]
    falls : float or None
        Probability that a lot of this variety falls below the limit (a rating's ``below``). [1]
    ripe : bool
        Fit to be cut.
    """

    name: str
    tonnes: float
    hours: float
    early_s: float | None = None
    u_early_s: float | None = None
    falls: float | None = None
    ripe: bool = True


@dataclass(frozen=True, slots=True)
class FieldLine:
    """One field in its place.

    Parameters
    ----------
    name : str
    meets : float
        Probability that it meets the limit now, by its early sample. [1]
    falls : float
        Probability that grain of its kind falls below. [1]
    at_stake_t : float
        Tonnes that meet the limit now and that waiting may lose: meets x falls x tonnes. [t]
    per_hour_t : float
        The same per hour of cutting, by which the order is made. [t/h]
    """

    name: str
    meets: float
    falls: float
    at_stake_t: float
    per_hour_t: float


@dataclass(frozen=True, slots=True)
class HarvestOrder:
    """Fields in the order in which to cut them; those not placed stand in the findings."""

    lines: tuple[FieldLine, ...]
    findings: tuple[Finding, ...]


def harvest_order(fields: Sequence[FieldState], *, limit_s: float) -> HarvestOrder:
    """Put fields in order: first where an hour of cutting saves most tonnes that still make it.

    Parameters
    ----------
    fields : sequence of FieldState
    limit_s : float
        [s]

    Returns
    -------
    HarvestOrder
        With ``season-field-no-sample`` (not placed: sample it), ``season-field-not-ripe``,
        ``season-field-no-rating`` (even odds of falling are taken).

    Raises
    ------
    OutOfRange
        When hours or tonnes are not above 0.

    Notes
    -----
    Cutting in the order of loss per hour makes the expected loss least when every field loses at a constant
    rate while it waits (Smith's rule). How fast a field loses is not known from anything here: the rating
    says which kind of grain falls more readily, not when.

    References
    ----------
    .. [1] W. E. Smith, Various optimizers for single-stage production, Naval Res. Logist. Q. 3 (1956) 59
       (recalled).

    Examples
    --------
    >>> safe = FieldState("hill", 100.0, 5.0, 380.0, 20.0, 0.1)
    >>> risky = FieldState("brook", 100.0, 5.0, 310.0, 20.0, 0.6)
    >>> [line.name for line in harvest_order([safe, risky], limit_s=250.0).lines]
    ['brook', 'hill']
    """
    lines, found = [], []
    for f in fields:
        for name, value, unit in (("tonnes", f.tonnes, "t"), ("hours", f.hours, "h")):
            if not 0.0 < value < math.inf:
                raise OutOfRange(name, value, 0.0, math.inf, unit)
        told: dict[str, Value] = {"field_name": f.name}
        if not f.ripe:
            found.append(Finding("season-field-not-ripe", severity=Severity.NOTE, values=told))
            continue
        if f.early_s is None or f.u_early_s is None or not f.u_early_s > 0.0:
            found.append(Finding("season-field-no-sample", severity=Severity.CHECK, values=told))
            continue
        if f.falls is None:
            found.append(Finding("season-field-no-rating", severity=Severity.NOTE, values=told))
        falls = 0.5 if f.falls is None else f.falls
        meets = float(ndtr((f.early_s - limit_s) / f.u_early_s))
        stake = meets * falls * f.tonnes
        lines.append(FieldLine(f.name, meets, falls, stake, stake / f.hours))
    return HarvestOrder(tuple(sorted(lines, key=lambda x: -x.per_hour_t)), tuple(found))
