"""Two hundred sheets damaged in twenty ways: findings or a clear refusal, and every row accounted for.

Each damage works on a sound sheet of a few dozen rows; rows are counted again from the damaged text by
``sheet_text.count_rows``, a character at a time. A workbook is counted where its XML still holds its rows.
"""

from __future__ import annotations

import io
import random
import zipfile
from collections.abc import Callable

import pytest

from lodestarch.common.findings import Severity
from lodestarch.sheets.bench_sheet import read_bench_sheet
from lodestarch.sheets.sample_sheet import read_sample_sheet
from sheets.sheet_text import HEADER, assert_accounted, count_rows, workbook

ROUNDS = 10


def sound(rng: random.Random, delimiter: str = ",", quote: str = "") -> str:
    rows = [HEADER]
    for i in range(rng.randint(3, 40)):
        seconds = rng.choice(["<=62", ">400", str(rng.randint(70, 380)), str(rng.randint(70, 380))])
        cells = dict.fromkeys(HEADER, "") | {
            "ticket": str(8800 + i // 2),
            "sample": f"S{i // 2}",
            "position": str(i % 2 + 1),
            "seconds": seconds,
            "moisture_pct": f"{rng.uniform(9, 16):.1f}",
            "mass_g": f"{rng.uniform(6, 7.5):.2f}",
            "analyst": rng.choice(["Jørgen", "Zoë", "K. Łuk", "AB"]),
            "run_at": f"2031-08-14T{rng.randrange(24):02d}:{rng.randrange(60):02d}",
        }
        rows.append([cells[h] for h in HEADER])
    return "".join(delimiter.join(f"{quote}{f}{quote}" for f in r) + "\n" for r in rows)


def insert(text: str, rng: random.Random, what: str, times: int) -> str:
    """``text`` with ``what`` put into its rows, its header left alone."""
    head, body = text.split("\n", 1)
    for _ in range(times):
        at = rng.randrange(len(body))
        body = body[:at] + what + body[at:]
    return f"{head}\n{body}"


Damage = Callable[[random.Random], tuple[bytes, int | None]]


def text_damage(change: Callable[[str, random.Random], str], delimiter: str = ",", quote: str = "") -> Damage:
    def damage(rng: random.Random) -> tuple[bytes, int | None]:
        text = change(sound(rng, delimiter, quote), rng)
        return text.encode(), count_rows(text, delimiter)

    return damage


def bytes_damage(change: Callable[[bytes, random.Random], bytes]) -> Damage:
    """Counted on the bytes: line ends, delimiters and quotation marks are ASCII in every encoding here."""

    def damage(rng: random.Random) -> tuple[bytes, int | None]:
        data = change(sound(rng).encode(), rng)
        return data, count_rows(data.removeprefix(b"\xef\xbb\xbf").decode("latin-1"), ",")

    return damage


def duplicate_header(text: str, rng: random.Random) -> str:
    head, body = text.split("\n", 1)
    names = head.split(",")
    names[rng.choice([0, 4, 6, 7, 13])] = rng.choice(["seconds", "sample", "moisture_pct"])
    return ",".join(names) + "\n" + body


def ragged(text: str, rng: random.Random) -> str:
    lines = text.splitlines()
    for i in range(1, len(lines)):
        lines[i] = rng.choice(
            [lines[i], lines[i] + ",x", lines[i][: rng.randrange(len(lines[i]))], lines[i] + ",,"]
        )
    return "\n".join(lines) + "\n"


def formulas(text: str, rng: random.Random) -> str:
    lines = [line.split(",") for line in text.splitlines()]
    for line in lines[1:]:
        line[rng.randrange(len(line))] = rng.choice(["=1+1", "@SUM(A1)", "+287", "-287", '"=HYPERLINK(1,2)"'])
    return "\n".join(",".join(line) for line in lines) + "\n"


def blank_lines(text: str, rng: random.Random) -> str:
    blanks = ["", " ", ",,,", ",\u00a0,", '"",""', "\t"]
    return "".join(line + "\n" + rng.choice(blanks) + "\n" for line in text.splitlines())


def ten_megabytes(rng: random.Random) -> tuple[bytes, int | None]:
    """One line of 10 MB (of 300 kB in most rounds, for time); whatever it is made of, it stays one row."""
    text = sound(rng)
    size = 10_000_000 if rng.random() < 0.3 else 300_000
    long = insert(text, rng, rng.choice(["x", ",", '"', "=", "\u00e9"]) * size, 1)
    return long.encode(), count_rows(text, ",")


def mixed_encodings(data: bytes, rng: random.Random) -> bytes:
    lines = data.split(b"\n")
    return b"\n".join(x if rng.random() < 0.5 else x.decode().encode("cp1252", "replace") for x in lines)


def flipped(data: bytes, rng: random.Random) -> bytes:
    out = bytearray(data)
    start = out.index(b"\n") + 1
    for _ in range(rng.randint(1, 30)):
        out[rng.randrange(start, len(out))] ^= 1 << rng.randrange(8)
    return bytes(out)


def utf16_cut(rng: random.Random) -> tuple[bytes, int | None]:
    text = sound(rng)
    data = text.encode("utf-16")
    data = data[: rng.randrange(len(text.split("\n")[0]) * 2 + 4, len(data))]
    return data, count_rows(data[: len(data) // 2 * 2].decode("utf-16", "replace"), ",")


def binary(rng: random.Random) -> tuple[bytes, int | None]:
    head = rng.choice(
        [b"", b"%PDF-1.4\n", b"\x1f\x8b", b"PK\x03\x04", b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", b"\xff\xfe"]
    )
    return head + rng.randbytes(rng.randint(1, 5000)), None


def book_rows(rng: random.Random) -> list[list[object]]:
    rows: list[list[object]] = [line.split(",") for line in sound(rng).splitlines()]
    for row in rows[1:]:
        if rng.random() < 0.3:
            row[rng.randrange(len(row))] = rng.choice(
                ["=1+1", "=A1", '=HYPERLINK("x")', 287, None, True, 1e300]
            )
    return rows


def book_formulas(rng: random.Random) -> tuple[bytes, int | None]:
    rows = book_rows(rng)
    return workbook(rows), len(rows) - 1


def book_cut(rng: random.Random) -> tuple[bytes, int | None]:
    data = workbook(book_rows(rng))
    return data[: rng.randrange(4, len(data))], None


def book_flipped(rng: random.Random) -> tuple[bytes, int | None]:
    data = bytearray(workbook(book_rows(rng)))
    for _ in range(rng.randint(1, 20)):
        data[rng.randrange(4, len(data))] ^= 1 << rng.randrange(8)
    return bytes(data), None


def book_xml(rng: random.Random) -> tuple[bytes, int | None]:
    """The worksheet's XML damaged inside a sound package."""
    out = io.BytesIO()
    with zipfile.ZipFile(io.BytesIO(workbook(book_rows(rng)))) as old, zipfile.ZipFile(out, "w") as new:
        for part in old.namelist():
            body = bytearray(old.read(part))
            if part.startswith("xl/worksheets/"):
                for _ in range(rng.randint(1, 5)):
                    at = rng.randrange(len(body))
                    body[at : at + rng.randint(0, 3)] = rng.randbytes(rng.randint(0, 3))
            new.writestr(part, bytes(body))
    return out.getvalue(), None


DAMAGES: dict[str, Damage] = {
    "cut anywhere": bytes_damage(lambda d, rng: d[: rng.randrange(d.index(b"\n") + 2, len(d))]),
    "cut in UTF-16": utf16_cut,
    "Windows-1252": text_damage(lambda t, _: t.replace("Ł", "L")),
    "mixed encodings": bytes_damage(mixed_encodings),
    "bits flipped": bytes_damage(flipped),
    "binary": binary,
    "NUL bytes": text_damage(lambda t, rng: insert(t, rng, "\x00", rng.randint(1, 20))),
    "NUL block": text_damage(lambda t, rng: t + "\x00" * rng.randint(1, 20)),
    "ten megabytes on a line": ten_megabytes,
    "duplicate headers": text_damage(duplicate_header),
    "open quotes": text_damage(lambda t, rng: insert(t, rng, '"', rng.randint(1, 9))),
    "open quotes among quotes": text_damage(lambda t, rng: insert(t, rng, '"', rng.randint(1, 9)), ";", '"'),
    "ragged": text_damage(ragged),
    "formula cells": text_damage(formulas),
    "blank lines": text_damage(blank_lines),
    "line ends lost": text_damage(lambda t, rng: t.replace("\n", rng.choice(["\r", "\r\n"])), "\t"),
    "workbook with formulas": book_formulas,
    "workbook cut": book_cut,
    "workbook with bits flipped": book_flipped,
    "workbook with damaged XML": book_xml,
}


@pytest.mark.parametrize("name", DAMAGES)
def test_damaged_sheets_lose_no_row_and_raise_nothing(name):
    assert len(DAMAGES) * ROUNDS == 200
    for round_ in range(ROUNDS):
        data, rows = DAMAGES[name](random.Random(f"{name} {round_}"))
        sheet = read_bench_sheet(data, "day")
        refused_whole = not sheet.rows and any(f.severity is Severity.STOP for f in sheet.findings)
        assert_accounted(sheet, None if refused_whole else rows)
        assert not any("\x00" in t for t in sheet.frame["row_text"].to_list())
        read_sample_sheet(data, "samples")
        if name in {"ragged", "formula cells", "open quotes", "workbook with formulas", "duplicate headers"}:
            assert not refused_whole
