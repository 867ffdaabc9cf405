"""A result is always set the same way: the seconds, and then, quietly, what they rest on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from lodestarch.method.profile import Profile
from lodestarch.method.reading import Kind
from lodestarch.words.catalogues import DEFAULT_LOCALE, term, terms
from lodestarch.words.limits import LimitShape, short_limits
from lodestarch.words.numbers import DASH, figure, number, tidy

__all__ = [
    "Reported",
    "ResultLine",
    "basis_words",
    "correction_words",
    "phone_line",
    "reported",
    "result_line",
    "seconds_text",
    "tubes_words",
    "u_text",
]

_USUAL_PORTION_G: Final = 7.0
"""Portion that goes without saying [g]; published, see the profiles."""
_SIGN: Final = {Kind.EXACT: "", Kind.AT_OR_BELOW: "≤", Kind.ABOVE: ">"}


@dataclass(frozen=True, slots=True)
class Reported:
    """What the result line needs to know of a result.

    Parameters
    ----------
    name : str
        Ticket, or the sample where there is none: what is said on the phone.
    seconds : float or None
        Rounded as the profile says; the bound where ``kind`` is not exact. [s]
    kind : Kind
    u_s : float or None
        Standard uncertainty; ``None`` is *not evaluated*. [s]
    tubes : int
        Readings that count.
    tubes_stated : bool
    basis : str
        Moisture basis in words.
    correction : str
        ``none``, ``by instrument``, ``mixed``, ``not stated`` or the name of a lab's correction.
    status : str
        ``method.judge.Status`` or a later standing.
    how : str
        ``mean``, ``median``, ``single``.
    """

    name: str
    seconds: float | None
    kind: Kind
    u_s: float | None
    tubes: int
    tubes_stated: bool
    basis: str
    correction: str
    status: str
    how: str


@dataclass(frozen=True, slots=True)
class ResultLine:
    """A result in the parts that a page sets in different sizes."""

    sign: str
    figure: str
    unit: str
    after: str
    quiet: tuple[str, ...]

    @property
    def seconds(self) -> str:
        """Sign, figure, unit and what follows: ``≤ 62 s``, ``> 400 s (stopped)``."""
        lead = f"{self.sign}\u00a0{self.figure}" if self.sign else self.figure
        return " ".join(p for p in (f"{lead}\u00a0{self.unit}" if self.unit else lead, self.after) if p)

    def __str__(self) -> str:
        tail = " · ".join(self.quiet)
        return f"{self.seconds}  {tail}" if tail else self.seconds


def tubes_words(tubes: int, *, stated: bool = True, locale: str = DEFAULT_LOCALE) -> str:
    """How many tubes, in words.

    Examples
    --------
    >>> tubes_words(2), tubes_words(5), tubes_words(1, stated=False)
    ('two tubes', '5 tubes', 'number of tubes not stated')
    """
    if not stated:
        return term("tubes.not-stated", locale)
    names = ("none", "one", "two", "three", "four")
    return (
        term(f"tubes.{names[tubes]}", locale) if 0 <= tubes < 5 else term("tubes.many", locale, count=tubes)
    )


def basis_words(profile: Profile | None, locale: str = DEFAULT_LOCALE) -> str:
    r"""Moisture basis of a profile in words, and its portion where that is not the usual one.

    Examples
    --------
    >>> from lodestarch.method.shipped import shipped_profile
    >>> basis_words(shipped_profile("meal-14")).replace("\u00a0", " ")
    '14 % mb'
    """
    if profile is None:
        return term("basis.unknown", locale)
    constants = profile.constants
    pct = constants.moisture_basis_pct
    words = term("basis.as-is", locale) if pct is None else term("basis.moisture", locale, pct=figure(pct))
    if constants.base_mass_g != _USUAL_PORTION_G:
        words += ", " + term("result.portion", locale, mass=figure(constants.base_mass_g))
    return tidy(words)


def correction_words(correction: str | None, locale: str = DEFAULT_LOCALE) -> str:
    """Whether a result was corrected for pressure, and by what."""
    said = correction or "not stated"
    known = terms(locale).get(f"correction.{said.replace(' ', '-')}")
    return known or term("correction.named", locale, name=said)


def reported(row: Mapping[str, Any], profile: Profile | None, locale: str = DEFAULT_LOCALE) -> Reported:
    """Take the parts of a result line from a row of ``method.table.RESULTS``.

    Parameters
    ----------
    row : mapping
        As ``DataFrame.row(i, named=True)`` gives it.
    profile : Profile or None
        The profile that the row names; ``None`` where it is not known.
    """
    tubes = int(row["tubes"] or 0)
    # All tubes at the base mass although the moisture calls for another: the profile's basis does not hold.
    as_is = profile is not None and row["comparable_key"] == profile.as_is_key
    return Reported(
        name=str(row["ticket"] or row["sample"]),
        seconds=row["seconds"],
        kind=Kind(row["kind"] or 0),
        u_s=row["u_s"],
        tubes=tubes,
        tubes_stated=row["tubes_stated"] is not False,
        basis=term("basis.as-is", locale) if as_is else basis_words(profile, locale),
        correction=str(row["correction"] or "not stated"),
        status=str(row["status"] or "none"),
        how=str(row["how"] or ""),
    )


def _has_figure(result: Reported) -> bool:
    return result.status != "none" and result.seconds is not None


def seconds_text(result: Reported) -> str:
    """The seconds alone with their sign, for a table: ``287``, ``≤ 62``, ``> 400``; a dash without one."""
    if not _has_figure(result):
        return DASH
    sign = _SIGN[result.kind]
    return (f"{sign}\u00a0" if sign else "") + figure(result.seconds, 1)


def u_text(u_s: float | None) -> str:
    """Standard uncertainty in whole seconds, with a decimal only below one second; a dash without one."""
    return DASH if u_s is None else number(u_s, 0 if u_s >= 0.95 else 1)


def result_line(result: Reported, locale: str = DEFAULT_LOCALE) -> ResultLine:
    r"""Set a result.

    Examples
    --------
    >>> r = Reported("8814", 287.0, Kind.EXACT, 7.0, 2, True, "14 % mb", "none", "preliminary", "mean")
    >>> str(result_line(r)).replace("\u00a0", " ")
    '287 s  u 7 · two tubes · 14 % mb · not pressure-corrected · preliminary'
    """
    if not _has_figure(result):
        return ResultLine("", DASH, "", "", (term("status.none", locale),))
    quiet = []
    if result.u_s is not None and result.status != "held":
        quiet.append(term("result.u", locale, u=u_text(result.u_s)))
    if result.how == "median":
        quiet.append(term("result.median", locale))
    quiet += [
        tubes_words(result.tubes, stated=result.tubes_stated, locale=locale),
        result.basis,
        correction_words(result.correction, locale),
        term(f"status.{result.status}", locale),
    ]
    after = term("result.stopped", locale) if result.kind is Kind.ABOVE else ""
    return ResultLine(_SIGN[result.kind], figure(result.seconds, 1), "s", after, tuple(quiet))


def phone_line(result: Reported, limits: Sequence[LimitShape] = (), locale: str = DEFAULT_LOCALE) -> str:
    r"""One line that can be read out on the phone, or sent.

    A held result is not given out: the line says that it is held, and no number.

    Examples
    --------
    >>> r = Reported("8814", 287.0, Kind.EXACT, 7.0, 2, True, "14 % mb", "none", "preliminary", "mean")
    >>> from lodestarch.words.limits import NamedLimit
    >>> phone_line(r, [NamedLimit("Quillmere", 300.0, None)]).replace("\u00a0", " ")
    '8814 · 287, limit 300, two tubes, 14 % mb, preliminary'
    """
    if not _has_figure(result):
        said = [term("result.phone-none", locale)]
    elif result.status == "held":
        said = [term("result.phone-held", locale)]
    else:
        said = [seconds_text(result)]
        if result.kind is Kind.ABOVE:
            said[0] += " " + term("result.stopped", locale)
        named = short_limits(limits, locale)
        if len(named) == 1:
            said.append(term("result.limit-one", locale, limit=named[0]))
        elif named:
            joined = term("list.last", locale, first=", ".join(named[:-1]), last=named[-1])
            said.append(term("result.limit-many", locale, limits=joined))
        said.append(tubes_words(result.tubes, stated=result.tubes_stated, locale=locale))
        said += [result.basis, term(f"status.{result.status}", locale)]
    return f"{result.name} · " + ", ".join(said)
