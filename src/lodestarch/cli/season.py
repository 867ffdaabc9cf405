"""``season``: what results of a season show, from a file or from the records."""

from __future__ import annotations

import typer

from lodestarch.cli.season_blends import blends
from lodestarch.cli.season_effects import effects
from lodestarch.cli.season_export import export
from lodestarch.cli.season_faults import faults
from lodestarch.cli.season_indicators import indicators
from lodestarch.cli.season_odds import odds
from lodestarch.cli.season_order import order
from lodestarch.cli.season_priors import priors
from lodestarch.cli.season_ratings import ratings

__all__ = ["season_app"]

season_app = typer.Typer(
    help="What a season's results show: effects, ratings, weather, faults, own blends, odds, open data.",
    no_args_is_help=True,
)
for _command in (effects, ratings, indicators, faults, blends, odds, priors, order, export):
    season_app.command()(_command)
