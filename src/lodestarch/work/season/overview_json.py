"""The page of the season, and answers of its later commands, as plain values; keys as in ``docs/json.md``."""

from __future__ import annotations

from typing import Any

from lodestarch.season.board import Board, BoardCell
from lodestarch.season.odds_record import OddsRecord
from lodestarch.season.performance import LabWeek, Performance
from lodestarch.work.season.answers import EffectsAnswer, RatingAnswer
from lodestarch.work.season.as_json import (
    blends_as_dict,
    effects_as_dict,
    faults_as_dict,
    indicators_as_dict,
    iso_day,
    ratings_as_dict,
)
from lodestarch.work.season.open_data import OpenData, OpenTerms
from lodestarch.work.season.outcomes import OrderAnswer, PriorAnswer, ToldAnswer
from lodestarch.work.season.overview import SeasonOverview

__all__ = [
    "open_as_dict", "order_as_dict", "overview_as_dict", "priors_as_dict", "told_as_dict",
]  # fmt: skip


def _cell(c: BoardCell) -> dict[str, Any]:
    return {
        "results": c.results, "under_limit": c.under, "not_known": c.unknown, "mean_s": c.mean_s,
        "low_s": c.low_s, "high_s": c.high_s,
    }  # fmt: skip


def _board(board: Board | None) -> dict[str, Any] | None:
    if board is None or not board.weeks:
        return None
    return {
        "factor": board.factor or None, "season": board.season, "seasons": list(board.seasons),
        "weeks": [iso_day(w) for w in board.weeks],
        "places": [
            {
                "place": place or None, "all": _cell(total),
                "weeks": [
                    {"monday": iso_day(w), **_cell(c)} for w, c in zip(board.weeks, cells, strict=True) if c
                ],
            }
            for place, total, cells in zip(board.places, board.totals, board.cells, strict=True)
        ],
    }  # fmt: skip


def _odds(record: OddsRecord) -> dict[str, Any]:
    return {
        "lots": record.count, "said": record.said, "came": record.came, "brier": record.brier,
        "brier_flat": record.brier_flat, "log_score": record.log_score, "chance": record.chance,
        "bins": [
            {"said": b.said, "came": b.came, "low": b.low, "high": b.high, "lots": b.count}
            for b in record.bins
        ],
    }  # fmt: skip


def told_as_dict(answer: ToldAnswer) -> dict[str, Any]:
    """Odds told and what happened, here and at other labs apart."""
    return {
        "here": _odds(answer.record.here),
        "other_labs": _odds(answer.record.elsewhere),
        "outcomes": [
            {
                "sample": x.sample, "lab": x.lab, "limit_s": x.limit_s, "odds": x.odds, "noted": x.noted,
                "found_s": x.found_s, "met": x.met,
            }
            for x in answer.record.lines
        ],
    }  # fmt: skip


def priors_as_dict(answer: PriorAnswer) -> dict[str, Any]:
    """How priors have done, and the one of a lot."""
    r, p = answer.record, answer.prior
    return {
        "foretold": r.scored if r else 0,
        "offer": r.offer.value if r else None,
        "log_score_near": r.near if r else None,
        "log_score_pooled": r.pooled if r else None,
        "log_score_flat": r.flat if r else None,
        "gain_over_flat": r.over_flat if r else None,
        "u_gain_over_flat": r.u_over_flat if r else None,
        "gain_over_pooled": r.over_pooled if r else None,
        "u_gain_over_pooled": r.u_over_pooled if r else None,
        "tenths": list(r.places) if r else [],
        "prior_mean_s": p.mean_s if p else None,
        "prior_sd_s": p.sd_s if p else None,
    }


def order_as_dict(answer: OrderAnswer) -> dict[str, Any]:
    """Fields in their order."""
    return {
        "limit_s": answer.limit_s,
        "fields": [
            {
                "field": x.name, "meets_now": x.meets, "falls": x.falls, "at_stake_t": x.at_stake_t,
                "at_stake_t_per_h": x.per_hour_t,
            }
            for x in answer.order.lines
        ],
    }  # fmt: skip


def open_as_dict(data: OpenData, terms: OpenTerms) -> dict[str, Any]:
    """What was given as open data."""
    return {
        "rows_given": data.rows.given, "rows_coarser": data.rows.coarser, "rows_withheld": data.rows.withheld,
        "smallest_cell_results": terms.smallest, "smallest_cell_growers": terms.growers,
        "growers_named": terms.names, "licence": terms.licence.strip() or None,
        "publisher": terms.publisher.strip() or None, "files": sorted(data.files),
    }  # fmt: skip


def _lab_week(w: LabWeek) -> dict[str, Any]:
    return {
        "monday": None if w.monday is None else iso_day(w.monday), "samples": w.samples, "pairs": w.pairs,
        "disagreed": w.disagreed, "tubes_again": w.again, "tubes_set_aside": w.set_aside,
        "one_tube": w.one_tube, "held": w.held, "check_samples": w.checks, "check_samples_off": w.checks_off,
    }  # fmt: skip


def _lab(lab: Performance | None) -> dict[str, Any] | None:
    if lab is None or lab.whole is None:
        return None
    return {"all": _lab_week(lab.whole), "weeks": [_lab_week(w) for w in lab.weeks]}


def overview_as_dict(view: SeasonOverview) -> dict[str, Any]:
    """Every part of the page; null where nothing is known."""
    fitted = EffectsAnswer(view.effects, None, (), ())
    return {
        "source": view.source, "beside": list(view.beside), "results": view.results,
        "limit_s": view.asked.limit_s, "probability": view.asked.probability,
        "demonstration": view.demonstration,
        "board": _board(view.board),
        "ratings": ratings_as_dict(RatingAnswer(view.ratings, ()))["ratings"],
        "effects": effects_as_dict(fitted)["effects"],
        "bench_share": view.bench_share,
        "odds": None if view.told is None else told_as_dict(view.told),
        "priors": None if view.priors is None else priors_as_dict(view.priors),
        "blends": None if view.blends is None else blends_as_dict(view.blends),
        "order": None if view.order is None else order_as_dict(view.order),
        "lab": _lab(view.lab),
        "faults": faults_as_dict(view.faults),
        "weather": None if view.weather is None else indicators_as_dict(view.weather),
    }  # fmt: skip
