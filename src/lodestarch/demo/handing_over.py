"""What the invented lab hands over: a signed-off profile, four loads, certificates, a letter, evidence.

Profile, standard, lab, customers and numbers are made up; every field of the profile is marked as invented,
and every page says that its data are.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from importlib.resources import files
from pathlib import Path
from typing import Final

from lodestarch import demo
from lodestarch.common.provenance import Provenance
from lodestarch.method.profile import Profile, ProfileField, profile_to_document, revise
from lodestarch.method.shipped import shipped_profile
from lodestarch.records.engine import Records
from lodestarch.records.tables import Sample
from lodestarch.records.unit import Unit
from lodestarch.report.issued import PaperFiles
from lodestarch.words.issued.letter_statement import LetterLimit
from lodestarch.words.issued.statement import Lab
from lodestarch.work.bench.day import run_day
from lodestarch.work.bench.day_order import DayFile, DayOrder
from lodestarch.work.issuing.agreed import Agreed
from lodestarch.work.issuing.certificate import CertificateAsked, issue_certificate
from lodestarch.work.issuing.evidence import make_bundle
from lodestarch.work.issuing.lab import LabSettings, set_lab
from lodestarch.work.issuing.letter import LetterAsked, issue_letter
from lodestarch.work.issuing.standing import heads_to_keep
from lodestarch.work.keeping.own_profiles import sign_field

__all__ = ["CHEMIST", "INVENTED_PROFILE", "hand_over", "invented_profile"]

INVENTED_PROFILE: Final = "ostrawick-meal-14"
CHEMIST: Final = "Ada Merrowby (invented)"
STANDARD: Final = "Bench standard OG-7 (invented)"
TITLE: Final = "The day before, 20 August 2024 (invented)"
LAB: Final = LabSettings(
    Lab(
        demo.LAB,
        ("Gannet Wharf 3", "Ostrawick (invented)"),
        "bench@ostrawick.example, telephone 555 0137",
    ),
    other_u_s=12.0,
)


@dataclass(frozen=True, slots=True)
class _Came:
    """How one load's sample came in."""

    ticket: str
    whose: str
    mail: str
    how: str
    by: str
    probes: int | None
    condition: str
    seal: str


_PROBED: Final = "hand probe over the whole trailer"
_CAME: Final = (
    _Came("8721", "Feldwick Farm", "office@feldwick.example", _PROBED, "scale house", 5,
          "dry, clean, full bag", "OG 40117"),
    _Came("8722", "Dremming", "grain@dremming.example", _PROBED, "scale house", 5,
          "dry, some sprouted grains seen", "OG 40118"),
    _Came("8723", "Skarrow Fen Farm", "skarrow@fen.example", "scoop from the tail gate", "driver", None,
          "damp, musty smell", "none"),
    _Came("8724", "Gäldvik & Søn Þorsgård", "post@galdvik.example", _PROBED, "scale house", 5,
          "dry, clean, full bag", "OG 40119"),
)  # fmt: skip


def invented_profile() -> Profile:
    """The profile that the invented lab works by here: no field of it is anybody's standard."""
    base = shipped_profile(demo.PROFILE_ID)
    fields = {
        key: ProfileField(key, f.value, Provenance.INVENTED, STANDARD, "made up for the demonstration")
        for key, f in base.fields.items()
    }
    fields["cites"] = ProfileField("cites", STANDARD, Provenance.INVENTED, STANDARD)
    return revise(base, fields, new_id=INVENTED_PROFILE, title="meal, 7 g at 14 % moisture (invented)")


def _bytes(name: str) -> bytes:
    return files("lodestarch.demo").joinpath("handover", name).read_bytes()


def _order() -> DayOrder:
    return DayOrder(
        sheet=DayFile(demo.BENCH_NAME, _bytes("bench.csv")),
        samples=DayFile(demo.SAMPLES_NAME, _bytes("samples.csv")),
        profile=INVENTED_PROFILE,
        elevation_m=demo.ELEVATION_M,
        pressure_is_station=True,
        title=TITLE,
        demonstration=True,
    )


def _receive(unit: Unit, came: _Came) -> None:
    whose = unit.add_party(came.whose, "grower", contact={"mail": came.mail})
    unit.add(
        Sample(
            key=came.ticket, ticket=came.ticket, kind="load", received_at="2024-08-20T07:10:00.000000Z",
            whose=whose, material="wheat", drawn_how=came.how, drawn_by=came.by, probes=came.probes,
            mass_g=1500.0, condition=came.condition, seal=came.seal,
        )
    )  # fmt: skip
    unit.flush()


def hand_over(records: Records, out: Path, *, at: datetime) -> tuple[Path, ...]:
    """Run the day, issue its papers, and write them.

    Parameters
    ----------
    records : Records
    out : Path
    at : datetime
        When, with time zone.

    Returns
    -------
    tuple of Path
        What was written.
    """
    profile = invented_profile()
    set_lab(records, LAB, person=CHEMIST, at=at)
    with records.unit(CHEMIST, at) as unit:
        unit.save_profile(profile.profile_id, str(profile.version), profile_to_document(profile))
    sign_field(
        records,
        profile=profile.name,
        field="all",
        standard=STANDARD,
        clause="invented",
        person=CHEMIST,
        at=at,
    )
    run_day(_order(), records=records, person=CHEMIST, at=at)
    with records.unit(CHEMIST, at) as unit:
        for came in _CAME:
            _receive(unit, came)
            unit.release(came.ticket, by_rule=False)
    written = [*_certificates(records, out, at), *_letters(records, out, at)]
    return (*written, *_bundle(records, out, at), *_heads(records, out))


def _certificates(records: Records, out: Path, at: datetime) -> list[Path]:
    agreed = Agreed("supply contract (invented)", 300.0, None, "guarded", "2024-07-01")
    written: list[Path] = []
    first = CertificateAsked("8721", agreed)
    again = CertificateAsked("8721", agreed, reason="origin entered late by the scale house")
    for asked in (first, again, *(CertificateAsked(c.ticket) for c in _CAME[1:])):
        issued = issue_certificate(records, asked, person=CHEMIST, at=at)
        if issued.files is not None:
            written += _write(out, f"certificate-{issued.number}", issued.files)
        if issued.superseded is not None:
            number, files_now = issued.superseded
            written += _write(out, f"certificate-{number}-superseded", files_now)
    return written


def _letters(records: Records, out: Path, at: datetime) -> list[Path]:
    written: list[Path] = []
    for came in _CAME:
        limit = LetterLimit("your supply contract", 300.0, None)
        issued = issue_letter(records, LetterAsked(came.ticket, limit), person=CHEMIST, at=at)
        if issued.files is not None:
            written += _write(out, f"letter-{issued.number}", issued.files)
    return written


def _bundle(records: Records, out: Path, at: datetime) -> tuple[Path, ...]:
    made = make_bundle(records, "8721", purpose="two labs apart by 24 s (invented)", person=CHEMIST, at=at)
    if made.data is None or made.file_name is None:
        return ()
    path = out / made.file_name
    path.write_bytes(made.data)
    return (path,)


def _write(out: Path, stem: str, paper: PaperFiles) -> list[Path]:
    written = []
    for ending, data in paper.by_ending().items():
        path = out / f"{stem}.{ending}"
        path.write_bytes(data)
        written.append(path)
    return written


def _heads(records: Records, out: Path) -> tuple[Path, ...]:
    path = out / "heads.json"
    path.write_bytes(heads_to_keep(records))
    return (path,)
