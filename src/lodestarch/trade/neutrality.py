"""What a neutral lab may put on a paper, by who asked for it."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["PaperRules", "paper_rules"]


@dataclass(frozen=True, slots=True)
class PaperRules:
    """What a paper may carry.

    Parameters
    ----------
    prices, advice, buyers : bool
        Net prices; what to do; names of buyers.
    marked_as_opinion : bool
        Whatever of these it carries stands under the word opinion.
    retest_worth : bool
        The worth of another test; shown to both sides of a trade or to neither.
    """

    prices: bool
    advice: bool
    buyers: bool
    marked_as_opinion: bool
    retest_worth: bool


def paper_rules(*, asked_by_customer: bool, certificate: bool, both_sides: bool = False) -> PaperRules:
    """Return what a paper may carry.

    Parameters
    ----------
    asked_by_customer : bool
        This customer asked for price or advice.
    certificate : bool
        A certificate states what was found and nothing else, whoever asks.
    both_sides : bool
        Buyer and seller get the same paper.

    Examples
    --------
    >>> paper_rules(asked_by_customer=False, certificate=False).prices
    False
    >>> paper_rules(asked_by_customer=True, certificate=False).marked_as_opinion
    True
    """
    may = asked_by_customer and not certificate
    return PaperRules(may, may, may, marked_as_opinion=may, retest_worth=may and both_sides)
