"""The board of districts by week in words: its picture, its table, and the sentence on top of the page."""

from __future__ import annotations

from datetime import date, timedelta

from lodestarch.season.board import Board, BoardCell
from lodestarch.words.catalogues import DEFAULT_LOCALE, term
from lodestarch.words.drawing.board import KernelCell, KernelRow, board_height, kernel_board
from lodestarch.words.drawing.svg import Drawing
from lodestarch.words.numbers import number

__all__ = ["board_picture", "board_rows", "board_said", "place_word", "week_word", "week_words"]

_LEAST = 5
"""Results from which a district is named as the one that is most often under the limit (a choice of ours)."""


def _day(days: int) -> date:
    return date(1970, 1, 1) + timedelta(days=days)


def week_word(monday: int, *, year: bool) -> str:
    """A week: its number, with the year in front where there are several.

    Examples
    --------
    >>> week_word(10805, year=True), week_word(10805, year=False)
    ('1999 w31', 'w31')
    """
    calendar = _day(monday).isocalendar()
    return f"{calendar.year} w{calendar.week}" if year else f"w{calendar.week}"


def week_words(board: Board) -> list[str]:
    """Names of the columns of a board."""
    years = {_day(w).isocalendar().year for w in board.weeks}
    return [week_word(w, year=len(years) > 1) for w in board.weeks]


def place_word(place: str, locale: str = DEFAULT_LOCALE) -> str:
    """Name of a row; results without a district stand under one name."""
    return place or term("season-board.every", locale)


def _share(c: BoardCell) -> str:
    return f"{number(c.under)} / {number(c.results)}"


def board_rows(board: Board, locale: str = DEFAULT_LOCALE) -> list[tuple[str, ...]]:
    """A row a district: results under the limit of all, over all weeks and for each."""
    return [
        (place_word(place, locale), _share(total), *(_share(c) if c else "" for c in cells))
        for place, total, cells in zip(board.places, board.totals, board.cells, strict=True)
    ]


def board_picture(board: Board, locale: str = DEFAULT_LOCALE) -> tuple[Drawing, float] | None:
    """The board as kernels; ``None`` where there is nothing to lay out."""
    if not board.weeks:
        return None
    weeks = week_words(board)

    def kernel(c: BoardCell | None, place: str, week: str) -> KernelCell | None:
        if c is None:
            return None
        said = f"{place}, {week}: {_share(c)} < {number(board.limit_s)} s; {number(c.mean_s)} s"
        return KernelCell(c.results, 1.0 - (c.under + c.unknown) / c.results, said)

    rows = []
    for place, cells in zip(board.places, board.cells, strict=True):
        name = place_word(place, locale)
        rows.append(KernelRow(name, [kernel(c, name, w) for c, w in zip(cells, weeks, strict=True)]))
    said = {"factor": board.factor or term("season-board.every", locale), "limit": number(board.limit_s)}
    one = len(weeks) == 1
    title = term("season-board.title-one" if one else "season-board.title", locale, **said,
                 first=weeks[0], **({} if one else {"last": weeks[-1]}))  # fmt: skip
    return kernel_board(rows, weeks, title), board_height(len(rows))


def board_said(board: Board, locale: str = DEFAULT_LOCALE) -> str:
    """How many lie under the limit, and where most often, with the counts."""
    results = sum(t.results for t in board.totals)
    under = sum(t.under for t in board.totals)
    key = "season-page.said-one" if results == 1 else "season-page.said"
    said = term(key, locale, under=number(under), results=number(results), limit=number(board.limit_s))
    worst = [
        (t.under / t.results, t.results, p)
        for p, t in zip(board.places, board.totals, strict=True)
        if p and t.results >= _LEAST and t.under
    ]
    if worst and len(board.places) > 1:
        share, of, place = max(worst)
        part = number(round(share * of))
        named = f"{board.factor} {place}" if place[:1].isdigit() else place
        said += term("season-page.said-worst", locale, place=named, part=part, of=number(of))
    return f"{said}."
