"""Rules that combine retests, what they do to number, verdict and money, and what selection does."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import norm

from lodestarch.common.errors import NoAnswer, OutOfRange
from lodestarch.common.money import MoneyBySeconds
from lodestarch.decide.combine import CombineRule, combined, combined_by, money_under, passes
from lodestarch.decide.limits import Limits
from lodestarch.decide.retest import rise_needed, settle
from lodestarch.decide.selection import best_of_bias, selective_retest, third_when_failed, until_it_passes
from lodestarch.decide.truck_294 import reading_294

MONEY = MoneyBySeconds(
    np.array([275.0, 300.0, 320.0]),
    np.array([-40.0, -300.0, 0.0, 4.0]),
    np.array([0.0, 0.9, 0.0, 0.0]),
    np.array([True, True, False]),
    "USD",
)


def one_by_one(rule: CombineRule, results: list[float], sd: float) -> float:
    """What a clerk with the rule in hand does."""
    x = np.array(results)
    if rule is CombineRule.ALL_COUNT:
        return float(x.mean())
    if rule is CombineRule.MEDIAN:
        return float(np.median(x))
    if rule is CombineRule.THIRD_FINAL:
        return float(x[-1])
    if rule is CombineRule.OFFICIAL_APPEAL:
        return float(x[-1] if abs(x[1] - x[0]) > 2 * sd else x.mean())
    pairs = [(0, 1), (0, 2), (1, 2)]
    i, j = min(pairs, key=lambda p: abs(x[p[0]] - x[p[1]]))
    return float((x[i] + x[j]) / 2)


EARLIER = {
    CombineRule.ALL_COUNT: [[294.0], [294.0, 306.0], [280.0, 290.0, 301.0]],
    CombineRule.MEDIAN: [[294.0], [306.0, 294.0], [280.0, 301.0, 290.0], [280.0, 301.0, 290.0, 310.0]],
    CombineRule.THIRD_FINAL: [[294.0, 306.0]],
    CombineRule.TWO_NEAREST: [[294.0, 306.0], [300.0, 300.0]],
    CombineRule.OFFICIAL_APPEAL: [[294.0]],
}
CASES = [(rule, e) for rule, rows in EARLIER.items() for e in rows]


@pytest.mark.parametrize(("rule", "earlier"), CASES)
def test_a_rule_as_a_function_does_what_the_clerk_does(rule, earlier):
    y = np.random.default_rng(1).uniform(240, 360, 3000)
    law = combined_by(rule, earlier, sd_s=4.3)
    np.testing.assert_allclose(
        law.at(y), [one_by_one(rule, [*earlier, v], 4.3) for v in y], rtol=0, atol=1e-9
    )
    np.testing.assert_allclose(
        [combined(rule, [*earlier, v], sd_s=4.3) for v in y[:50]], law.at(y[:50]), rtol=0, atol=1e-9
    )


@pytest.mark.parametrize(("rule", "earlier"), CASES)
def test_money_and_verdict_under_a_rule(rule, earlier):
    y = np.random.default_rng(2).uniform(200, 380, 3000)
    law = combined_by(rule, earlier, sd_s=4.3)
    np.testing.assert_allclose(money_under(MONEY, law).at(y), MONEY.at(law.at(y)), rtol=0, atol=1e-9)
    for low, high in [(300.0, np.inf), (-np.inf, 280.0), (285.0, 305.0), (-np.inf, np.inf)]:
        met = money_under(passes(low, high), law).at(y)
        np.testing.assert_array_equal(met, (law.at(y) >= low) & (law.at(y) <= high))


@pytest.mark.parametrize(("rule", "earlier"), CASES)
def test_settlement_against_simulation(rule, earlier):
    y = np.random.default_rng(3).normal(298.0, 10.0, 200_000)
    counts = combined_by(rule, earlier, sd_s=4.3).at(y)
    got = settle(
        rule, earlier, 298.0, 10.0, Limits(300.0, counts_from_s=299.5), money=MONEY, fee=12.0, appeal_sd_s=4.3
    )
    met = counts >= 299.5
    assert got.p_after == pytest.approx(met.mean(), abs=4 * max(met.std(), 1e-3) / np.sqrt(y.size))
    assert got.expected_s == pytest.approx(
        counts.mean(), abs=4 * max(counts.std(), 1e-6) / np.sqrt(y.size) + 1e-6
    )
    paid = MONEY.at(counts) - float(MONEY.at(np.mean(earlier)))
    assert got.seller is not None
    assert got.buyer is not None
    assert got.seller + 12.0 == pytest.approx(
        paid.mean(), abs=4 * max(paid.std(), 1e-6) / np.sqrt(y.size) + 1e-6
    )
    assert got.seller + got.buyer == pytest.approx(-12.0)  # a transfer, and the fee


def test_what_is_needed():
    got = settle(CombineRule.ALL_COUNT, [294.0], 294.0, 9.0, Limits(300.0))
    assert got.needed_s == pytest.approx(306.0)
    assert not got.passes_now
    stands = settle(CombineRule.ALL_COUNT, [304.0], 304.0, 9.0, Limits(300.0))
    assert (stands.passes_now, stands.needed_s) == (True, None)
    assert stands.p_changes == pytest.approx(1 - stands.p_after)
    never = settle(CombineRule.MEDIAN, [280.0, 290.0], 285.0, 9.0, Limits(300.0))
    assert (never.needed_s, never.p_after) == (None, 0.0)
    buyer_pays = settle(
        CombineRule.ALL_COUNT, [294.0], 294.0, 9.0, Limits(300.0), money=MONEY, fee=5.0, seller_share=0.0
    )
    assert buyer_pays.seller is not None
    assert buyer_pays.buyer == pytest.approx(-buyer_pays.seller - 5.0)
    loser = settle(
        CombineRule.ALL_COUNT, [294.0], 294.0, 9.0, Limits(300.0), money=MONEY, fee=5.0, seller_share=None
    )
    assert loser.seller == pytest.approx(buyer_pays.seller - 5.0 * (1.0 - loser.p_after))


def test_appeals_of_the_rule():
    # 7 CFR 800.139(b): averaged unless they differ by more than two standard deviations.
    law = combined_by(CombineRule.OFFICIAL_APPEAL, [290.0], sd_s=5.0)
    assert law.at([279.9, 280.0, 290.0, 300.0, 300.1]).tolist() == [279.9, 285.0, 290.0, 295.0, 300.1]


@pytest.mark.parametrize(
    ("rule", "earlier", "code"),
    [
        (CombineRule.TWO_NEAREST, [290.0], "retest-rule-needs-two"),
        (CombineRule.THIRD_FINAL, [290.0], "retest-rule-needs-two"),
        (CombineRule.OFFICIAL_APPEAL, [290.0], "appeal-sd-missing"),
        (CombineRule.OFFICIAL_APPEAL, [290.0, 291.0], "appeal-needs-one"),
        (CombineRule.ALL_COUNT, [], "retest-results-none"),
    ],
)
def test_rules_that_cannot_be_applied(rule, earlier, code):
    with pytest.raises(NoAnswer) as cause:
        combined_by(rule, earlier)
    assert cause.value.code == code


def test_results_that_are_no_numbers():
    with pytest.raises(OutOfRange):
        combined_by(CombineRule.ALL_COUNT, [float("nan")])


def test_until_it_passes_table():
    for d, one, two in [(0, 0.5, 0.75), (0.5, 0.3085, 0.5219), (1, 0.1587, 0.2921), (2, 0.0228, 0.0450)]:
        got = until_it_passes(300.0 - 9.0 * d, 9.0, 300.0, 2)
        assert got.p_one == pytest.approx(one, abs=5.1e-5)
        assert got.p_pass == pytest.approx(two, abs=5.1e-5)
        assert got.best_bias_s == pytest.approx(9.0 / np.sqrt(np.pi), abs=1e-6)
    assert best_of_bias(2) == pytest.approx(1 / np.sqrt(np.pi), abs=1e-9)


def test_until_it_passes_against_simulation():
    rng = np.random.default_rng(4)
    x = 294.0 + 9.0 * rng.standard_normal((400_000, 4))
    ok = x >= 299.5
    first = ok.argmax(axis=1)
    kept = np.where(ok.any(axis=1), x[np.arange(len(x)), first], x.max(axis=1))
    made = np.where(ok.any(axis=1), first + 1, 4)
    got = until_it_passes(294.0, 9.0, 299.5, 4)
    assert got.p_pass == pytest.approx(ok.any(axis=1).mean(), abs=4 * 0.5 / 632)
    assert got.kept_bias_s == pytest.approx(kept.mean() - 294.0, abs=4 * kept.std() / 632)
    assert got.tests == pytest.approx(made.mean(), abs=4 * made.std() / 632)


@pytest.mark.parametrize(
    ("true", "rows"),
    [
        (280, [(0, 0.0131), (0.30, 0.0261), (5.08, 0.0261), (0.15, 0.0135), (0, 0.0008)]),
        (290, [(0, 0.1333), (1.94, 0.2488), (5.04, 0.2488), (0.97, 0.1534), (0, 0.0581)]),
        (295, [(0, 0.2893), (3.08, 0.4948), (4.87, 0.4948), (1.54, 0.3554), (0, 0.2160)]),
        (300, [(0, 0.5), (3.59, 0.75), (4.33, 0.75), (1.80, 0.625), (0, 0.5)]),
        (305, [(0, 0.7107), (3.08, 0.9163), (3.28, 0.9163), (1.54, 0.8502), (0, 0.7840)]),
    ],
)
def test_selective_retest_table(true, rows):
    # Bias and chance of passing, sd 9 s, limit 300 (derived).
    got = selective_retest(float(true), 9.0, 300.0)
    for name, (bias, p) in zip(
        ("single", "replaces", "best-kept", "averaged", "both-always"), rows, strict=True
    ):
        assert got[name].bias_s == pytest.approx(bias, abs=5.1e-3)
        assert got[name].p_pass == pytest.approx(p, abs=5.1e-5)


@pytest.mark.parametrize(
    "rule", [CombineRule.TWO_NEAREST, CombineRule.MEDIAN, CombineRule.ALL_COUNT, CombineRule.THIRD_FINAL]
)
def test_third_after_a_pair_that_failed_against_simulation(rule):
    rng = np.random.default_rng(6)
    x = 296.0 + 9.0 * rng.standard_normal((300_000, 3))
    pair = x[:, :2].mean(axis=1)
    if rule is CombineRule.TWO_NEAREST:
        s = np.sort(x, axis=1)
        low = s[:, 1] - s[:, 0] < s[:, 2] - s[:, 1]
        three = np.where(low, s[:, :2].mean(axis=1), s[:, 1:].mean(axis=1))
    else:
        three = {"median": np.median(x, axis=1), "all-count": x.mean(axis=1), "third-final": x[:, 2]}[
            rule.value
        ]
    kept = np.where(pair >= 300.0, pair, three)
    got = third_when_failed(rule, 296.0, 9.0, 300.0)
    assert got.bias_s == pytest.approx(kept.mean() - 296.0, abs=4 * kept.std() / 547 + 2e-3)
    assert got.p_pass == pytest.approx((kept >= 300.0).mean(), abs=4 * 0.5 / 547 + 1e-3)


def test_two_nearest_moves_the_number_more_than_all_count():
    nearest = third_when_failed(CombineRule.TWO_NEAREST, 296.0, 9.0, 300.0)
    everything = third_when_failed(CombineRule.ALL_COUNT, 296.0, 9.0, 300.0)
    assert nearest.bias_s > everything.bias_s > 0.0


def test_the_published_294_and_its_derivation():
    # Delwiche and Vinyard 2017, abstract: 294 s. The derivation is ours; taken otherwise it gives 291 s.
    as_true, as_uncertain = reading_294(), reading_294(first_is_true=False)
    assert round(as_true.level_s) == 294
    assert as_true.level_s == pytest.approx(293.78, abs=5e-3)
    assert as_true.composite_sd_s == pytest.approx(3.78, abs=5e-3)
    assert as_uncertain.level_s == pytest.approx(291.2, abs=5e-2)
    assert as_uncertain.difference_sd_s == pytest.approx(5.35, abs=5e-3)
    again = norm.sf((300.0 - as_true.level_s) / as_true.difference_sd_s)
    assert again == pytest.approx(0.05)
    with pytest.raises(OutOfRange):
        reading_294(probes=0)


def test_how_often_a_rise_happens():
    rise, p = rise_needed(278.0, 299.5, 8.5)
    assert rise == 21.5
    assert p == pytest.approx(norm.sf(21.5 / 8.5))
    with pytest.raises(NoAnswer):
        rise_needed(278.0, 300.0, 0.0)


@pytest.mark.parametrize(
    "make",
    [
        lambda: best_of_bias(0),
        lambda: until_it_passes(300.0, 9.0, 300.0, 0),
        lambda: until_it_passes(300.0, 0.0, 300.0, 1),
    ],
)
def test_no_tests_no_answer(make):
    with pytest.raises(OutOfRange):
        make()
