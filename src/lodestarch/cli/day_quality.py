"""What the results of a day rest on, and what failed check samples hold, on the terminal."""

from __future__ import annotations

from lodestarch.cli.budget import budget_table
from lodestarch.cli.output import say, table
from lodestarch.words.catalogues import term
from lodestarch.words.numbers import number
from lodestarch.words.quality import checks_text, held_row, hold_sentence, own_sentence
from lodestarch.work.bench.outcome import DayOutcome

__all__ = ["show_day_hold", "show_day_own"]


def show_day_own(outcome: DayOutcome) -> None:
    """Print the law behind u, the weight of the default, and the budget of a typical result."""
    own, budget = outcome.own, outcome.budget
    if own is None:
        return
    say(own_sentence(own))
    if own.fit is None or own.fit.used == 0 or budget is None:
        return
    say(checks_text(own))
    say()
    said = {"seconds": number(budget.result_s, 0), "u": number(budget.u_s, 1)}
    half, k = number(budget.half_width_s, 1), number(budget.k, 2)
    share = number(100.0 * budget.probability, 0)
    say(term("quality.day-budget", half=half, k=k, share=share, **said))
    budget_table(budget.lines)


def show_day_hold(outcome: DayOutcome) -> None:
    """Print what failed check samples hold, who has it, and what to run again."""
    hold = outcome.hold
    if hold is None or not (hold.failed or hold.cleared):
        return
    say()
    say(hold_sentence(hold))
    if not hold.held:
        return
    heads = ("held", "held-day", "held-by", "held-told", "held-retained")
    table([(term(f"quality.{h}-column"), "left") for h in heads], [held_row(one) for one in hold.held])
