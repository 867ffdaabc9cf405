"""Papers made by hand for tests: every field set, so that each can be found again on the page."""

from __future__ import annotations

import dataclasses
import json
import subprocess
from pathlib import Path
from typing import Any

from lodestarch.report.issued_paper import IssuedPaper, LogProof, SaltedNames
from lodestarch.report.plain import to_plain
from lodestarch.words.issued.letter_statement import LETTER_FORM, Again, Letter, LetterLimit, LetterPrice
from lodestarch.words.issued.names import CustomerNames, LabNames
from lodestarch.words.issued.statement import (
    CERTIFICATE_FORM,
    Certificate,
    Conformity,
    Deviation,
    Drawn,
    Item,
    Lab,
    MethodUsed,
    Released,
    Replaced,
    StatedReading,
    StatedResult,
)

ISSUED_AT = "2024-08-22T09:00:00.000000Z"
LAB = Lab(
    "Gannet Bench",
    ("Wharf Lane 3", "Nether Tamwold"),
    "bench@gannet.example, 555 0137",
    "Shed 2, Ostrawick quay",
)
ENTRY = json.dumps({"data": {"changes": [{"row": {"head_seq": 41, "head_hash": "ab" * 32}}]}})
PROOF = LogProof(ENTRY, 0, 1, (), "{}")


def readings(count: int) -> tuple[StatedReading, ...]:
    return tuple(
        StatedReading(
            f"A-{i // 2 + 1:02d}",
            str(i % 2 + 1),
            287.0 + i,
            0,
            7.02,
            13.4,
            f"2024-08-21T09:{i % 60:02d}:00",
            "stands",
            None,
            False,
        )
        for i in range(count)
    )


def certificate(**changes: Any) -> Certificate:
    item = Item(
        "S-8814",
        "T-8814",
        "load",
        "wheat, hard",
        "Harthwin",
        "declared",
        "Cressolt",
        "2024-08-18",
        26.4,
        1500.0,
        "seal 40117",
        "dry and clean",
        "2024-08-21T07:10:00",
    )
    method = MethodUsed(
        "gannet-14@2",
        "meal at 14 %",
        "Standard cited XY-1",
        ("Printed standard XY-1, 2009",),
        "2024-08-01",
        False,
        14.0,
        7.0,
        2,
        "none",
        951.2,
        "sieved at 2 mm",
        1.2,
        0.4,
        300.0,
        "mill M1",
        "2024-08-21T08:50:00",
        13.4,
        "drying dish",
        "meal",
        "2024-08-21T08:55:00",
    )
    aside = StatedReading(
        "A-09", "3", 241.0, 0, 6.98, 13.4, "2024-08-21T09:40:00", "set-aside", "lumps", False
    )
    given = Certificate(
        CERTIFICATE_FORM,
        "lab-d7",
        "lab",
        ISSUED_AT,
        "en",
        False,
        "0.1",
        LAB,
        item,
        Drawn("probed at five places", "the carrier", 5, 12),
        method,
        (*readings(2), aside),
        StatedResult(287.0, 0, "mean", 2, True, 1.0, 28.0, "agrees", 7.3, 2.0, 14.6, False),
        Conformity("contract Q-24-3", 300.0, None, "guarded", 12.0, 0.05, "2024-07-01", "does-not-meet"),
        (Deviation("set-aside", 1),),
        Released("r1", "2024-08-21T12:00:00Z", False),
        Replaced("lab-d3", "2024-08-21T13:00:00Z", "ground again after lumps", "291 s"),
        "The low number fits a wet harvest.",
    )
    return dataclasses.replace(given, **changes)


def paper(
    given: Certificate | None = None,
    customer: CustomerNames | None = None,
    later: dict[str, str] | None = None,
) -> IssuedPaper:
    given = given or certificate()
    customer = customer or CustomerNames("Feldwick Farm", "office@feldwick.example")
    lab = LabNames("Ada Merrowby", "Bo Tarrel", ("MQ", "TD"))
    names = [SaltedNames("00", to_plain(one)) for one in (customer, lab)]  # type: ignore[arg-type]
    return IssuedPaper("certificate", given.number, given.site, to_plain(given), *names, PROOF, later)  # type: ignore[arg-type]


def letter(**changes: Any) -> Letter:
    """The fullest letter: close to its limit, sprouted, with prices asked for, and long names."""
    lab = dataclasses.replace(LAB, name="Joint Laboratory of the Growers and Millers of the Lower Vosk")
    given = Letter(
        LETTER_FORM,
        "lab-d17",
        "lab",
        ISSUED_AT,
        "en",
        True,
        "0.1",
        lab,
        "8814",
        "8814",
        "wheat",
        "Harthwin " * 4,
        26.4,
        "2024-08-20T07:00:00",
        199.0,
        0,
        2,
        14.0,
        LetterLimit("the long named supply contract of the joint growers of Vosk", 200.0, None),
        Again(9.0, 0.46, elsewhere=True),
        "too-close",
        True,
        "lab-d3",
        "2025-02-20",
        tuple(
            LetterPrice(f"Buyer {i} with a rather long name in the valley", 5.81 - i / 10, "USD", "bu", 0.4)
            for i in range(3)
        ),
        "2024-08-20",
    )
    return dataclasses.replace(given, **changes)


def letter_paper(given: Letter, customer: str = "Gäldvik & Søn Þorsgård " * 6) -> IssuedPaper:
    names = SaltedNames("00", to_plain(CustomerNames(customer, "")))  # type: ignore[arg-type]
    return IssuedPaper("letter", given.number, given.site, to_plain(given), names, None, PROOF)  # type: ignore[arg-type]


def run(*words: str | Path) -> str:
    """Run a program of the system and return what it prints."""
    done = subprocess.run([str(w) for w in words], capture_output=True, check=True)
    return done.stdout.decode("utf-8", "replace")


def text_of(pdf: bytes, folder: Path) -> str:
    """Text of a PDF as an independent reader sees it, on one line, without marks for breaking."""
    path = folder / "paper.pdf"
    path.write_bytes(pdf)
    return " ".join(run("pdftotext", "-layout", path, "-").replace("\u200b", "").split())


def pages_of(pdf: bytes, folder: Path) -> list[str]:
    path = folder / "paper.pdf"
    path.write_bytes(pdf)
    return run("pdftotext", "-layout", path, "-").split("\f")[:-1]
