"""Nested variance components with intervals: probes, grinds, tubes; batches, casks, samples."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq
from scipy.special import chdtri

from lodestarch.common.findings import Finding, Severity, Value
from lodestarch.precision.nesting import Nesting, nest
from lodestarch.precision.reml import Flat, RemlFit, fit_reml, flatten, minimise_over

__all__ = ["Component", "Components", "fit_components"]

_FEW_NODES: Final = 5
"""Nodes of a factor below which its component is hardly known (a choice of ours: with four degrees of freedom
a 95 % interval of an SD already spans a factor of five)."""


@dataclass(frozen=True, slots=True)
class Component:
    """One variance component.

    Parameters
    ----------
    name : str
        Factor; ``residual`` for what is left within the innermost factor.
    nodes : int
        Number of its nodes; for the residual, the number of values.
    variance, sd : float
        Estimate. [unit squared, unit]
    low_sd, high_sd : float or None
        Profile-likelihood interval of the SD; ``None`` for an end that the data do not bound.
    share : float
        Part of the variance of a single value. [1]
    dof : float or None
        Degrees of freedom with which the SD may enter a budget; ``None`` where it is estimated at 0.
    """

    name: str
    nodes: int
    variance: float
    sd: float
    low_sd: float | None
    high_sd: float | None
    share: float
    dof: float | None


@dataclass(frozen=True, slots=True)
class Components:
    """Nested variance components of one set of values.

    Parameters
    ----------
    mean, u_mean : float or None
        Generalised least-squares mean and its standard uncertainty.
    n : int
        Values used.
    components : tuple of Component
        Outermost first, the residual last; empty when there is no answer.
    probability : float
        Content of the intervals.
    deviance : float or None
        Minus twice the restricted log likelihood.
    findings : tuple of Finding
    """

    mean: float | None
    u_mean: float | None
    n: int
    components: tuple[Component, ...]
    probability: float
    deviance: float | None
    findings: tuple[Finding, ...]


def fit_components(
    values: npt.ArrayLike,
    factors: Sequence[npt.ArrayLike],
    names: Sequence[str] | None = None,
    *,
    probability: float = 0.95,
) -> Components:
    """Split the variance of values among nested factors by restricted maximum likelihood.

    Parameters
    ----------
    values : array_like
        One value per row; missing ones are left out with a finding.
    factors : sequence of array_like
        Columns of labels, outermost first; a label counts within its outer factor only.
    names : sequence of str, optional
        Names of the factors.
    probability : float
        Content of the intervals.

    Returns
    -------
    Components
        With findings ``component-values-few``, ``component-values-equal``, ``component-not-separable``
        (a factor whose nodes each hold a single node or value), ``component-no-residual`` (all values within
        the innermost factor are equal), ``component-nodes-few``, ``component-at-zero``.

    Notes
    -----
    Intervals are by profile likelihood: the values at which the deviance rises by the chi-square quantile
    with one degree of freedom. With few nodes they are somewhat too short; the simulation says by how much.

    Examples
    --------
    >>> batch = ["A"] * 3 + ["B"] * 3 + ["C"] * 3
    >>> c = fit_components([10.1, 9.8, 10.0, 12.0, 12.3, 11.9, 8.9, 9.2, 9.0], [batch], ["batch"])
    >>> [(x.name, round(x.sd, 2)) for x in c.components]
    [('batch', 1.55), ('residual', 0.17)]
    """
    tree = nest(values, factors, names)
    stop = _no_answer(tree)
    if stop is not None:
        return Components(None, None, tree.value.size, (), probability, None, (*tree.findings, stop))
    single = [tree.names[i] for i in range(len(tree.names)) if _singletons(tree, i)]
    if single:
        stop = Finding("component-not-separable", severity=Severity.STOP, values={"factor": single[0]})
        return Components(None, None, tree.value.size, (), probability, None, (*tree.findings, stop))
    fit = fit_reml(tree)
    bounds = _intervals(tree, fit, probability)
    total = float(fit.variances.sum())
    nodes = (*tree.sizes, tree.value.size)
    out = tuple(
        Component(
            name, nodes[i], float(v), math.sqrt(float(v)), *bounds[i], float(v) / total,
            _dof(fit, bounds[i], i, probability),
        )
        for i, (name, v) in enumerate(zip((*tree.names, "residual"), fit.variances, strict=True))
    )  # fmt: skip
    return Components(
        fit.mean, fit.u_mean, tree.value.size, out, probability, fit.deviance, (*tree.findings, *_notes(out))
    )


def _no_answer(tree: Nesting) -> Finding | None:
    n = tree.value.size
    if n < 3:
        return Finding("component-values-few", severity=Severity.STOP, values={"values": n, "enough": 3})
    spread = float(np.ptp(tree.value))
    if spread <= 1e-12 * float(np.abs(tree.value).max()):
        return Finding("component-values-equal", severity=Severity.STOP, values={"values": n})
    leaf = tree.parent[-1]
    count = np.bincount(leaf)
    mean = np.bincount(leaf, weights=tree.value) / count
    if float(np.abs(tree.value - mean[leaf]).max()) <= 1e-6 * spread and bool(np.any(count > 1)):
        # Without any spread inside, the likelihood has no bound: no component can be told from the residual.
        return Finding("component-no-residual", severity=Severity.STOP, values={"factor": tree.names[-1]})
    return None


def _singletons(tree: Nesting, level: int) -> bool:
    """True where every node of a factor holds just one node of the next, or one value."""
    return int(tree.parent[level + 1].size) == tree.sizes[level]


def _notes(out: tuple[Component, ...]) -> tuple[Finding, ...]:
    notes = []
    for c in out[:-1]:
        if c.nodes < _FEW_NODES:
            values: dict[str, Value] = {"factor": c.name, "nodes": c.nodes, "enough": _FEW_NODES}
            notes.append(Finding("component-nodes-few", severity=Severity.NOTE, values=values))
        if c.variance == 0.0:
            notes.append(Finding("component-at-zero", severity=Severity.NOTE, values={"factor": c.name}))
    return tuple(notes)


def _dof(
    fit: RemlFit, bound: tuple[float | None, float | None], index: int, probability: float
) -> float | None:
    """Degrees of freedom whose chi-square interval reaches as high as the profile's upper end."""
    sd, high = math.sqrt(float(fit.variances[index])), bound[1]
    if sd == 0.0:
        return None
    if high is None:
        return 0.5
    tail = 0.5 * (1.0 + probability)
    want = (sd / high) ** 2

    def gap(log_dof: float) -> float:
        nu = math.exp(log_dof)
        return float(chdtri(nu, tail)) / nu - want

    low, top = math.log(0.5), math.log(1e7)
    if gap(low) > 0.0:
        return 0.5
    return math.exp(float(brentq(gap, low, top)))


def _intervals(tree: Nesting, fit: RemlFit, probability: float) -> list[tuple[float | None, float | None]]:
    rise = float(chdtri(1.0, 1.0 - probability))
    flat = flatten(tree)
    return [_interval(flat, fit, i, rise) for i in range(fit.variances.size)]


def _interval(flat: Flat, fit: RemlFit, index: int, rise: float) -> tuple[float | None, float | None]:
    """Ends of the profile interval of one SD; ``None`` for an end that the data do not bound."""
    scale = math.sqrt(float(fit.variances.sum()))
    estimate = math.sqrt(float(fit.variances[index]))

    def above(sd: float) -> float:
        return _held(flat, fit, index, sd * sd) - fit.deviance - rise

    low: float | None = 0.0
    if index == fit.variances.size - 1 or (estimate > 0.0 and above(0.0) > 0.0):
        small = estimate
        while above(small) < 0.0 and small > 1e-6 * estimate:
            small *= 0.7
        low = _crossing(above, small, estimate, scale) if above(small) > 0.0 else 0.0
    large = max(estimate, 0.1 * scale)
    for _ in range(40):
        if above(large) > 0.0:
            return low, _crossing(above, max(estimate, 1e-9 * scale), large, scale)
        large *= 1.4
    return low, None


def _crossing(f: Callable[[float], float], a: float, b: float, scale: float) -> float | None:
    """Where f crosses 0; ``None`` where it does not change sign."""
    if (f(a) > 0.0) == (f(b) > 0.0):
        return None
    return float(brentq(f, a, b, xtol=1e-4 * scale))


def _held(flat: Flat, fit: RemlFit, index: int, variance: float) -> float:
    """Deviance with one variance held and the others at their best."""
    others = tuple(i for i in range(fit.variances.size) if i != index)
    start = np.maximum(fit.variances, 1e-3 * float(fit.variances.sum()))
    start[index] = variance
    return minimise_over(flat, start, others, enough=1e-4)[1]
