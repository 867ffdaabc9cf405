"""An allocation on the terminal: the proof on top, blends, loading sheet, what holds it back."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from textwrap import wrap
from typing import Final

from lodestarch.cli.output import say, table
from lodestarch.cli.tube_output import write_text
from lodestarch.plan.allocate.answer import Allocation
from lodestarch.plan.allocate.blend_value import BlendLimit, BlendValue
from lodestarch.plan.allocate.loading import LoadingSheet
from lodestarch.plan.allocate.problem import FN
from lodestarch.words.allocate import (
    binding_text,
    bound_text,
    excluded_rows,
    money_text,
    proof_text,
    relaxation_text,
    seconds_or_dash,
)
from lodestarch.words.catalogues import term
from lodestarch.words.drawing.allocation import allocation_rows
from lodestarch.words.numbers import DASH, figure, number, tidy
from lodestarch.work.planning.allocate import InstanceOutcome

__all__ = ["show_allocation", "show_instance", "write_picture"]

_WIDTH: Final = 94


def _wrapped(text: str, indent: str = "") -> None:
    for i, line in enumerate(wrap(text, _WIDTH - len(indent))):
        say(f"{indent}{line}" if i == 0 else f"{indent}  {line}")


def _titled(name: str, lines: Iterable[str]) -> None:
    every = list(lines)
    if every:
        say()
        say(term(name))
        for line in every:
            _wrapped(line, "  ")


def write_picture(answer: Allocation, path: Path) -> None:
    """Write the picture of a plan, if there is a plan."""
    from lodestarch.words.drawing.alone import alone

    drawing, height = allocation_rows(answer)
    if drawing:
        write_text(path, alone([(drawing, height)], []))
        say(f"{path}: {path.stat().st_size} bytes")


def show_allocation(answer: Allocation) -> None:
    """Print an allocation."""
    plan = answer.plan
    if answer.problem.title:
        say(answer.problem.title)
    if plan is None:
        return
    currency = answer.problem.currency
    if plan.objective is not None:
        say(term("allocate.earns", money=money_text(plan.objective), currency=currency))
    if answer.odds is not None:
        o = answer.odds
        low, high = money_text(o.money_low), money_text(o.money_high)
        said = {"money": money_text(o.money), "currency": currency, "low": low, "high": high}
        say(term("allocate.expected", **said))
    _wrapped(proof_text(plan.ended, plan.bound, plan.gap))
    if plan.stands:
        _blends(answer)
        _loading(answer)
        _titled("allocate.binds-title", (binding_text(b, answer) for b in answer.binding))
        _beside(answer)
    rows = excluded_rows(plan.excluded)
    _titled(
        "allocate.excluded-title", (term("allocate.excluded", bin=b, offer=o, rule=r) for b, o, r in rows)
    )
    if not plan.stands and plan.ended.value == "infeasible":
        _relaxations(answer)


def _relaxations(answer: Allocation) -> None:
    say()
    if not answer.relaxations:
        _wrapped(term("allocate.relax-none"))
        return
    together = not answer.relaxations[0].alone
    _wrapped(term("allocate.relax-together" if together else "allocate.relax-alone"))
    for one in answer.relaxations:
        _wrapped(relaxation_text(one), "  ")


def _floor(blend: BlendValue) -> BlendLimit | None:
    return next((v for v in blend.limits if v.factor == FN and v.at_least), None)


def _blends(answer: Allocation) -> None:
    passes = {o.offer_id: o.passes for o in answer.odds.offers} if answer.odds else {}
    rows = []
    for blend in answer.blends:
        floor = _floor(blend)
        aim = DASH if floor is None else seconds_or_dash(floor.aim)
        span = DASH if blend.fn_s is None else f"{number(blend.fn_low_s)} to {number(blend.fn_high_s)}"
        there = number(passes.get(blend.offer_id), 2) if blend.limits else DASH
        rows.append(
            (
                blend.offer_id,
                figure(blend.tonnes, 1),
                figure(blend.price_per_t, 2),
                seconds_or_dash(blend.fn_s),
                span,
                aim,
                there,
            )
        )
    say()
    heads = ("contract", "tonnes", "price", "predicted", "interval", "aim", "odds-there")
    currency = answer.problem.currency
    named = [
        term(f"allocate.{h}", currency=currency) if h == "price" else term(f"allocate.{h}") for h in heads
    ]
    table([(h, "left" if i == 0 else "right") for i, h in enumerate(named)], rows)


def _loading(answer: Allocation) -> None:
    say()
    say(term("allocate.draws-title"))
    rows = [
        (
            sheet.offer_id if line.order == 1 else "", str(line.order), line.bin_id, figure(line.tonnes, 1),
            f"{number(100.0 * line.share, 1)} %", figure(line.from_t, 1), figure(line.to_t, 1),
        )
        for sheet in answer.sheets
        for line in sheet.lines
    ]  # fmt: skip
    heads = ("contract", "order", "bin", "tonnes", "share", "opens", "closes")
    left = {"contract", "bin"}
    table([(term(f"allocate.{h}"), "left" if h in left else "right") for h in heads], rows)
    for sheet in answer.sheets:
        for line in _sheet_lines(answer, sheet):
            _wrapped(line, "  ")


def _sheet_lines(answer: Allocation, sheet: LoadingSheet) -> Iterable[str]:
    offer = next(o for o in answer.problem.offers if o.id == sheet.offer_id)
    if len(sheet.lines) > 1 and sheet.ratio_fn_s is not None and sheet.ratio_keeps is not False:
        ratio = " : ".join(str(v.parts) for v in sheet.lines)
        bins = " : ".join(v.bin_id for v in sheet.lines)
        said = {"contract": offer.id, "ratio": ratio, "bins": bins, "seconds": number(sheet.ratio_fn_s)}
        yield tidy(term("allocate.ratio", **said))
    if sheet.ratio_keeps is False:
        yield tidy(term("allocate.ratio-short", contract=offer.id, aim=number(sheet.aim_s, 1)))
    if sheet.aim_s is not None:
        places = ", ".join(number(t) for t in sheet.look_at_t)
        said = {
            "contract": offer.id,
            "places": places,
            "aim": number(sheet.aim_s),
            "stop": number(sheet.stop_s),
        }
        yield tidy(term("allocate.look", **said))
    if sheet.loads is not None:
        yield tidy(
            term("allocate.loads", contract=offer.id, loads=sheet.loads, load_t=figure(offer.load_t, 2))
        )
    steps = ", ".join(f"{v.bin_id} {number(v.steps)}" for v in sheet.lines if v.steps is not None)
    if steps:
        yield tidy(term("allocate.steps", contract=offer.id, steps=steps))
    bushels = [v.bushels for v in sheet.lines]
    if all(b is not None for b in bushels):
        total = sum(b for b in bushels if b is not None)
        yield term("allocate.bushels", contract=offer.id, bushels=number(total))


def _beside(answer: Allocation) -> None:
    plan, currency = answer.plan, answer.problem.currency
    say()
    if answer.fewer is not None and plan is not None and plan.objective is not None:
        if answer.fewer.objective is None:
            _wrapped(term("allocate.fewer-none"))
        else:
            less = money_text(plan.objective - answer.fewer.objective)
            said = {"money": money_text(answer.fewer.objective), "less": less, "currency": currency}
            _wrapped(term("allocate.fewer", **said))
    thumb = answer.thumb
    if thumb is None:
        return
    _wrapped(term("allocate.rule-of-thumb", money=money_text(thumb.money), currency=currency))
    if thumb.breaches:
        _wrapped(term("allocate.behind", count=len(thumb.breaches)))
    said = {
        "money": money_text(thumb.ahead),
        "expected": money_text(thumb.ahead_expected),
        "currency": currency,
    }
    _wrapped(term("allocate.ahead", **said))


def show_instance(outcome: InstanceOutcome) -> None:
    """Print the answer to an instance."""
    read, answer = outcome.read, outcome.answer
    if read.title:
        say(read.title + (f" ({read.variant})" if read.variant else ""))
    if answer is None:
        return
    if answer.objective is not None:
        say(figure(answer.objective, 6))
        _wrapped(proof_text(answer.ended, answer.bound, answer.gap))
        say(term(f"allocate.solver.{answer.by}"))
    if answer.passes is not None:
        say(term("answer.yes" if answer.passes else "answer.no"))
    if answer.plan:
        say()
        table(
            [
                (term("allocate.bin"), "left"),
                (term("allocate.contract"), "left"),
                (term("allocate.amount"), "right"),
            ],
            [(m.origin, m.to, figure(m.amount, 6)) for m in answer.plan],
        )
    _titled("allocate.binds-title", (bound_text(b) for b in answer.binds or ()))
