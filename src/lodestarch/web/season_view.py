"""What the page Season shows, as values: parts, each with its sentence, its picture and its table."""

from __future__ import annotations

from dataclasses import dataclass

from lodestarch.common.findings import Severity
from lodestarch.season.priors import Offer
from lodestarch.web.season_parts import Chart, Part, table_of
from lodestarch.words.catalogues import term
from lodestarch.words.findings import FindingText, sentence
from lodestarch.words.numbers import number, tidy
from lodestarch.words.season import (
    MOST_ROWS,
    chance_text,
    effect_rows,
    harvest_rows,
    rating_rows,
    ratings_picture,
    share_text,
    shares_picture,
    weather_rows,
)
from lodestarch.words.season_board import board_picture, board_rows, board_said, week_word, week_words
from lodestarch.words.season_calibration import (
    blend_picture,
    blend_rows,
    odds_picture,
    odds_rows,
    order_rows,
    outcome_rows,
    prior_picture,
    prior_rows,
    score_row,
)
from lodestarch.work.season.as_json import iso_day
from lodestarch.work.season.overview import SeasonOverview

__all__ = ["SeasonView", "season_view"]

_WIDE = 12
"""Weeks from which the board scrolls by itself on a narrow screen (a choice of ours)."""


@dataclass(frozen=True, slots=True)
class SeasonView:
    """The whole page."""

    title: str
    source: str
    parts: tuple[Part, ...]
    seasons: tuple[tuple[str, bool], ...]
    stops: tuple[FindingText, ...]
    notes: tuple[FindingText, ...]
    results: int
    demonstration: bool
    from_records: bool


def season_view(view: SeasonOverview) -> SeasonView:
    """Put an answer into words."""
    texts = [sentence(f) for f in view.findings]
    board = view.board
    if not view.source and not view.beside:
        title = term("season-page.none")
    elif board is not None and board.weeks:
        title = board_said(board)
    else:
        title = term("season-page.cannot" if view.results == 0 else "season-page.board-none")
    makers = (_board, _ratings, _spread, _told, _prior, _blends, _order, _lab, _faults, _weather)
    something = bool(view.source or view.beside)
    made = [part for maker in makers if something and (part := maker(view)) is not None]
    records = view.source == "records"
    source = term("season-page.source-records") if records else ""
    if view.source and not records:
        source = term("season-page.source-file", name=view.source)
    if view.beside:
        source = f"{source}. {term('season-page.beside-file', names=', '.join(view.beside))}".lstrip(". ")
    seasons = board.seasons if board is not None and records and len(board.seasons) > 1 else ()
    shown = board.season if board is not None else None
    return SeasonView(
        tidy(title), f"{source}." if source else "", tuple(made),
        tuple((str(s), s == shown) for s in seasons),
        tuple(t for t in texts if t.severity is not Severity.NOTE),
        tuple(t for t in texts if t.severity is Severity.NOTE), view.results, view.demonstration, records,
    )  # fmt: skip


def _board(view: SeasonOverview) -> Part | None:
    board = view.board
    title = term("season-page.board")
    made = None if board is None else board_picture(board)
    if board is None or made is None:
        return Part("board", title, (term("season-page.board-none"),))
    factor = board.factor or term("season-page.district")
    caption = term("season-page.board-caption", limit=number(board.limit_s), factor=factor)
    table = table_of(caption, [factor, "season-page.all", *week_words(board)], board_rows(board))
    wide = len(board.weeks) > _WIDE
    return Part("board", title, (), (Chart(made[0], term("season-page.board-key"), table, wide),))


def _ratings(view: SeasonOverview) -> Part | None:
    charts = []
    for r in view.ratings:
        made = ratings_picture(r)
        if made is None:
            continue
        heads = [r.factor, *(f"season.{k}-column" for k in ("results", "trials", "seasons", "estimate",
                 "interval", "plain", "reliability", "below"))]  # fmt: skip
        rated = sum(x.rated for x in r.lines)
        cut = term("season-page.ratings-cut", count=rated - MOST_ROWS) if rated > MOST_ROWS else ""
        table = table_of(made[0].title, heads, rating_rows(r.lines))
        charts.append(Chart(made[0], term("season-page.ratings-key"), table, after=cut))
    if charts:
        return Part(
            "ratings", term("season-page.ratings"), (), tuple(charts), (term("season-page.ratings-note"),)
        )
    codes = {f.code for f in view.findings}
    why = term(f"season-page.ratings-why-{'one' if 'season-one-level' in codes else 'few'}")
    return Part("ratings", term("season-page.ratings"), (term("season-page.ratings-none", why=why),))


def _spread(view: SeasonOverview) -> Part | None:
    e = view.effects
    title = term("season-page.spread")
    if e is None or not e.effects:
        return Part("spread", title, (term("season-page.spread-none"),))
    picture, _ = shares_picture(e)
    heads = [f"season.{k}-column" for k in ("factor", "levels", "sd", "interval", "share", "interval")]
    return Part("spread", title, (), (Chart(picture, "", table_of(picture.title, heads, effect_rows(e))),))


def _told(view: SeasonOverview) -> Part | None:
    title = term("season-page.odds")
    if view.told is None or not view.told.record.lines:
        return Part("odds", title, (term("season-page.odds-none"),))
    record, said, charts = view.told.record, [], []
    for one, where in ((record.here, "season-page.odds-here"), (record.elsewhere, "season-page.odds-away")):
        picture = odds_picture(one)
        if one.said is None or one.came is None or picture is None:
            if one.count:
                few = term("season-page.odds-few", count=one.count, enough=20)
                said.append(f"{term(where).capitalize()}: {few}")
            continue
        came = {"said": share_text(one.said), "came": number(round(one.came * one.count)), "count": one.count}
        said.append(f"{term(where).capitalize()}: {term('season-page.odds-said', **came)}")
        heads = ["season-page.told", "season-page.came", "season-page.from-to", "season-page.of-lots"]
        charts.append(Chart(picture, "", table_of(picture.title, heads, odds_rows(one), words=0)))
    if not all(x.noted for x in record.lines):
        said.append(term("season-page.odds-how"))
    heads = [f"season-page.{k}" for k in ("lot", "where", "limit-column", "told", "found", "met")]
    lots = Chart(None, "", table_of(title, heads, outcome_rows(record.lines), words=2))
    return Part("odds", title, tuple(said), (*charts, lots))


def _prior(view: SeasonOverview) -> Part | None:
    title = term("season-page.prior")
    record = view.priors.record if view.priors else None
    if record is None:
        return None
    picture = prior_picture(record)
    if picture is None or record.offer is None:
        said = term("season-page.prior-few", count=record.scored, enough=30)
        return Part("priors", title, (said,))
    offers = {Offer.NEAR: "near", Offer.POOLED: "pooled", Offer.SILENT: "silent"}
    heads = ["season-page.tenth", "season-page.foretold", "season-page.expected"]
    key = term("season-calibration.alike")
    tenths = Chart(picture, key, table_of(picture.title, heads, prior_rows(record)))
    names = [f"season-page.{k}" for k in ("near", "pooled", "flat")]
    scores = [(term(name), value) for name, value in zip(names, score_row(record), strict=True)]
    caption = term("season-page.score")
    table = table_of(caption, ["season-page.prior-kind", "season-page.score"], scores)
    said = term(f"season-page.prior-{offers[record.offer]}")
    return Part("priors", title, (said,), (tenths, Chart(None, "", table)))


def _blends(view: SeasonOverview) -> Part | None:
    title = term("season-page.blends")
    if view.blends is None or not view.blends.record.lines:
        return Part("blends", title, (term("season-page.blends-none"),))
    r = view.blends.record
    if r.bias_s is None:
        said = term("season-page.blends-few", count=r.compared, enough=5)
    else:
        values = {"bias": number(r.bias_s, 1), "u": number(r.u_bias_s, 1), "sd": number(r.sd_s, 1)}
        said = term("season-page.blends-said", **values, margin=number(r.margin_s))
    picture = blend_picture(r)
    heads = [f"season.{k}-column" for k in ("blend", "lots", "computed", "measured", "error")]
    return Part("blends", title, (said,), (Chart(picture, "", table_of(title, heads, blend_rows(r))),))


def _order(view: SeasonOverview) -> Part | None:
    if view.order is None:
        return None
    title, heads = term("season-page.fields"), [f"season-page.{k}" for k in
             ("field", "meets", "falls", "stake", "per-hour")]  # fmt: skip
    table = table_of(title, heads, order_rows(view.order.order))
    return Part("fields", title, (term("season-page.fields-note"),), (Chart(None, "", table),))


def _lab(view: SeasonOverview) -> Part | None:
    title = term("season-page.lab")
    lab = view.lab
    if lab is None or lab.whole is None:
        return Part("lab", title, (term("season-page.lab-none"),))
    whole = lab.whole
    counts = {"disagreed": whole.disagreed, "pairs": whole.pairs, "off": whole.checks_off}
    said = [term("season-page.lab-said", **counts, checks=whole.checks)]
    if view.bench_share is not None:
        said.append(term("season-page.lab-benches", shares=share_text(view.bench_share)))
    keys = ("samples", "pairs", "disagreed", "again", "set-aside", "one-tube", "held", "checks", "checks-off")
    rows = [
        (
            week_word(w.monday, year=True) if w.monday is not None else term("season-page.undated"),
            *(
                number(v)
                for v in (w.samples, w.pairs, w.disagreed, w.again, w.set_aside, w.one_tube, w.held, w.checks,
                          w.checks_off)
            ),
        )
        for w in lab.weeks
    ]  # fmt: skip
    table = table_of(title, ["season-page.week", *(f"season-page.{k}" for k in keys)], rows)
    return Part("lab", title, tuple(said), (Chart(None, "", table),))


def _faults(view: SeasonOverview) -> Part | None:
    title, f = term("season-page.faults"), view.faults
    if not f.looked:
        return Part("faults", title, (term("season-page.faults-few"),))
    if not f.faults:
        return Part("faults", title, (term("season-page.faults-none", results=number(f.results)),))
    evidence = []
    for one in f.faults:
        said = sentence(one.finding)
        what = (
            f"{term(f'season-fault.{one.kind}')} · {term('season.chance-column')} {chance_text(one.chance)}"
        )
        named = list(dict.fromkeys(view.row_names[r] for r in one.rows if r in view.row_names))
        samples = term("season-page.fault-samples", samples=" … ".join(named)) if named else ""
        evidence.append((what, f"{said.wrong} {samples}".rstrip(), said.do))
    count = term("season.faults-said", results=number(f.results), count=len(f.faults))
    return Part("faults", title, (count,), evidence=tuple(evidence))


def _weather(view: SeasonOverview) -> Part | None:
    title = term("season-page.weather")
    record = view.weather.record if view.weather else None
    if record is None or not record.harvests:
        return Part("weather", title, (term("season-page.weather-none"),))
    days = [iso_day(h.day) for h in record.harvests]
    keys = ("harvest", "results", "bounds", "mean", "range", "cause")
    heads = [f"season.{k}-column" for k in keys]
    results = table_of(title, heads, harvest_rows(record.harvests, days))
    names = ["season.harvest-column", *(f"season-indicator.{n}" for n in record.names)]
    units = term("season.indicators-units")
    weather = table_of(units, names, weather_rows(record.harvests, days))
    said = (term("season-page.weather-note"),)
    return Part("weather", title, said, (Chart(None, "", results), Chart(None, units, weather)))
