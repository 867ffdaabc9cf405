"""Producer's and consumer's risk of a rule of acceptance, and the rule for a wanted risk."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Final, Literal, get_args

from scipy.optimize import brentq

from lodestarch.common.errors import NoAnswer, OutOfRange, UnknownName
from lodestarch.decide.bivariate import both_below

__all__ = ["Risks", "Rule", "WantedRisk", "risks", "rule_for"]

WantedRisk = Literal["consumer", "false-among-accepted", "producer"]
_WANTED: Final = get_args(WantedRisk)


@dataclass(frozen=True, slots=True)
class Rule:
    """True limits, and the limits between which a result is accepted; infinite where open. [s]"""

    low_s: float
    high_s: float
    accept_from_s: float
    accept_to_s: float

    @classmethod
    def guarded(cls, low_s: float, high_s: float, guard_s: float = 0.0) -> Rule:
        """Accept a guard band inside the limits."""
        return cls(low_s, high_s, low_s + guard_s, high_s - guard_s)


@dataclass(frozen=True, slots=True)
class Risks:
    """What a rule does over many loads.

    Parameters
    ----------
    consumer, producer : float
        Accepted and not conforming; rejected and conforming. [1]
    conforming, accepted : float
        [1]
    """

    consumer: float
    producer: float
    conforming: float
    accepted: float

    @property
    def false_among_accepted(self) -> float:
        """Share of the accepted that do not conform; 0 where none are accepted. [1]"""
        return self.consumer / self.accepted if self.accepted > 0.0 else 0.0

    @property
    def good_among_rejected(self) -> float:
        """Share of the rejected that conform; 0 where none are rejected. [1]"""
        return self.producer / (1.0 - self.accepted) if self.accepted < 1.0 else 0.0


def risks(rule: Rule, mean_s: float, sd_s: float, u_s: float) -> Risks:
    """Global risks for loads N(mean, sd) measured with standard uncertainty u.

    Parameters
    ----------
    rule : Rule
    mean_s, sd_s : float
        Of the true values. [s]  ``sd_s`` above 0.
    u_s : float
        Of a result. [s]  Above 0.

    Notes
    -----
    Truth and result are bivariate normal with correlation sd/sqrt(sd^2 + u^2); each risk is a sum of
    rectangles under it (Owen's T), no quadrature.

    Examples
    --------
    >>> got = risks(Rule.guarded(-2.0, 2.0), 0.0, 1.0, 0.25)
    >>> print(f"{got.consumer:.6f} {got.producer:.6f}")
    0.008006 0.014851
    """
    for name, value in (("sd_s", sd_s), ("u_s", u_s)):
        if not (value > 0.0 and math.isfinite(value)):
            raise OutOfRange(name, value, 0.0, math.inf, "s")
    wide = math.hypot(sd_s, u_s)
    rho = sd_s / wide

    def z(at: float, spread: float) -> float:
        return (at - mean_s) / spread

    true = (z(rule.low_s, sd_s), z(rule.high_s, sd_s))
    shown = (z(rule.accept_from_s, wide), z(rule.accept_to_s, wide))
    everything = (-math.inf, math.inf)
    conforming = _rectangle(true, everything, rho)
    if not rule.accept_from_s < rule.accept_to_s:  # guard bands that meet accept nothing
        return Risks(0.0, conforming, conforming, 0.0)
    accepted = _rectangle(everything, shown, rho)
    good = _rectangle(true, shown, rho)
    # Sums of what is wrong, not differences of what is right: small risks keep their digits.
    consumer = _rectangle((-math.inf, true[0]), shown, rho) + _rectangle((true[1], math.inf), shown, rho)
    producer = max(conforming - good, 0.0)
    return Risks(consumer, producer, conforming, accepted)


def _rectangle(x: tuple[float, float], y: tuple[float, float], rho: float) -> float:
    if not (x[0] < x[1] and y[0] < y[1]):
        return 0.0
    corners = both_below([x[1], x[0], x[1], x[0]], [y[1], y[1], y[0], y[0]], rho)
    return max(float(corners[0] - corners[1] - corners[2] + corners[3]), 0.0)


def rule_for(
    wanted: WantedRisk, risk: float, rule: Rule, mean_s: float, sd_s: float, u_s: float
) -> tuple[Rule, float]:
    """Find the guard band with which a risk is as wanted.

    Parameters
    ----------
    wanted : str
        ``consumer``, ``false-among-accepted`` or ``producer``.
    risk : float
        [1]  Above 0, below 1.
    rule : Rule
        Its true limits count; its acceptance limits are replaced.
    mean_s, sd_s, u_s : float
        As :func:`risks`.

    Returns
    -------
    Rule, float
        The rule and its guard band; negative: results outside the limit are accepted. [s]

    Raises
    ------
    NoAnswer
        ``risk-out-of-reach`` where no guard band gives it.

    Examples
    --------
    >>> _, guard = rule_for("consumer", 0.0013, Rule.guarded(300.0, math.inf), 330.0, 30.0, 9.0)
    >>> round(guard)
    15
    """
    if wanted not in _WANTED:
        raise UnknownName("risk", wanted, _WANTED)
    if not 0.0 < risk < 1.0:
        raise OutOfRange("risk", risk, 0.0, 1.0, "1")
    bare = replace(rule, accept_from_s=rule.low_s, accept_to_s=rule.high_s)

    def over(guard_s: float) -> float:
        got = risks(Rule.guarded(rule.low_s, rule.high_s, guard_s), mean_s, sd_s, u_s)
        value = {
            "consumer": got.consumer,
            "producer": got.producer,
            "false-among-accepted": got.false_among_accepted,
        }[wanted]
        return value - risk

    widest = 8.0 * math.hypot(sd_s, u_s) + max(
        abs(x - mean_s) for x in (bare.low_s, bare.high_s) if math.isfinite(x)
    )
    inner = widest
    if math.isfinite(rule.low_s) and math.isfinite(rule.high_s):
        inner = min(widest, 0.5 * (rule.high_s - rule.low_s) * (1.0 - 1e-9))
    if over(-widest) * over(inner) > 0.0:
        raise NoAnswer("risk-out-of-reach", risk_pct=100.0 * risk)
    guard = float(brentq(over, -widest, inner, xtol=1e-9))
    return Rule.guarded(rule.low_s, rule.high_s, guard), guard
