"""Faults in data, each with its evidence: what stands there, how often, and how rarely chance does that."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

import numpy as np
from scipy.special import bdtrc, chdtrc, ndtr, pdtrc

from lodestarch.common.arrays import FloatArray
from lodestarch.common.findings import Finding, Severity, Value, Where
from lodestarch.season.effects import Effects, fit_effects
from lodestarch.season.table import SeasonTable

__all__ = ["RARE", "Fault", "copied", "find_faults", "heaped", "hidden_averages", "mixed_up", "shifted"]

RARE: Final = 1e-3
"""Chance below which something is told, after allowing for every place looked at (a choice of ours)."""

_LEAST: Final = 30
"""Results below which nothing is looked for (a choice of ours: below it no test could reach :data:`RARE`)."""

_FRACTIONS: Final = {"thirds": (1.0 / 3.0, 2.0 / 3.0), "halves": (0.5,), "quarters": (0.25, 0.75)}
_MOST_TOLD: Final = 20


@dataclass(frozen=True, slots=True)
class Fault:
    """One suspicion.

    Parameters
    ----------
    kind : str
        ``copied``, ``shift``, ``mixed-up``, ``averaged``, ``heaped``.
    rows : tuple of int
        Rows of the sheet that it is about; the first and last of a stretch.
    chance : float
        Probability that sound data show as much somewhere in the table. [1]
    finding : Finding
        The same with its numbers.
    """

    kind: str
    rows: tuple[int, ...]
    chance: float
    finding: Finding


def find_faults(
    table: SeasonTable, *, fitted: Effects | None = None
) -> tuple[tuple[Fault, ...], tuple[Finding, ...]]:
    """Look for every kind.

    Parameters
    ----------
    table : SeasonTable
        In the order in which results were made or kept; factors help to tell a shift from a wet week.
    fitted : Effects, optional
        An uncensored fit of the same table on the scale of seconds, to save doing it again.

    Returns
    -------
    faults : tuple of Fault
        The rarest first.
    findings : tuple of Finding
        ``season-faults-few`` where there are too few results; notes of what could not be looked for:
        ``season-averages-unseen`` (whole seconds hide averages).
    """
    good = table.at(np.isfinite(table.seconds_s))
    where = Where(source=table.source or None)
    if good.n < _LEAST:
        told: dict[str, Value] = {"count": good.n, "enough": _LEAST}
        return (), (Finding("season-faults-few", where, Severity.CHECK, told),)
    notes = []
    if bool(np.all(good.seconds_s == np.round(good.seconds_s))):
        notes.append(Finding("season-averages-unseen", where, Severity.NOTE, {}))
    resid, rows = _residuals(good, fitted)
    faults = [*copied(good), *heaped(good), *hidden_averages(good)]
    faults += [*shifted(resid, rows, good.source), *mixed_up(resid, rows, good.source)]
    return tuple(sorted(faults, key=lambda f: f.chance)), tuple(notes)


def _residuals(table: SeasonTable, fitted: Effects | None) -> tuple[FloatArray, np.ndarray]:
    """What effects leave over, in units of its SD, in the order of the sheet."""
    e = fitted if fitted is not None else fit_effects(table, intervals=False)
    if e.fit is None or e.mean is None:
        y = table.seconds_s
        return (y - y.mean()) / max(float(y.std(ddof=1)), 1e-12), table.row
    y = e.table.seconds_s - e.mean
    for k, f in enumerate(e.table.factors):
        y = y - e.solution(k)[f.codes]
    # A spread of its own for each level of the value: robust, so that faults do not hide themselves.
    spread = 1.4826 * float(np.median(np.abs(y - np.median(y))))
    return y / max(spread, 1e-12), e.table.row


def copied(table: SeasonTable) -> tuple[Fault, ...]:
    """Stretches of values that stand there twice.

    Notes
    -----
    Two stretches of k rows agree by chance with probability p^k, p being the chance that two results at
    random are equal (sum of squared frequencies); n^2/2 pairs of places are looked at. Bounds do not count as
    values: a run of floors is a wet year.
    """
    y, n = table.seconds_s, table.n
    use = table.exact
    _, code = np.unique(y, return_inverse=True)
    code = np.where(use, code.ravel(), -1)
    share = np.bincount(code[use]) / max(int(use.sum()), 1)
    p = float(share @ share)
    if p <= 0.0 or p >= 0.9:
        return ()
    pairs = 0.5 * n * n
    least = max(3, math.ceil(math.log(RARE / pairs) / math.log(p)))
    if n < 2 * least:
        return ()
    windows = np.lib.stride_tricks.sliding_window_view(code, least)
    whole = np.flatnonzero((windows >= 0).all(axis=1))
    if whole.size == 0:
        return ()
    _, same, count = np.unique(windows[whole], axis=0, return_inverse=True, return_counts=True)
    out: list[Fault] = []
    done = np.zeros(n, dtype=bool)
    order = np.argsort(same.ravel(), kind="stable")
    for group in np.split(whole[order], np.cumsum(count)[:-1]):
        if group.size < 2 or len(out) >= _MOST_TOLD:
            continue
        first, second = int(group[0]), int(group[1])
        if done[second] or second - first < least:
            continue
        length = least
        while (
            second + length < n
            and first + length < second
            and code[first + length] == code[second + length] >= 0
        ):
            length += 1
        done[second : second + length] = True
        chance = min(1.0, pairs * p**length)
        told: dict[str, Value] = {
            "count": length, "first_row": int(table.row[first]), "again_row": int(table.row[second]),
            "chance": chance, "once_in": round(1.0 / max(chance, 1e-12)),
        }  # fmt: skip
        where = Where(source=table.source or None, row=int(table.row[second]))
        finding = Finding("season-copied", where, Severity.CHECK, told)
        out.append(Fault("copied", (int(table.row[first]), int(table.row[second])), chance, finding))
    return tuple(out)


def heaped(table: SeasonTable) -> tuple[Fault, ...]:
    """Values heaped at the least one, and at last digits of whole tens."""
    out = []
    where = Where(source=table.source or None)
    y = np.round(table.seconds_s[np.isfinite(table.seconds_s)])
    n = y.size
    least = float(y.min())
    at = int(np.count_nonzero(y == least))
    near = int(np.count_nonzero((y > least) & (y <= least + 10.0)))
    # As many at the least value as in the ten seconds above it is a floor, not a tail.
    expected = (near + 1.0) / 10.0
    chance = _poisson_tail(at, expected)
    if at >= 5 and chance < RARE:
        told: dict[str, Value] = {
            "count": at, "seconds": least, "above": near, "share_pct": 100.0 * at / n, "chance": chance,
        }  # fmt: skip
        out.append(Fault("heaped", (), chance, Finding("season-heaped-floor", where, Severity.CHECK, told)))
    free = y[(y > least)]
    whole = table.seconds_s[np.isfinite(table.seconds_s)]
    if free.size >= _LEAST and bool(np.any(whole == np.round(whole))):
        digits = np.bincount(free.astype(np.int64) % 10, minlength=10)
        tens = int(digits[0])
        chance = float(bdtrc(tens - 1, free.size, 0.1)) if tens else 1.0
        square = float(((digits - free.size / 10.0) ** 2).sum() / (free.size / 10.0))
        if chance < RARE:
            told = {
                "count": tens, "expected": free.size / 10.0, "share_pct": 100.0 * tens / free.size,
                "chance": chance, "digits_chance": float(chdtrc(9.0, square)),
            }  # fmt: skip
            out.append(
                Fault("heaped", (), chance, Finding("season-heaped-tens", where, Severity.CHECK, told))
            )
    return tuple(out)


def _poisson_tail(count: int, mean: float) -> float:
    """Probability of at least so many."""
    return float(pdtrc(count - 1, mean)) if count > 0 else 1.0


def hidden_averages(table: SeasonTable) -> tuple[Fault, ...]:
    """Fractions of a second that only means of two, three or four whole readings have.

    Only a minority of such values is a fault: where all are means the table says so by itself.
    """
    y = table.seconds_s[table.exact & np.isfinite(table.seconds_s)]
    part = y - np.floor(y)
    whole = (part < 0.005) | (part > 0.995)
    if y.size < _LEAST or bool(whole.all()):
        return ()
    broken = part[~whole]
    out = []
    for name, places in _FRACTIONS.items():
        at = np.zeros(part.size, dtype=bool)
        for place in places:
            # Printed to one, two or three decimals: 0.3, 0.33, 0.333.
            at |= ~whole & np.any(
                [np.abs(part - round(place, d)) < 5e-5 * 10 ** (3 - d) for d in (1, 2, 3)], axis=0
            )
        count = int(at.sum())
        places_wide = 0.2 if name == "thirds" else 0.1 * len(places)
        chance = float(bdtrc(count - 1, broken.size, places_wide)) if count else 1.0
        if count >= 3 and chance < RARE:
            told: dict[str, Value] = {
                "count": count, "of": int(broken.size), "fraction": name, "chance": chance,
                "share_pct": 100.0 * count / y.size,
            }  # fmt: skip
            rows = table.row[table.exact & np.isfinite(table.seconds_s)][at]
            where = Where(source=table.source or None)
            finding = Finding("season-averaged", where, Severity.CHECK, told)
            out.append(Fault("averaged", tuple(int(r) for r in rows[:_MOST_TOLD]), chance, finding))
    return tuple(out)


def shifted(resid: FloatArray, rows: np.ndarray, source: str = "") -> tuple[Fault, ...]:
    """Stretches of rows that lie higher or lower than the rest, beyond what effects explain.

    Notes
    -----
    Circular binary segmentation in its plainest form: of all stretches (i, j] the one with the greatest
    ``|sum - share of the whole|/sqrt(length (1 - length/n))``; its tail by the normal law times the number of
    stretches, which errs on the side of silence. What is found is taken away and the search repeated.
    Residuals are clipped at 3, so that one wild value makes no block.
    """
    out: list[Fault] = []
    r = np.clip(resid, -3.0, 3.0)
    r = (r - r.mean()) / max(float(r.std()), 1e-12)
    n = r.size
    for _ in range(5):
        score, i, j = _stretch(r)
        chance = min(1.0, n * math.log(max(n, 2)) * 2.0 * float(ndtr(-score)))
        if chance >= RARE or j - i < 4:
            break
        mean = float(resid[i:j].mean() - np.delete(resid, np.s_[i:j]).mean())
        told: dict[str, Value] = {
            "first_row": int(rows[i]), "last_row": int(rows[j - 1]), "count": j - i, "shift_sd": mean,
            "chance": chance,
        }  # fmt: skip
        where = Where(source=source or None, row=int(rows[i]))
        finding = Finding("season-shift", where, Severity.CHECK, told)
        out.append(Fault("shift", (int(rows[i]), int(rows[j - 1])), chance, finding))
        r = r.copy()
        r[i:j] -= r[i:j].mean()
    return tuple(out)


def _stretch(r: FloatArray) -> tuple[float, int, int]:
    """The stretch that stands out most: score, start and end."""
    n = r.size
    total = np.concatenate([[0.0], np.cumsum(r)])
    best = (0.0, 0, 0)
    lengths = np.unique(np.round(np.geomspace(4, max(n // 2, 4), 60)).astype(np.int64))
    for length in lengths:
        sums = total[length:] - total[:-length] - total[-1] * length / n
        i = int(np.argmax(np.abs(sums)))
        score = abs(float(sums[i])) / math.sqrt(length * (1.0 - length / n))
        if score > best[0]:
            best = (score, i, i + int(length))
    return best


def mixed_up(resid: FloatArray, rows: np.ndarray, source: str = "") -> tuple[Fault, ...]:
    """Neighbouring results that would both fit if they changed places.

    Notes
    -----
    For two rows next to each other with large residuals of opposite sign, the evidence is their product: the
    chance that both tails are reached, times the pairs looked at. Residuals are robust z scores, whose tails
    in real data are heavier than normal, so the empirical share of such sizes is taken where it is larger.
    """
    out: list[Fault] = []
    a, b = resid[:-1], resid[1:]
    size = np.minimum(np.abs(a), np.abs(b))
    opposite = (a * b < 0.0) & (size > 3.0)
    n = resid.size
    ranked = np.sort(np.abs(resid))
    for i in np.flatnonzero(opposite):
        beyond = (n - int(np.searchsorted(ranked, size[i]))) / n
        tail = max(2.0 * float(ndtr(-size[i])), beyond)
        chance = min(1.0, n * tail * tail * 0.5)
        if chance >= 0.02 or len(out) >= _MOST_TOLD:
            continue
        told: dict[str, Value] = {
            "first_row": int(rows[i]), "second_row": int(rows[i + 1]), "first_sd": float(a[i]),
            "second_sd": float(b[i]), "chance": chance,
        }  # fmt: skip
        where = Where(source=source or None, row=int(rows[i]))
        finding = Finding("season-mixed-up", where, Severity.CHECK, told)
        out.append(Fault("mixed-up", (int(rows[i]), int(rows[i + 1])), chance, finding))
    return tuple(out)
