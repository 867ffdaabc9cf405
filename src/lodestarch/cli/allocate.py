"""``allocate``: which bin goes to which contract; or an instance of the neutral layout."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from lodestarch.cli.files import bytes_of
from lodestarch.cli.options import AsJson, Strict, day_of, decimal
from lodestarch.cli.output import emit_json, finish, show_findings

__all__ = ["allocate"]


def allocate(
    problem: Annotated[Path, typer.Argument(help="A plan problem (TOML), or a file of instances (JSON).")],
    instance: Annotated[str | None, typer.Option(help="Instance of a JSON file.")] = None,
    variant: Annotated[str | None, typer.Option(help="Variant of the instance. [default: the first]")] = None,
    gap: Annotated[float, typer.Option(help="Relative gap to prove.", min=0.0, max=1.0)] = 1e-6,
    time_limit: Annotated[
        float, typer.Option(help="Seconds in the solver for each plan; then the best so far.", min=0.01)
    ] = 30.0,
    beside: Annotated[
        bool,
        typer.Option("--beside/--no-beside", help="Solve for one more tonne, one second, one bin fewer."),
    ] = True,
    terms: Annotated[
        Path | None, typer.Option(help="Terms of buyers: their contracts and bids join those of the problem.")
    ] = None,
    on: Annotated[str | None, typer.Option(help="Day of those offers. [default: that of the terms]")] = None,
    wanted_odds: Annotated[
        float | None,
        typer.Option(parser=decimal, help="Wanted odds for the offers of the terms, 0.5 to below 1."),
    ] = None,
    blends: Annotated[
        Path | None, typer.Option(help="Own blends, predicted and measured: the margin that the plan keeps.")
    ] = None,
    seed: Annotated[int, typer.Option(help="Of the simulation of the odds.", min=0)] = 0,
    out: Annotated[Path | None, typer.Option("--out", "-o", help="Write the picture here, as SVG.")] = None,
    as_json: AsJson = False,
    strict: Strict = False,
) -> None:
    """Allocate bins to contracts: the plan, its proof, its odds, and what holds it back."""
    import numpy as np

    from lodestarch.cli.allocate_table import show_allocation, show_instance, write_picture
    from lodestarch.sheets.terms import read_terms
    from lodestarch.work.planning.allocate import instance_for, problem_for
    from lodestarch.work.planning.allocate_json import instance_as_dict, problem_as_dict

    if variant is not None and instance is None:
        raise typer.BadParameter("a variant needs --instance NAME", param_hint="--variant")
    data = bytes_of(problem)
    if instance is not None:
        found = instance_for(data, problem.name, instance, variant, gap=gap, time_s=time_limit)
        stands = found.answer is not None and found.answer.objective is not None
        if as_json:
            emit_json(instance_as_dict(found), found.findings)
        else:
            show_instance(found)
            show_findings(found.findings)
        finish(found.findings, answered=stands, strict=strict)
        return
    if problem.suffix.lower() == ".json":
        raise typer.BadParameter("a file of instances needs --instance NAME", param_hint="--instance")
    rng = np.random.default_rng(seed)
    joined = None if terms is None else read_terms(bytes_of(terms), terms.name)
    own = None if blends is None else (bytes_of(blends), blends.name)
    asked = problem_for(
        data, problem.name, rng=rng, gap=gap, time_s=time_limit, beside=beside, terms=joined, on=day_of(on),
        wanted_odds=wanted_odds, blends=own,
    )  # fmt: skip
    plan = None if asked.answer is None else asked.answer.plan
    if asked.answer is not None and out is not None:
        write_picture(asked.answer, out)
    if as_json:
        emit_json(problem_as_dict(asked), asked.findings)
    else:
        if asked.answer is not None:
            show_allocation(asked.answer)
        show_findings(asked.findings)
    finish(asked.findings, answered=plan is not None and plan.stands, strict=strict)
