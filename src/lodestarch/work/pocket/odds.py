"""How likely typed results make a limit: here, at the lab that decides, and in truth."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Final

from lodestarch.common.errors import NoAnswer, OutOfRange
from lodestarch.common.findings import Finding, Severity, Where, in_order, of_range
from lodestarch.decide.belief import Results, thin_prior
from lodestarch.decide.clause_odds import (
    Sublots,
    composite_odds,
    composite_seconds,
    every_sublot_odds,
    minimum_odds,
    weighted_average_odds,
)
from lodestarch.decide.deciding_lab import DecidingLab
from lodestarch.decide.limits import Limits
from lodestarch.decide.odds import LotState, Odds, Retest, Says, lot_states, odds, state_of
from lodestarch.decide.prior import FlatPrior, LnPrior, NormalPrior, Prior
from lodestarch.method.reading import Kind
from lodestarch.sheets.prior_sample import read_prior_sample
from lodestarch.work.pocket.typed_results import Typed, ULaw, limits_of, read_results, read_u

__all__ = ["CLAUSES", "OddsAnswer", "OddsAsked", "OneLoad", "odds_for", "odds_json"]

CLAUSES: Final = (
    "per-load", "composite", "weighted-average", "average-with-sublot-minimum", "every-sublot",
)  # fmt: skip
_SAYS: Final = {
    Says.EXACT: "exact", Says.AT_LEAST: "at-least", Says.AT_MOST: "at-most",
    Says.NOT_EVALUATED: "not-evaluated",
}  # fmt: skip
_KIND: Final = {Kind.EXACT: "exact", Kind.AT_OR_BELOW: "at-or-below", Kind.ABOVE: "above"}


@dataclass(frozen=True, slots=True)
class OddsAsked:
    """The question as typed; every standard uncertainty in seconds."""

    results: tuple[str, ...]
    u: str | None
    limit_s: float | None = None
    at_most_s: float | None = None
    counts_from_s: float | None = None
    counts_to_s: float | None = None
    other_u_s: float | None = None
    other_bias_s: float = 0.0
    other_bias_u_s: float = 0.0
    drift_s: float = 0.0
    drift_u_s: float = 0.0
    pressure_s: float = 0.0
    pressure_u_s: float = 0.0
    retest_u_s: float | None = None
    shared_u_s: float = 0.0
    prior_mean_s: float | None = None
    prior_sd_s: float | None = None
    prior_mean_ln: float | None = None
    prior_sd_ln: float | None = None
    prior_file: tuple[str, bytes] | None = None
    clause: str = "per-load"
    sublot_at_least_s: float | None = None


@dataclass(frozen=True, slots=True)
class OneLoad:
    """Odds of one load."""

    typed: Typed
    u_s: float
    says: Says
    p_true: float | None
    p_same_lab: float | None
    p_other_lab: float | None
    state: LotState
    expected_retest_s: float | None


@dataclass(frozen=True, slots=True)
class OddsAnswer:
    """Odds load by load, or of all together under a clause; ``None`` where there are none."""

    loads: tuple[OneLoad, ...]
    limits: Limits | None
    clause: str
    p_true: float | None
    p_other_lab: float | None
    composite_s: float | None
    prior: Prior
    findings: tuple[Finding, ...]

    @property
    def answered(self) -> bool:
        """Something was evaluated."""
        return self.p_true is not None or any(one.p_true is not None for one in self.loads)

    @property
    def state(self) -> LotState:
        """State of the one load, or of the cargo."""
        if self.clause == "per-load":
            return self.loads[0].state if len(self.loads) == 1 else LotState.NOT_EVALUATED
        return state_of(self.p_other_lab)


def odds_for(asked: OddsAsked) -> OddsAnswer:
    """Answer for typed results.

    Parameters
    ----------
    asked : OddsAsked

    Returns
    -------
    OddsAnswer
        With the findings that say what is taken for granted, and why something is not evaluated.
    """
    typed, found = read_results(asked.results)
    law = read_u(asked.u)
    prior, prior_found = _prior(asked)
    found = (*found, *([law] if isinstance(law, Finding) else []), *prior_found)
    try:
        limits = limits_of(asked.limit_s, asked.at_most_s, asked.counts_from_s, asked.counts_to_s)
        deciding = _deciding(asked)
        retest = Retest(asked.retest_u_s, asked.shared_u_s)
        if isinstance(law, Finding) or prior is None or len(typed) < len(asked.results) or not typed:
            return OddsAnswer((), limits, asked.clause, None, None, None, prior or FlatPrior(), found)
        found = (*found, *law.told(typed[0].value_s))
        if asked.clause != "per-load":
            return _under_clause(asked, typed, law, limits, deciding, prior, found)
        values = [t.value_s for t in typed]
        got = odds(
            Results.of(values, [law.at(v) for v in values], [t.kind.value for t in typed]),
            limits, prior=prior, retest=retest, deciding=deciding,
        )  # fmt: skip
    except (NoAnswer, OutOfRange) as cause:
        return OddsAnswer(
            (), None, asked.clause, None, None, None, prior or FlatPrior(), (*found, _finding_of(cause))
        )
    loads = tuple(_load(i, t, law, got, prior) for i, t in enumerate(typed))
    found = in_order((*found, *_notes(asked, loads, got)))
    return OddsAnswer(loads, limits, asked.clause, None, None, None, prior, found)


def _finding_of(cause: NoAnswer | OutOfRange) -> Finding:
    if isinstance(cause, NoAnswer):
        return Finding(cause.code, Where(field="result"), Severity.STOP, cause.values)
    return of_range(cause, Where(field=cause.name))


def _deciding(asked: OddsAsked) -> DecidingLab | None:
    if asked.other_u_s is None:
        return None
    return DecidingLab(
        asked.other_u_s, asked.other_bias_s, asked.other_bias_u_s, asked.drift_s, asked.drift_u_s,
        asked.pressure_s, asked.pressure_u_s,
    )  # fmt: skip


def _prior(asked: OddsAsked) -> tuple[Prior | None, tuple[Finding, ...]]:
    """The prior as stated; none of it is flat, half of one is a finding."""
    halves = ((asked.prior_mean_s, asked.prior_sd_s), (asked.prior_mean_ln, asked.prior_sd_ln))
    given = sum(any(v is not None for v in pair) for pair in halves) + (asked.prior_file is not None)
    if given == 0:
        return FlatPrior(), ()
    half = any((a is None) != (b is None) for a, b in halves)
    if half or given > 1:
        return None, (Finding("prior-half", Where(field="prior"), Severity.STOP, {}),)
    try:
        if asked.prior_file is not None:
            name, data = asked.prior_file
            read = read_prior_sample(data, name)
            return read.prior, read.findings
        if asked.prior_mean_s is not None and asked.prior_sd_s is not None:
            return NormalPrior(asked.prior_mean_s, asked.prior_sd_s), ()
        return LnPrior(asked.prior_mean_ln or 0.0, asked.prior_sd_ln or 0.0), ()
    except (NoAnswer, OutOfRange) as cause:
        return None, (_finding_of(cause),)


def _load(i: int, typed: Typed, law: ULaw, got: Odds, prior: Prior) -> OneLoad:
    says = Says(int(got.p_true.says[i]))
    quiet = says is Says.NOT_EVALUATED
    other = got.p_other_lab
    state = lot_states(other)[i] if other is not None else LotState.NOT_EVALUATED
    stated = not isinstance(prior, FlatPrior)
    return OneLoad(
        typed=typed, u_s=law.at(typed.value_s), says=says,
        p_true=None if quiet else float(got.p_true.p[i]),
        p_same_lab=None if quiet else float(got.p_same_lab.p[i]),
        p_other_lab=None if quiet or other is None else float(other.p[i]),
        state=state,
        expected_retest_s=float(got.belief.mean_s[i]) if stated else None,
    )  # fmt: skip


def _notes(asked: OddsAsked, loads: Sequence[OneLoad], got: Odds) -> tuple[Finding, ...]:
    out: list[Finding] = []
    if got.p_other_lab is None:
        out.append(Finding("odds-other-missing", Where(field="other_u_s"), Severity.CHECK, {}))
    if asked.retest_u_s is None and asked.shared_u_s == 0.0:
        out.append(Finding("odds-retest-as-good", Where(field="retest_u_s"), Severity.NOTE, {}))
    thin = thin_prior(got.belief)
    for i, one in enumerate(loads):
        where = Where(field="result")
        if one.says is Says.NOT_EVALUATED:
            seconds = one.typed.value_s
            says = _KIND[one.typed.kind]
            values: dict[str, str | float | int | bool | None] = {"says": says, "seconds": seconds}
            out.append(Finding("odds-censored-open", where, Severity.CHECK, values))
        if bool(thin[i]):
            out.append(Finding("odds-prior-thin", where, Severity.CHECK, {"seconds": one.typed.value_s}))
    return tuple(out)


def _under_clause(
    asked: OddsAsked, typed: Sequence[Typed], law: ULaw, limits: Limits, deciding: DecidingLab | None,
    prior: Prior, found: tuple[Finding, ...],
) -> OddsAnswer:  # fmt: skip
    where = Where(field="result")
    more = [
        Finding("odds-needs-exact", where, Severity.STOP, {"value": t.text})
        for t in typed if t.kind is not Kind.EXACT
    ]  # fmt: skip
    if asked.clause == "average-with-sublot-minimum" and asked.sublot_at_least_s is None:
        more.append(Finding("odds-minimum-missing", Where(field="sublot_at_least_s"), Severity.STOP, {}))
    found = (*found, *more)
    if any(f.severity is Severity.STOP for f in found):
        return OddsAnswer((), limits, asked.clause, None, None, None, prior, found)
    if not isinstance(prior, FlatPrior):
        found = (*found, Finding("odds-clause-flat", Where(field="prior"), Severity.CHECK, {}))
    if deciding is None:
        found = (*found, Finding("odds-other-missing", Where(field="other_u_s"), Severity.CHECK, {}))
    masses = [t.tonnes for t in typed]
    cargo = Sublots.of(
        [t.value_s for t in typed], [law.at(t.value_s) for t in typed],
        None if all(m is None for m in masses) else [m if m is not None else 0.0 for m in masses],
    )  # fmt: skip
    if asked.clause == "composite":
        true, other = composite_odds(cargo, limits, deciding)
    elif asked.clause == "weighted-average":
        true, other = weighted_average_odds(cargo, limits, deciding)
    elif asked.clause == "every-sublot":
        true, other = every_sublot_odds(cargo, limits, deciding)
    else:
        true, other = minimum_odds(cargo, limits, asked.sublot_at_least_s or 0.0, deciding)
    seconds = composite_seconds(cargo)[0] if asked.clause == "composite" else None
    return OddsAnswer((), limits, asked.clause, true, other, seconds, prior, in_order(found))


def _rounded(p: float | None) -> float | None:
    return None if p is None else round(p, 6)


def odds_json(asked: OddsAsked, answer: OddsAnswer) -> Mapping[str, object]:
    """The answer as JSON keys (``docs/json.md``)."""
    one = answer.loads[0] if answer.clause == "per-load" and len(answer.loads) == 1 else None
    return {
        "p_true": _rounded(one.p_true if one else answer.p_true),
        "p_same_lab": _rounded(one.p_same_lab if one else None),
        "p_other_lab": _rounded(one.p_other_lab if one else answer.p_other_lab),
        "state": answer.state.value,
        "clause": answer.clause,
        "limit_s": asked.limit_s,
        "at_most_s": asked.at_most_s,
        "counts_from_s": asked.counts_from_s,
        "counts_to_s": asked.counts_to_s,
        "composite_s": None if answer.composite_s is None else round(answer.composite_s, 3),
        "u_from_scatter": asked.u is None,
        "prior": type(answer.prior).__name__.removesuffix("Prior").lower(),
        "loads": [
            {
                "seconds": load.typed.value_s,
                "kind": _KIND[load.typed.kind],
                "u_s": round(load.u_s, 4),
                "says": _SAYS[load.says],
                "p_true": _rounded(load.p_true),
                "p_same_lab": _rounded(load.p_same_lab),
                "p_other_lab": _rounded(load.p_other_lab),
                "state": load.state.value,
                "expected_retest_s": None
                if load.expected_retest_s is None
                else round(load.expected_retest_s, 3),
            }
            for load in answer.loads
        ],
    }
