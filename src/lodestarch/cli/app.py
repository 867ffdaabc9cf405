"""The ``lodestarch`` command."""

from __future__ import annotations

import sys

import typer

from lodestarch import __version__
from lodestarch.cli import pocket
from lodestarch.cli.allocate import allocate
from lodestarch.cli.budget import budget
from lodestarch.cli.bundle import bundle
from lodestarch.cli.certificate import certificate
from lodestarch.cli.chart import chart
from lodestarch.cli.compare import compare
from lodestarch.cli.components import components
from lodestarch.cli.day import day
from lodestarch.cli.decide_aim import aim
from lodestarch.cli.decide_odds import odds
from lodestarch.cli.decide_referee import referee
from lodestarch.cli.decide_retest import retest
from lodestarch.cli.dose import dose
from lodestarch.cli.duplicates import duplicates
from lodestarch.cli.letter import letter
from lodestarch.cli.listen import listen
from lodestarch.cli.loadout import loadout
from lodestarch.cli.output import EXIT_NO_ANSWER
from lodestarch.cli.papers import paper, template
from lodestarch.cli.price import price
from lodestarch.cli.profiles import profiles
from lodestarch.cli.receive import receive
from lodestarch.cli.records import records_app
from lodestarch.cli.ringtest import ringtest
from lodestarch.cli.season import season_app
from lodestarch.cli.serve import demo, run
from lodestarch.cli.shift import shift_app
from lodestarch.cli.token import token_app
from lodestarch.cli.tube import tube_app
from lodestarch.cli.verify_report import verify_report
from lodestarch.common.errors import LodestarchError

__all__ = ["app", "main"]

app = typer.Typer(
    name="lodestarch",
    help="From falling-number seconds to decisions.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)

app.command()(run)
app.command()(demo)
app.command()(pocket.portion)
app.command()(pocket.bath)
app.command()(pocket.blend)
app.command()(price)
app.command()(day)
app.command()(odds)
app.command()(aim)
app.command()(retest)
app.command()(referee)
app.command()(dose)
app.command()(allocate)
app.command()(receive)
app.command()(loadout)
app.command()(listen)
for command in (duplicates, components, budget, chart, ringtest, compare):
    app.command()(command)
app.command()(template)
app.command()(paper)
app.command()(certificate)
app.command()(letter)
app.command()(bundle)
app.command()(verify_report)
app.add_typer(profiles, name="profile")
app.add_typer(records_app, name="records")
app.add_typer(shift_app, name="shift")
app.add_typer(tube_app, name="tube")
app.add_typer(season_app, name="season")
app.add_typer(token_app, name="token")


def _version(value: bool) -> None:
    if value:
        print(f"lodestarch {__version__}")
        raise typer.Exit


@app.callback()
def root(
    version: bool = typer.Option(
        False, "--version", callback=_version, is_eager=True, help="Say the version."
    ),
) -> None:
    """From falling-number seconds to decisions."""


def main() -> None:
    """Run the command; a request that cannot be carried out ends with one line and 1, not a traceback."""
    try:
        app()
    except LodestarchError as cause:
        print(f"lodestarch: {cause}", file=sys.stderr)
        sys.exit(EXIT_NO_ANSWER)
