"""The law of scatter fitted to a lab's own duplicate pairs.

The idea: three laws and a free smooth compete, each as a shape times one scale. The stated default CV is
the prior of the scale, worth one pair at first and less as data come. The law with the best
predictive score is frozen for the rest of the house; intervals average over all laws by their scores,
because twenty pairs seldom tell one law from another.
"""

from __future__ import annotations

import math
from typing import Final

import numpy as np
import numpy.typing as npt

from lodestarch.common.arrays import FloatArray
from lodestarch.common.provenance import Provenance
from lodestarch.method.scatter import ScatterLaw
from lodestarch.precision.pairs import Pairs, clean_pairs
from lodestarch.precision.scatter_findings import pair_findings
from lodestarch.precision.scatter_likelihood import Evidence, evidence
from lodestarch.precision.scatter_posterior import GridPosterior, grid_posterior, log_sum
from lodestarch.precision.scatter_prior import DEFAULT_PRIOR, ScatterPrior
from lodestarch.precision.scatter_result import LawScore, ScatterFit
from lodestarch.precision.scatter_shape import LAWS, law_from
from lodestarch.precision.scatter_smooth import KNOTS_S, SmoothPart, smooth_parts

__all__ = ["fit_pairs", "fit_scatter"]

_SMOOTH_FROM: Final = 20
"""Pairs below which the free smooth does not compete: it has nine values to find (a choice of ours)."""
_SMOOTH: Final = 3
_NEGLIGIBLE: Final = 1e-7
_MEASURED_FROM: Final = 5
"""Pairs from which a frozen law is called measured here rather than derived from the default (ours)."""


def fit_scatter(
    first_s: npt.ArrayLike,
    second_s: npt.ArrayLike,
    *,
    first_kind: npt.ArrayLike | None = None,
    second_kind: npt.ArrayLike | None = None,
    prior: ScatterPrior = DEFAULT_PRIOR,
) -> ScatterFit:
    """Fit the scatter of one tube by level to duplicate pairs.

    Parameters
    ----------
    first_s, second_s : array_like
        Seconds of the two tubes, or the bound where the kind is not exact. [s]  Legal 60 to 900.
    first_kind, second_kind : array_like of int, optional
        ``method.reading.Kind``.
    prior : ScatterPrior

    Returns
    -------
    ScatterFit
        Always an answer: without usable pairs it is the stated default, and a finding says so.

    Examples
    --------
    >>> fit = fit_scatter([300, 250, 410, 120], [306, 247, 396, 118])
    >>> fit.used, 0.15 < fit.prior_weight < 0.35, [f.code for f in fit.findings]
    (4, True, ['pairs-few'])
    """
    pairs = clean_pairs(first_s, second_s, first_kind=first_kind, second_kind=second_kind)
    return fit_pairs(pairs, prior=prior)


def fit_pairs(
    pairs: Pairs, *, prior: ScatterPrior = DEFAULT_PRIOR, resolution_s: float | None = None
) -> ScatterFit:
    """Fit the scatter to cleaned pairs; see ``fit_scatter``.

    Parameters
    ----------
    pairs : Pairs
    prior : ScatterPrior
    resolution_s : float, optional
        Step to which readings are rounded. [s]  Whole seconds are recognised when left out.
    """
    data = evidence(pairs, resolution_s)
    prior = prior.after(data.n)
    grid = grid_posterior(data, prior)
    smooth = smooth_parts(data, prior) if data.n >= _SMOOTH_FROM else ()
    scores = [grid.law_score(law) for law in range(_SMOOTH)]
    scores.append(log_sum(np.array([p.log_mass for p in smooth])) if smooth else -math.inf)
    weight = _law_weights(scores, prior.interval_weights)
    atoms = _atom_weights(grid, scores, weight)
    smooth_weight = tuple(float(weight[_SMOOTH]) * math.exp(p.log_mass - scores[_SMOOTH]) for p in smooth)
    choices = _choices(grid, smooth, scores, _law_weights(scores, prior.law_weights), data.n)
    kept = [(p, w) for p, w in zip(smooth, smooth_weight, strict=True) if w > _NEGLIGIBLE]
    shape = np.broadcast_to(np.arange(grid.shapes.law.size)[None, :, None], atoms.shape)
    keep = atoms > _NEGLIGIBLE * atoms.max()
    total = float(atoms[keep].sum()) + sum(w for _, w in kept)
    law = choices[0].law
    return ScatterFit(
        law=law if law is not None else _default_law(prior),
        choices=choices,
        given=pairs.given,
        used=data.n,
        exact=int(pairs.exact.sum()),
        one_sided=int(pairs.one_sided.sum()),
        prior_weight=_prior_weight(grid, atoms, prior, data),
        gross_share=_gross_share(atoms, smooth, smooth_weight, prior, data.n),
        resolution_s=data.resolution_s,
        findings=(*pairs.findings, *pair_findings(pairs, data.n)),
        _shapes=grid.shapes,
        _log_scale=grid.log_scale[keep],
        _cell=grid.cell[keep],
        _weight=atoms[keep] / total,
        _shape=shape[keep].astype(np.int64),
        _smooth=tuple(p for p, _ in kept),
        _smooth_weight=tuple(w / total for _, w in kept),
    )


def _law_weights(scores: list[float], before: tuple[float, ...]) -> FloatArray:
    """Posterior weight of each law: its weight before the pairs times the exponential of its score."""
    with np.errstate(divide="ignore"):
        log_weight = np.array(scores) + np.log(np.array(before))
    weight = np.exp(log_weight - log_weight.max())
    return np.asarray(weight / weight.sum())


def _atom_weights(grid: GridPosterior, scores: list[float], weight: FloatArray) -> FloatArray:
    """Weights of the grid's atoms; with those of the free smooth they sum to 1."""
    return np.asarray(weight[grid.shapes.law][None, :, None] * _within_laws(grid, scores))


def _within_laws(grid: GridPosterior, scores: list[float]) -> FloatArray:
    """Weights of the grid's atoms that sum to 1 within each law, however poorly that law did."""
    by_shape = np.array([scores[law] for law in grid.shapes.law])
    return np.asarray(np.exp(grid.log_mass - by_shape[None, :, None]))


def _default_law(prior: ScatterPrior) -> ScatterLaw:
    return ScatterLaw(
        "constant-cv", (prior.cv,), Provenance.DERIVED, "stated default; no pairs of the lab's own"
    )


def _choices(
    grid: GridPosterior,
    smooth: tuple[SmoothPart, ...],
    scores: list[float],
    weight: FloatArray,
    n: int,
) -> tuple[LawScore, ...]:
    """Every law with its score and parameters, best first; ties keep the order of ``LAWS``."""
    provenance = Provenance.MEASURED_HERE if n >= _MEASURED_FROM else Provenance.DERIVED
    note = f"fitted to {n} duplicate pairs of the lab" if n else "stated default; no pairs of the lab's own"
    by_shape_u = np.concatenate(list(grid.log_scale), axis=1)
    by_shape_w = np.concatenate(list(_within_laws(grid, scores)), axis=1)
    out = []
    for index, kind in enumerate(LAWS):
        if index < _SMOOTH:
            law: ScatterLaw | None = law_from(index, grid.shapes, by_shape_u, by_shape_w, provenance, note)
        else:
            law = _smooth_law(smooth, provenance, note) if smooth else None
        score = scores[index] if math.isfinite(scores[index]) else None
        out.append(LawScore(kind, score, float(weight[index]), law))
    # Rounded, so that laws which tie without data keep the order of LAWS and the default comes first.
    return tuple(sorted(out, key=lambda c: -round(c.weight, 6)))


def _smooth_law(smooth: tuple[SmoothPart, ...], provenance: Provenance, note: str) -> ScatterLaw:
    """Freeze the free smooth as a table at levels dense enough for straight lines in seconds."""
    mass = np.array([p.log_mass for p in smooth])
    w = np.exp(mass - mass.max())
    w /= w.sum()
    levels = np.unique(np.concatenate([KNOTS_S, np.geomspace(KNOTS_S[0], KNOTS_S[-1], 25)]).round(1))
    log_sd = sum(float(a) * p.log_sd(levels)[0] for a, p in zip(w, smooth, strict=True))
    sd = tuple(float(x) for x in np.exp(np.asarray(log_sd)))
    return ScatterLaw("table", sd, provenance, note, tuple(float(x) for x in levels))


def _prior_weight(grid: GridPosterior, atoms: FloatArray, prior: ScatterPrior, data: Evidence) -> float:
    """Share of the default in the scale: variance of ln CV within shapes, over its prior variance."""
    if data.n == 0:
        return 1.0
    total = np.maximum(atoms.sum(axis=(0, 2)), 1e-300)
    mean = (atoms * grid.log_scale).sum(axis=(0, 2)) / total
    var = (atoms * (grid.log_scale - mean[None, :, None]) ** 2).sum(axis=(0, 2)) / total
    return min(1.0, float((total * var).sum() / total.sum()) / prior.log_sd**2)


def _gross_share(
    atoms: FloatArray,
    smooth: tuple[SmoothPart, ...],
    smooth_weight: tuple[float, ...],
    prior: ScatterPrior,
    n: int,
) -> float:
    """Expected share of pairs with a gross error."""
    if n == 0:
        return float(np.dot(prior.gross_shares, prior.gross_weights))
    grid_part = float((atoms.sum(axis=(1, 2)) * np.array(prior.gross_shares)).sum())
    return grid_part + sum(w * p.share for w, p in zip(smooth_weight, smooth, strict=True))
