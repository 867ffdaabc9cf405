"""Back-tests and ensembles in parts: the same answer wherever the parts are done."""

from __future__ import annotations

from typing import Any

from lodestarch.season.bootstrap import CHUNK, chunk_seeds, shares_of_chunk, variances_of
from lodestarch.season.effects import Effects
from lodestarch.season.priors import PriorRecord, blocks_of, gathered, score_block
from lodestarch.season.table import SeasonTable
from lodestarch.tube.ensemble import seconds
from lodestarch.tube.inputs import TubeArrays
from lodestarch.tube.parameters import ParameterSet
from lodestarch.work.spread.places import Place

__all__ = ["back_test", "share_ensemble", "tube_ensemble"]


def back_test(table: SeasonTable, place: Place, *, blocks: int = 8) -> PriorRecord:
    """``season.priors.judge_priors`` with each block predicted wherever there is room."""
    ordered, parts = blocks_of(table, blocks)
    return gathered(place.each(score_block, (ordered,), parts), table.source)


def share_ensemble(fitted: Effects, place: Place, *, chunks: int, seed: int) -> list[Any]:
    """Shares of variance of seasons drawn from a fit: an array a chunk, a row a draw."""
    seeds = chunk_seeds(seed, chunks)
    shared = (fitted.table, variances_of(fitted))
    return place.each(shares_of_chunk, shared, [(s, CHUNK) for s in seeds])


def tube_ensemble(batches: list[TubeArrays], params: ParameterSet, place: Place) -> list[Any]:
    """Seconds of many tubes: an array a batch."""
    return place.each(_seconds_of, (params,), [(b,) for b in batches])


def _seconds_of(params: ParameterSet, batch: TubeArrays) -> Any:
    return seconds(batch, params)
