"""``retest``: whether another test pays, under which rule, for whom."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from lodestarch.cli import decide_options as options
from lodestarch.cli.decide_options import amount, bytes_of
from lodestarch.cli.options import AsJson
from lodestarch.cli.output import emit_json, say, table
from lodestarch.decide.truck_294 import LIMIT_S, PROBE_VAR_S2, PROBES, PUBLISHED_S, WANTED, reading_294
from lodestarch.words.catalogues import term, terms
from lodestarch.words.decide import how_often, pct, signed_money
from lodestarch.words.limits import NamedLimit, limit_words
from lodestarch.words.numbers import figure, number
from lodestarch.work.pocket.retest import RULES, SOURCES, RetestAnswer, RetestAsked, retest_for, retest_json

__all__ = ["retest"]


def retest(
    results: Annotated[
        list[str] | None, typer.Argument(help="Results that are there: 294, or 294 298.")
    ] = None,
    limit: options.Limit = None,
    at_most: options.AtMost = None,
    counts_from: options.CountsFrom = None,
    counts_to: options.CountsTo = None,
    tube_u: Annotated[
        float | None,
        typer.Option(parser=amount, help="Scatter of one tube. [s] [default: 2 % of the level]"),
    ] = None,
    grind_u: Annotated[float, typer.Option(parser=amount, help="Scatter between grindings. [s]")] = 0.0,
    probe_u: Annotated[float, typer.Option(parser=amount, help="Scatter between probe samples. [s]")] = 0.0,
    lab_u: Annotated[float, typer.Option(parser=amount, help="How sure this lab's own level is. [s]")] = 0.0,
    tubes: Annotated[int, typer.Option(help="Tubes of one result.")] = 2,
    source: Annotated[
        str, typer.Option(help=f"What the retest is made from: {', '.join(SOURCES)}.")
    ] = "regrind",
    rule: Annotated[
        str | None, typer.Option(help=f"How results combine: {', '.join(RULES)}. [default: all-count]")
    ] = None,
    appeal_sd: Annotated[
        float,
        typer.Option(parser=amount, help="Standard deviation that an appeal is held against. [s]"),
    ] = 0.0,
    prior_mean: Annotated[float | None, typer.Option(parser=amount, help="Such loads: mean. [s]")] = None,
    prior_sd: Annotated[float | None, typer.Option(parser=amount, help="Such loads: spread. [s]")] = None,
    other_u: options.OtherU = None,
    other_bias: options.OtherBias = 0.0,
    other_bias_u: options.OtherBiasU = 0.0,
    pays: Annotated[
        list[str] | None,
        typer.Option(help="Paid for a tonne from a number of seconds up: 300:230; rising: 275:205..230."),
    ] = None,
    unit: Annotated[str, typer.Option(help="What amounts are in.")] = "USD/t",
    elsewhere: Annotated[
        float | None,
        typer.Option(parser=amount, help="Sure price for a tonne elsewhere, whatever the seconds."),
    ] = None,
    tonnes: Annotated[float, typer.Option(parser=amount, help="Tonnes of the load.")] = 1.0,
    fee: Annotated[float | None, typer.Option(parser=amount, help="Fee of one test.")] = None,
    hours: Annotated[float, typer.Option(parser=amount, help="Hours until its result is there.")] = 0.0,
    per_hour: Annotated[float, typer.Option(parser=amount, help="What an hour of waiting costs.")] = 0.0,
    terms_file: Annotated[
        Path | None,
        typer.Option(
            "--terms", help="Terms, TOML or a sheet. [default with --offer: the demonstration's, invented]"
        ),
    ] = None,
    offer: Annotated[str | None, typer.Option(help="Contract or bid of the terms, by id.")] = None,
    turned_away: Annotated[
        float | None, typer.Option(parser=amount, help="What a tonne is worth that is turned away.")
    ] = None,
    until_passes: Annotated[int, typer.Option(help="Tests in the warning on testing until it passes.")] = 3,
    published_294: Annotated[
        bool, typer.Option("--published-294", help="The published reading of 294 s, with its conditions.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Whether another test pays: the verdict after it, the money of both sides, the worth of knowing more."""
    if published_294:
        _say_294(as_json=as_json)
        return
    if rule is not None and rule not in RULES:
        raise typer.BadParameter(f"one of {', '.join(RULES)}", param_hint="--rule")
    if source not in SOURCES:
        raise typer.BadParameter(f"one of {', '.join(SOURCES)}", param_hint="--source")
    if not results:
        raise typer.BadParameter("give the results that are there", param_hint="RESULTS")
    if not tonnes > 0.0:
        raise typer.BadParameter("above zero", param_hint="--tonnes")
    asked = RetestAsked(
        results=tuple(results), tube_u_s=tube_u, grind_u_s=grind_u, probe_u_s=probe_u, lab_u_s=lab_u,
        tubes=tubes, source=source, rule=rule, appeal_sd_s=appeal_sd, limit_s=limit, at_most_s=at_most,
        counts_from_s=counts_from, counts_to_s=counts_to, prior_mean_s=prior_mean, prior_sd_s=prior_sd,
        other_u_s=other_u, other_bias_s=other_bias, other_bias_u_s=other_bias_u, pays=tuple(pays or ()),
        unit=unit, elsewhere=elsewhere, tonnes=tonnes, fee=fee, hours=hours, per_hour=per_hour,
        terms=_terms(terms_file, offer), offer=offer, turned_away=turned_away,
        until_passes=until_passes,
    )  # fmt: skip
    answer = retest_for(asked)
    options.answer_out(
        lambda: retest_json(asked, answer),
        lambda: _say(asked, answer),
        answer.findings,
        answered=answer.outcome is not None,
        as_json=as_json,
    )


def _terms(path: Path | None, offer: str | None) -> tuple[str, bytes] | None:
    if path is None and offer is not None:
        from lodestarch import demo

        return demo.TERMS_NAME, demo.terms()
    return bytes_of(path, "--terms")


def _say(asked: RetestAsked, answer: RetestAnswer) -> None:
    got, limits = answer.outcome, answer.limits
    if got is None or limits is None:
        return
    verdict = term("retest.passes" if got.passes_now else "retest.misses")
    limit = limit_words(NamedLimit("", limits.at_least_s, limits.at_most_s))
    say(term("retest.now", now=figure(got.now_s, 1), verdict=verdict, limit=limit))
    source, rule = term(f"retest-source.{asked.source}"), term(f"retest-rule.{got.rule.value}")
    after = term("retest.after", source=source, rule=rule)
    say(f"{after}: {term('retest.crosses', often=how_often(got.p_changes))}")
    if not got.passes_now:
        needed = (
            term("retest.never")
            if got.needed_s is None
            else term("retest.needed", needed=number(got.needed_s, 1))
        )
        say(needed[:1].upper() + needed[1:])
    if answer.expected_rise_s is not None and asked.prior_mean_s is not None:
        rise = answer.expected_rise_s
        signed = f"{'+' if rise > 0 else ''}{number(rise, 1)}"
        prediction = number(got.now_s + rise, 1)
        say(term("odds.regression", mean=figure(asked.prior_mean_s, 1), prediction=prediction, rise=signed))
    if got.seller is not None and got.buyer is not None:
        both = {
            "seller": signed_money(got.seller, answer.currency),
            "buyer": signed_money(got.buyer, answer.currency),
        }
        say(term("retest.money", **both))
    _say_advice(answer)
    _say_tests(answer)
    say()
    say(term("retest.opinion"))
    say(term("retest.linked", source=source))


def _say_advice(answer: RetestAnswer) -> None:
    got = answer.outcome
    if got is None or got.passes_now or got.needed_s is None or got.p_changes > 0.05:
        return
    rise = number(got.needed_s - got.now_s)
    if got.p_changes < 1e-4:
        reason = term("retest.reason-never", rise=rise)
    else:
        reason = term("retest.reason-rise", rise=rise, often=how_often(got.p_changes))
    say(term("retest.dont", reason=reason))


def _name(test: str) -> str:
    if test.startswith("lab:"):
        return term("retest.at-lab", outlet=_outlet(test.removeprefix("lab:")))
    return term(f"retest-source.{test}")


def _outlet(name: str) -> str:
    return terms().get(f"retest-outlet.{name}", name)


def _say_tests(answer: RetestAnswer) -> None:
    if not answer.tests:
        return
    say()
    say(term("retest.worth-head"))
    best, unit = answer.tests[0], answer.currency
    say(term("retest.best-now", outlet=_outlet(best.outlet), now=signed_money(best.now, unit).lstrip("+")))
    table(
        [(term("retest.column-test"), "left"), (term("retest.column-worth"), "right"),
         (term("retest.column-net"), "right"), (term("retest.column-changes"), "right"),
         (term("retest.column-gain"), "right")],
        [
            (_name(w.test.name), signed_money(w.worth, unit), signed_money(w.net, unit), pct(w.changes),
             f"{number(w.gain.gain_true_s, 1)} s")
            for w in answer.tests
        ],
    )  # fmt: skip
    if best.net > 0.0:
        reason = term("retest.reason-net", test=_name(best.test.name), net=signed_money(best.net, unit))
        say(term("retest.do", reason=reason))
    else:
        say(term("retest.dont", reason=term("retest.reason-none")))


def _say_294(*, as_json: bool) -> None:
    true, uncertain = reading_294(), reading_294(first_is_true=False)
    if as_json:
        body = {
            "published_s": PUBLISHED_S, "limit_s": LIMIT_S, "probe_var_s2": PROBE_VAR_S2, "probes": PROBES,
            "wanted": WANTED, "first_taken_as_true_s": round(true.level_s, 3),
            "first_as_uncertain_s": round(uncertain.level_s, 3),
        }  # fmt: skip
        emit_json(body)
        return
    often = term("aim.often", n=figure(100.0 * WANTED, 0), of=100)
    say(term("published-294.statement", level=figure(PUBLISHED_S), limit=figure(LIMIT_S), often=often))
    say(term("published-294.source"))
    say()
    said = {"level": number(true.level_s, 1), "probes": PROBES, "variance": figure(PROBE_VAR_S2)}
    say(term("published-294.derived", **said))
    say(term("published-294.otherwise", level=number(uncertain.level_s, 1)))
    say(term("published-294.conditions", probes=PROBES))
