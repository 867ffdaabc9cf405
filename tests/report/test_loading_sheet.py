"""The loading sheet on paper: what it has to say, names that hold anything, and the same bytes each time."""

from __future__ import annotations

import shutil
import subprocess
from datetime import UTC, datetime

import numpy as np
import pytest

from lodestarch.demo import harvest_plan
from lodestarch.report.loading_sheet import loading_sheet_pdf
from lodestarch.words.loading_paper import loading_paper
from lodestarch.work.planning.allocate import problem_for

AT = datetime(2026, 8, 12, 9, 30, 0, 123456, tzinfo=UTC)
LONG = "Mühlenwerke Großenöd-Wörmlingen & Söhne, #strong[Silo] $x$ \\\\ Žďár nad Sázavou, Østerågade 17"
RUN = "Donaudampfschifffahrtselektrizitaetenhauptbetriebswerkbauunterbeamtengesellschaft"


@pytest.fixture(scope="module")
def answer():
    text = harvest_plan().decode()
    text = text.replace('id = "quillmere-24-3"\n', f'id = "quillmere-24-3"\nname = "{LONG}"\n', 1)
    text = text.replace('id = "dunveth-24-11"\n', f'id = "dunveth-24-11"\nname = "{RUN}"\n', 1)
    text += '\n[[draw]]\nbin = "bin-1"\nto = "quillmere-24-3"\ntonnes = 100\n'
    outcome = problem_for(text.encode(), "plan.toml", rng=np.random.default_rng(0), beside=False)
    assert outcome.answer is not None
    return outcome.answer


def read(pdf, tmp_path):
    path = tmp_path / "sheet.pdf"
    path.write_bytes(pdf)
    done = subprocess.run(["pdftotext", "-layout", str(path), "-"], capture_output=True, check=True)
    return done.stdout.decode()


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="poppler-utils is not on this machine")
@pytest.mark.parametrize("size", ["a4", "letter"])
def test_the_paper_says_what_the_hand_at_the_gate_needs(answer, tmp_path, size):
    said = " ".join(read(loading_sheet_pdf(loading_paper(answer, AT), AT, size), tmp_path).split())
    sheet = next(s for s in answer.sheets if s.offer_id == "quillmere-24-3")
    assert "Grain dust explodes" in said
    assert "Demonstration" not in said
    assert f"in {sheet.loads} loads of 26" in said
    for line in sheet.lines:
        assert line.bin_id in said
        assert f"{line.tonnes:.1f}" in said
    assert f"Stop if it reads under {sheet.stop_s:.0f}" in said
    assert "× 2 t" in said
    assert "bin-1 *" in said.replace("\u00a0", " ")
    assert "A settled draw is marked with an asterisk." in said


@pytest.mark.skipif(shutil.which("pdftotext") is None, reason="poppler-utils is not on this machine")
def test_a_name_is_text_and_never_markup(answer, tmp_path):
    said = read(loading_sheet_pdf(loading_paper(answer, AT), AT), tmp_path)
    flat = " ".join(said.split())
    assert "#strong[Silo] $x$" in flat
    assert "Žďár nad" in flat
    assert "Donaudampfschifffahrts" in flat.replace(" ", "")


def test_the_same_plan_gives_the_same_bytes_and_another_moment_others(answer):
    paper = loading_paper(answer, AT, demonstration=True)
    first = loading_sheet_pdf(paper, AT)
    assert first == loading_sheet_pdf(paper, AT)
    assert first.startswith(b"%PDF-")
    assert first != loading_sheet_pdf(paper, AT, "letter")


def test_without_a_plan_there_is_a_paper_that_says_so(tmp_path):
    text = harvest_plan().decode() + '\n[[draw]]\nbin = "bin-5"\nto = "quillmere-24-3"\ntonnes = 270\n'
    outcome = problem_for(text.encode(), "plan.toml", rng=np.random.default_rng(0), beside=False)
    assert outcome.answer is not None
    paper = loading_paper(outcome.answer, AT)
    assert paper.blends == ()
    assert loading_sheet_pdf(paper, AT).startswith(b"%PDF-")
