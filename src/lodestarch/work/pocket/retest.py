"""Whether another test pays: under the rule that settles, and before choosing where a load goes."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Final

from lodestarch.common.errors import NoAnswer, OutOfRange
from lodestarch.common.findings import Finding, Severity, Value, Where, in_order, of_range
from lodestarch.common.money import MoneyBySeconds, constant_money
from lodestarch.decide.another_test import Outlet, TestWorth, worth_of_tests
from lodestarch.decide.combine import COMBINE_RULES, CombineRule
from lodestarch.decide.deciding_lab import DecidingLab
from lodestarch.decide.gain import AnotherTest, Design, Source, Spread, gain_of
from lodestarch.decide.limits import Limits
from lodestarch.decide.regression import regress
from lodestarch.decide.retest import RetestOutcome, settle
from lodestarch.decide.selection import UntilPass, third_when_failed, until_it_passes
from lodestarch.decide.stated_money import Stated, stated_money
from lodestarch.method.reading import Kind
from lodestarch.method.scatter import DEFAULT_CV, DEFAULT_SCATTER
from lodestarch.work.pocket.retest_terms import FromTerms, LeftOut, from_terms
from lodestarch.work.pocket.typed_results import limits_of, read_results

__all__ = ["RULES", "SOURCES", "RetestAnswer", "RetestAsked", "retest_for", "retest_json"]

RULES: Final = tuple(r.value for r in CombineRule)
SOURCES: Final = tuple(s.value for s in Source)
_WORTH_SAYING: Final = 0.001
"""Chance of passing from which the warning on testing until it passes is given. [1]  A choice of ours."""

_PAYS: Final = re.compile(
    r"^\s*(\d+(?:[.,]\d+)?)\s*:\s*(-?\d+(?:[.,]\d+)?)\s*(?:\.\.\s*(-?\d+(?:[.,]\d+)?))?\s*$"
)


@dataclass(frozen=True, slots=True)
class RetestAsked:
    """The question as typed; money for a tonne, fee for a test."""

    results: tuple[str, ...]
    tube_u_s: float | None
    grind_u_s: float = 0.0
    probe_u_s: float = 0.0
    lab_u_s: float = 0.0
    tubes: int = 2
    source: str = Source.REGRIND.value
    rule: str | None = None
    appeal_sd_s: float = 0.0
    limit_s: float | None = None
    at_most_s: float | None = None
    counts_from_s: float | None = None
    counts_to_s: float | None = None
    prior_mean_s: float | None = None
    prior_sd_s: float | None = None
    other_u_s: float | None = None
    other_bias_s: float = 0.0
    other_bias_u_s: float = 0.0
    pays: tuple[str, ...] = ()
    unit: str = "USD/t"
    elsewhere: float | None = None
    tonnes: float = 1.0
    fee: float | None = None
    hours: float = 0.0
    per_hour: float = 0.0
    terms: tuple[str, bytes] | None = None
    offer: str | None = None
    turned_away: float | None = None
    until_passes: int = 3


@dataclass(frozen=True, slots=True)
class RetestAnswer:
    """What one more test does; parts are ``None`` where they were not asked for or cannot be said."""

    outcome: RetestOutcome | None
    limits: Limits | None
    expected_rise_s: float | None
    until: UntilPass | None
    tests: tuple[TestWorth, ...]
    currency: str
    findings: tuple[Finding, ...]
    left_out: tuple[LeftOut, ...] = ()


def retest_for(asked: RetestAsked) -> RetestAnswer:
    """Answer for typed results.

    Notes
    -----
    Results that are there are taken to be made as the further test would be (``source``): each from tubes of
    its own, and from grindings and probe samples of its own where the source draws these anew.
    """
    typed, found = read_results(asked.results)
    found = (
        *found,
        *(
            Finding("retest-exact-only", Where(field="result"), Severity.STOP, {"value": t.text})
            for t in typed if t.kind is not Kind.EXACT
        ),
    )  # fmt: skip
    if (asked.prior_mean_s is None) != (asked.prior_sd_s is None):
        found = (*found, Finding("prior-half", Where(field="prior"), Severity.STOP, {}))
    stated, terms_found = from_terms(asked.terms, asked.offer, asked.turned_away, asked.tonnes)
    found = (*found, *terms_found)
    if any(f.severity is Severity.STOP for f in found) or not typed:
        return RetestAnswer(None, None, None, None, (), asked.unit, found)
    values_s = [t.value_s for t in typed]
    asked, more_found = _with_scatter(asked, sum(values_s) / len(values_s))
    found = (*found, *more_found)
    try:
        return _answer(asked, values_s, stated, found)
    except NoAnswer as cause:
        more = Finding(cause.code, Where(field="result"), Severity.STOP, cause.values)
    except OutOfRange as cause:
        more = of_range(cause, Where(field=cause.name))
    return RetestAnswer(None, None, None, None, (), asked.unit, (*found, more))


def _with_scatter(asked: RetestAsked, mean_s: float) -> tuple[RetestAsked, tuple[Finding, ...]]:
    """The question with a tube's scatter, that of the default law where none was stated, and a word on it."""
    if asked.tube_u_s is not None:
        return asked, ()
    tube_u_s = DEFAULT_SCATTER.mean_sd_s(mean_s, 1)
    values: dict[str, Value] = {"u_s": tube_u_s, "seconds": mean_s, "cv_pct": 100.0 * DEFAULT_CV}
    told = Finding("retest-u-from-scatter", Where(field="tube_u_s"), Severity.CHECK, values)
    return replace(asked, tube_u_s=tube_u_s), (told,)


def _answer(
    asked: RetestAsked, values: list[float], stated: FromTerms | None, found: tuple[Finding, ...]
) -> RetestAnswer:
    limits = _limits(asked, stated)
    spread = Spread(asked.tube_u_s or 0.0, asked.grind_u_s, asked.probe_u_s, asked.lab_u_s)
    source, n = Source(asked.source), len(values)
    design = Design(
        asked.tubes * n,
        1 if source is Source.SAME_MEAL else n,
        n if source is Source.NEW_PROBE else 1,
    )
    mean = sum(values) / n
    u = sum(design.parts(spread).values()) ** 0.5
    rise = held_mean = held_sd = None
    if asked.prior_mean_s is not None and asked.prior_sd_s is not None:
        got = regress(mean, u, asked.prior_mean_s, asked.prior_sd_s)
        rise, held_mean, held_sd = float(got.rise_s), float(got.prediction_s), float(got.sd_s)
    test = AnotherTest(asked.source, source, Design(asked.tubes))
    gain = gain_of(test, spread, design, mean, mean_s=held_mean, sd_s=held_sd)
    rule = _rule(asked, stated)
    paid, unit = _paid(asked, stated)
    fee = asked.fee if asked.fee is not None else stated.fee if stated else 0.0
    outcome = settle(
        rule, values, gain.shown_mean_s, gain.shown_sd_s, limits, money=paid, fee=fee,
        seller_share=stated.seller_share if stated else 1.0, appeal_sd_s=asked.appeal_sd_s,
    )  # fmt: skip
    until, more = _warnings(
        asked,
        rule,
        limits,
        mean if held_mean is None else held_mean,
        test.drawn_anew_s(spread),
        passes_now=outcome.passes_now,
    )
    tests, told = _tests(asked, stated, spread, design, mean, held_mean, held_sd, paid, unit, fee)
    return RetestAnswer(
        outcome, limits, rise, until, tests, unit.partition("/")[0], in_order((*found, *more, *told)),
        stated.left_out if stated else (),
    )  # fmt: skip


def _limits(asked: RetestAsked, stated: FromTerms | None) -> Limits:
    if asked.limit_s is not None or asked.at_most_s is not None or stated is None:
        return limits_of(asked.limit_s, asked.at_most_s, asked.counts_from_s, asked.counts_to_s)
    return stated.limits


def _rule(asked: RetestAsked, stated: FromTerms | None) -> CombineRule:
    if asked.rule is not None:
        return CombineRule(asked.rule)
    return stated.rule if stated and stated.rule else CombineRule.ALL_COUNT


def _paid(asked: RetestAsked, stated: FromTerms | None) -> tuple[MoneyBySeconds | None, str]:
    """Money of the whole load by the number that counts, and its unit for a tonne."""
    if stated is not None:
        return stated.money, stated.unit
    if not asked.pays:
        return None, asked.unit
    lines = []
    for text in asked.pays:
        match = _PAYS.match(text)
        if match is None:
            raise NoAnswer("retest-pays-unreadable", value=text)
        start, amount, to = (None if g is None else float(g.replace(",", ".")) for g in match.groups())
        lines.append(Stated(start or 0.0, amount or 0.0, to))
    # Rounding moves the steps of the price as it moves the limit.
    by = 0.0
    if asked.limit_s is not None and asked.counts_from_s is not None:
        by = asked.limit_s - asked.counts_from_s
    money = stated_money(lines, asked.unit, counts_from=by)
    return money.times(asked.tonnes, asked.unit.partition("/")[0]), asked.unit


def _warnings(
    asked: RetestAsked, rule: CombineRule, limits: Limits, true_s: float, sd: float, *, passes_now: bool
) -> tuple[UntilPass | None, tuple[Finding, ...]]:
    """What testing until it passes, and the two nearest of three, would do to the number."""
    if limits.at_least_s is None or limits.at_most_s is not None or sd == 0.0:
        return None, ()
    until = until_it_passes(true_s, sd, limits.low_report_s, asked.until_passes)
    where = Where(field="rule")
    values: dict[str, Value] = {
        "tests": asked.until_passes, "p_pass_pct": 100.0 * until.p_pass, "p_one_pct": 100.0 * until.p_one,
        "bias_s": until.kept_bias_s,
    }  # fmt: skip
    likely = until.p_pass >= _WORTH_SAYING and not passes_now
    out = [Finding("retest-until-passes", where, Severity.NOTE, values)] if likely else []
    if rule is CombineRule.TWO_NEAREST:
        nearest = third_when_failed(rule, true_s, sd, limits.low_report_s)
        nearest_values: dict[str, Value] = {
            "bias_s": nearest.bias_s, "p_pass_pct": 100.0 * nearest.p_pass, "p_one_pct": 100.0 * until.p_one,
        }  # fmt: skip
        out.append(Finding("retest-two-nearest", where, Severity.CHECK, nearest_values))
    return until, tuple(out)


def _tests(
    asked: RetestAsked, stated: FromTerms | None, spread: Spread, design: Design, mean: float,
    held_mean: float | None, held_sd: float | None, paid: MoneyBySeconds | None, unit: str, fee: float,
) -> tuple[tuple[TestWorth, ...], tuple[Finding, ...]]:  # fmt: skip
    outlets: list[Outlet] = []
    if stated is not None:
        outlets += stated.outlets
    elif paid is not None and asked.other_u_s is not None:
        lab = DecidingLab(asked.other_u_s, asked.other_bias_s, asked.other_bias_u_s)
        outlets.append(Outlet("as-stated", paid, lab))
    if asked.elsewhere is not None and (stated is not None or paid is not None):
        sure = constant_money(asked.elsewhere * asked.tonnes, unit.partition("/")[0])
        outlets.append(Outlet("elsewhere", sure, DecidingLab(0.0)))
    if len(outlets) < 2:
        lacks = stated is None and paid is not None and asked.other_u_s is None
        missing = Finding("odds-other-missing", Where(field="other_u_s"), Severity.CHECK, {})
        return (), ((missing,) if lacks else ())
    tests = [
        AnotherTest(s.value, s, Design(asked.tubes), cost=fee, hours=asked.hours) for s in Source
        if s is not Source.RETAINED_SAMPLE  # as a regrind in variance
    ]  # fmt: skip
    seen: list[DecidingLab] = []
    for outlet in outlets:
        if outlet.deciding.sd_s > 0.0 and outlet.deciding not in seen:
            seen.append(outlet.deciding)
            tests.append(
                AnotherTest(
                    f"lab:{outlet.name}", Source.RETAINED_SAMPLE, Design(asked.tubes), cost=fee,
                    hours=asked.hours, lab=outlet.deciding, decides=True,
                )
            )  # fmt: skip
    got = worth_of_tests(
        outlets, tests, spread, design, mean, mean_s=held_mean, sd_s=held_sd, money_per_hour=asked.per_hour
    )
    return got, ()


def _or_null(value: float | None, digits: int) -> float | None:
    return None if value is None else round(value, digits)


def retest_json(asked: RetestAsked, answer: RetestAnswer) -> Mapping[str, object]:
    """The answer as JSON keys (``docs/json.md``)."""
    o, until, limits = answer.outcome, answer.until, answer.limits
    return {
        "rule": None if o is None else o.rule.value,
        "rule_source": None if o is None else COMBINE_RULES[o.rule].source,
        "rule_provenance": None if o is None else COMBINE_RULES[o.rule].provenance.value,
        "source": asked.source,
        "limit_s": None if limits is None else limits.at_least_s,
        "at_most_s": None if limits is None else limits.at_most_s,
        "now_s": None if o is None else _or_null(o.now_s, 3),
        "passes_now": None if o is None else o.passes_now,
        "needed_s": None if o is None else _or_null(o.needed_s, 3),
        "p_after": None if o is None else _or_null(o.p_after, 6),
        "p_changes": None if o is None else _or_null(o.p_changes, 6),
        "expected_s": None if o is None else _or_null(o.expected_s, 3),
        "shown_mean_s": None if o is None else _or_null(o.shown_mean_s, 3),
        "shown_sd_s": None if o is None else _or_null(o.shown_sd_s, 4),
        "expected_rise_s": _or_null(answer.expected_rise_s, 3),
        "seller": None if o is None else _or_null(o.seller, 4),
        "buyer": None if o is None else _or_null(o.buyer, 4),
        "currency": answer.currency,
        "until_it_passes": None
        if until is None
        else {
            "tests": asked.until_passes,
            "p_one": _or_null(until.p_one, 6),
            "p_pass": _or_null(until.p_pass, 6),
            "best_bias_s": _or_null(until.best_bias_s, 4),
            "kept_bias_s": _or_null(until.kept_bias_s, 4),
        },
        "tests": [
            {
                "test": w.test.name,
                "outlet_now": w.outlet,
                "money_now": _or_null(w.now, 4),
                "worth": _or_null(w.worth, 4),
                "net": _or_null(w.net, 4),
                "p_changes": _or_null(w.changes, 6),
                "moves_by_s": _or_null(w.gain.gain_true_s, 4),
            }
            for w in answer.tests
        ],
        "tube_u_from_scatter": asked.tube_u_s is None,
        "left_out": [{"offer": one.offer, "why": one.why} for one in answer.left_out],
    }
