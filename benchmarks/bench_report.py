"""How fast certificates are issued: one JSON object on standard output.

    python benchmarks/bench_report.py [--quick]

500 certificates of one sample's size: gathered from the records, stated, put into the log with their proof, set as
PDF and HTML, and their bytes put into the log. The peer, in the same run: the bare page setter on the same pages
(the same inputs, nothing else), in a process of its own because its cache is shared within one. The ratio is of
processor time; peak memory is that of the issuing process.
"""

from __future__ import annotations

import argparse
import json
import resource
import subprocess
import sys
import tempfile
import time
from datetime import UTC, datetime
from pathlib import Path

from lodestarch.common.canonical import sha256_hex
from lodestarch.demo.handing_over import CHEMIST, INVENTED_PROFILE, hand_over
from lodestarch.records.engine import open_records
from lodestarch.report.issued import ATTACHED, sheet_of
from lodestarch.report.typeset import FONT_FOLDER, STANDARDS, TEMPLATE, template_inputs
from lodestarch.work.bench.day import run_day
from lodestarch.work.bench.day_order import DayFile, DayOrder
from lodestarch.work.issuing.certificate import CertificateAsked, issue_certificate

AT = datetime(2024, 8, 22, 9, 30, tzinfo=UTC)


def sheet(count: int) -> DayFile:
    """Two tubes for each sample, levels over the usual span."""
    rows = ["sample,run,position,seconds,moisture_pct,mass_g"]
    for i in range(count):
        level = 220 + (i * 37) % 160
        rows += [f"B{i:04d},{i // 4 + 1},{p + 1},{level + 3 * p},14,7.00" for p in range(2)]
    return DayFile("bench.csv", "\n".join([*rows, ""]).encode())


def bare(path: Path) -> None:
    """The page setter by itself on inputs that were kept: a process of its own, so that no cache is shared."""
    import typst

    fonts = typst.Fonts(include_system_fonts=False, include_embedded_fonts=False, font_paths=[FONT_FOLDER])
    setter = typst.Compiler(TEMPLATE, font_paths=fonts, ignore_system_fonts=True)
    spent = 0.0
    digests = []
    for n, line in enumerate(path.read_text("utf-8").splitlines()):
        inputs = json.loads(line)
        begun = time.process_time()
        made = setter.compile(format="pdf", pdf_standards=list(STANDARDS), sys_inputs=inputs, timestamp=AT)
        spent += (time.process_time() - begun) * (n > 0)  # the first one warms up, as ours did
        digests.append(sha256_hex(bytes(made)))
    print(json.dumps({"spent": spent, "digests": digests}))


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--quick", action="store_true")
    parser.add_argument("--bare", type=Path)
    asked = parser.parse_args()
    if asked.bare:
        bare(asked.bare)
        return
    count = 10 if asked.quick else 500
    ours = wall = 0.0
    size = 0
    digests = []
    with (
        tempfile.TemporaryDirectory() as folder,
        open_records(Path(folder) / "r.db", clock=lambda: AT, site="demo") as records,
    ):
        hand_over(records, Path(folder), at=AT)  # the invented lab with its signed-off profile; it warms up
        run_day(
            DayOrder(sheet=sheet(count), profile=INVENTED_PROFILE), records=records, person=CHEMIST, at=AT
        )
        with records.unit(CHEMIST, AT) as unit:
            for i in range(count):
                unit.release(f"B{i:04d}", by_rule=False, reason="bench")
        kept = Path(folder) / "inputs"
        with kept.open("w", encoding="utf-8") as inputs:
            for i in range(count):
                begun, clock = time.process_time(), time.perf_counter()
                made = issue_certificate(records, CertificateAsked(f"B{i:04d}"), person=CHEMIST, at=AT)
                spent = time.process_time() - begun
                ours += spent * (i > 0)
                wall += time.perf_counter() - clock
                assert made.files is not None
                assert made.paper is not None
                given = template_inputs(sheet_of(made.paper), ATTACHED["certificate"], made.files.json)
                inputs.write(json.dumps(given) + "\n")
                digests.append(sha256_hex(made.files.pdf))
                size += len(made.files.pdf)
        kib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        done = subprocess.run(
            [sys.executable, __file__, "--bare", str(kept)], capture_output=True, text=True, check=True
        )
    peer = json.loads(done.stdout)
    assert peer["digests"] == digests  # the same pages, byte for byte
    body = {
        "certificates": count,
        "issue_ms_each": 1e3 * ours / (count - 1),
        "issue_wall_ms_each": 1e3 * wall / count,
        "page_setter_ms_each": 1e3 * peer["spent"] / (count - 1),
        "ratio": ours / peer["spent"],
        "pdf_kib_each": size / count / 1024,
        "peak_memory_mib": kib / 1024,
    }
    print(json.dumps(body, indent=1))


if __name__ == "__main__":
    main()
