"""``portion``, ``bath``, ``blend``: the pocket calculations."""

from __future__ import annotations

import math
from dataclasses import asdict
from typing import Annotated

import typer

from lodestarch.cli.options import DEFAULT_RECORDS, AsJson, ProfileName, RecordsAddress, decimal
from lodestarch.cli.output import emit_json, finish, say, show_findings
from lodestarch.method.reading import Kind
from lodestarch.words.numbers import number

__all__ = ["bath", "blend", "portion"]

_KIND = {Kind.EXACT: "exact", Kind.AT_OR_BELOW: "at or below", Kind.ABOVE: "above"}
_SIGN = {Kind.EXACT: "", Kind.AT_OR_BELOW: "≤ ", Kind.ABOVE: "> "}


def _ln_bounds(low: float, high: float) -> str:
    if math.isinf(high):
        return f"LN at least {low:.4f}"
    return f"LN at most {high:.4f}" if low == 0.0 else f"LN {low:.4f} to {high:.4f}"


def portion(
    moisture: Annotated[
        float, typer.Argument(parser=decimal, help="Moisture of what is weighed, wet basis, in %.")
    ],
    profile: ProfileName = None,
    records: RecordsAddress = DEFAULT_RECORDS,
    as_json: AsJson = False,
) -> None:
    """Grams to weigh into a tube, from the moisture."""
    from lodestarch.work.keeping.profiles import profile_named
    from lodestarch.work.pocket.portion import portion_for

    chosen = profile_named(profile, records)
    answer = portion_for(moisture, chosen)
    p = answer.portion
    if as_json:
        keys = (
            "mass_g",
            "low_g",
            "high_g",
            "unrounded_g",
            "rule",
            "base_mass_g",
            "moisture_basis_pct",
            "water_ml",
        )
        body = asdict(p) if p else dict.fromkeys(keys)
        emit_json({**body, "moisture_pct": moisture, "profile": chosen.name}, answer.findings)
    elif p:
        say(f"{number(p.mass_g, 2)} g   ({number(p.low_g, 2)} to {number(p.high_g, 2)} g)")
        basis = "as is" if p.moisture_basis_pct is None else f"{p.moisture_basis_pct:g} % mb"
        rule = p.rule.replace("-", " ")
        say(f"at {p.moisture_pct:g} % moisture · {p.base_mass_g:g} g at {basis}, {rule} · {chosen.name}")
        if chosen.fields["portion_rule"].note:
            say(
                f"Rule {chosen.fields['portion_rule'].provenance.value}: {chosen.fields['portion_rule'].note}"
            )
    if not as_json:
        show_findings(answer.findings)
    finish(answer.findings, answered=p is not None)


def bath(
    place: Annotated[
        str, typer.Argument(help="A pressure or an elevation with its unit: 908hPa, 26.8inHg, 914m, 3000ft.")
    ],
    elevation: Annotated[
        str | None,
        typer.Option(help="Elevation of the bench, to tell a pressure reduced to sea level: 520m."),
    ] = None,
    pressure_is: Annotated[
        str | None, typer.Option(help="Which pressure it is, where you know: station or sea-level.")
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Temperature at which the bath boils."""
    from lodestarch.work.pocket.bath import bath_for

    if pressure_is not in {None, "station", "sea-level"}:
        raise typer.BadParameter("station or sea-level", param_hint="--pressure-is")
    answer = bath_for(place, elevation=elevation, pressure_is=pressure_is)
    if as_json:
        body = {
            "boiling_c": answer.boiling_c,
            "pressure_hpa": answer.pressure_hpa,
            "stated_as": answer.stated_as or None,
            "elevation_m": answer.elevation_m,
        }
        emit_json(body, answer.findings)
    else:
        if answer.boiling_c is not None:
            say(f"{number(answer.boiling_c, 2)} °C at {number(answer.pressure_hpa, 1)} hPa station pressure")
            if answer.stated_as != "station pressure":
                say(f"from {answer.stated_as}, standard atmosphere; a barometer at the bench is better")
            say("Boiling bath: steam and glass at 100 °C. Gloves, eye protection, lid on.")
        show_findings(answer.findings)
    finish(answer.findings, answered=answer.boiling_c is not None)


def blend(
    lots: Annotated[
        list[str] | None, typer.Argument(help="seconds:mass, with @moisture where known: 400:50 220:50@13.2")
    ] = None,
    reach: Annotated[
        tuple[float, float, float] | None,
        typer.Option(help="TARGET HIGH LOW [s]: the largest share of the low lot that still makes it."),
    ] = None,
    cap: Annotated[float, typer.Option(help="From here up LN is held constant. [s]")] = 400.0,
    no_cap: Annotated[bool, typer.Option("--no-cap", help="The plain law, whatever the seconds.")] = False,
    floor: Annotated[float, typer.Option(help="A lot at or below it only has a bound. [s]")] = 62.0,
    no_floor: Annotated[
        bool, typer.Option("--no-floor", help="Take seconds at the floor as measured.")
    ] = False,
    as_json: AsJson = False,
) -> None:
    """Seconds that a mix is computed to read, by the liquefaction number."""
    from lodestarch.work.pocket.blend import blend_for, reach_for

    cap_s, floor_s = (None if no_cap else cap), (None if no_floor else floor)
    if (reach is None) == (not lots):
        raise typer.BadParameter("give lots, or --reach TARGET HIGH LOW", param_hint="LOTS")
    answer = reach_for(*reach, cap_s=cap_s) if reach else blend_for(lots or (), cap_s=cap_s, floor_s=floor_s)
    if as_json:
        body: dict[str, object] = {"cap_s": cap_s, "floor_s": floor_s}
        if answer.mix:
            m = answer.mix
            body |= {
                "seconds": round(m.seconds_s, 3),
                "kind": _KIND[m.kind],
                "ln": round(m.ln_low, 4) if m.kind is Kind.EXACT else None,
                "ln_low": round(m.ln_low, 4),
                "ln_high": m.ln_high,
                "fn_low_s": round(m.fn_low_s, 3),
                "fn_high_s": m.fn_high_s,
                "plain_seconds": round(m.plain_seconds_s, 3),
                "lots": [
                    {
                        "seconds": lot.seconds_s,
                        "kind": _KIND[lot.kind],
                        "mass": lot.mass,
                        "moisture_pct": lot.moisture_pct,
                        "share": share,
                        "capped": i in m.capped,
                    }
                    for i, (lot, share) in enumerate(zip(answer.lots, m.shares, strict=True))
                ],
            }
        if answer.reach:
            r = answer.reach
            body |= {
                "share_low": round(r.share_low, 6),
                "seconds": round(r.seconds_s, 3),
                "target_s": r.target_s,
                "capped": r.capped,
            }
        emit_json(body, answer.findings)
    else:
        if answer.mix:
            m = answer.mix
            ln = f"LN {m.ln_low:.4f}" if m.kind is Kind.EXACT else _ln_bounds(m.ln_low, m.ln_high)
            say(f"{_SIGN[m.kind]}{number(m.seconds_s, 3)} s   {ln}")
            if m.capped:
                plain, capped = number(m.plain_seconds_s, 3), number(m.seconds_s, 3)
                say(f"plain law {plain} s; with the cap at {cap:g} s {capped} s")
        if answer.reach:
            r = answer.reach
            say(f"{100 * r.share_low:.2f} % of the low lot, {100 - 100 * r.share_low:.2f} % of the high one")
            say(f"the mix is computed to read {number(r.seconds_s, 1)} s (target {r.target_s:g} s)")
        if answer.mix or answer.reach:
            say("A computed plan: no published blend series tests this law. Mixing may be restricted by law.")
        show_findings(answer.findings)
    finish(answer.findings, answered=bool(answer.mix or answer.reach))
