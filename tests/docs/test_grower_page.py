"""The page that growers get: its figures are those of the method, and it reads as easily as it should."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
import textstat
from scipy.stats import norm

from lodestarch.method.blend import Lot, blend

ROOT = Path(__file__).resolve().parents[2]
PAGE = (ROOT / "docs" / "what-the-number-means.md").read_text("utf-8")


def test_its_mix_is_the_one_that_the_law_gives():
    mix = blend([Lot(400.0, 0.9), Lot(100.0, 0.1)])
    assert f"brings a bin of 400 s down to {mix.seconds_s:.0f} s" in PAGE
    assert f"would say {0.9 * 400 + 0.1 * 100:.0f} s" in PAGE


def test_its_fifty_dots_are_the_quantiles_of_one_normal_law():
    quantiles = norm.ppf([(i + 0.5) / 50 for i in range(50)], 310.0, 9.0)
    passing = sum(q >= 300.0 for q in quantiles)
    drawn = (ROOT / "docs" / "pictures" / "retest.svg").read_text("utf-8")
    assert f"of 50 readings as likely, {passing} make 300 s, {50 - passing} do not" in drawn
    assert len(re.findall("<circle", drawn)) == 50


@pytest.mark.parametrize(
    ("measure", "most"), [("automated_readability_index", 7.0), ("coleman_liau_index", 8.0)]
)
def test_a_reader_of_twelve_can_follow_it(measure, most):
    # By letters and sentences: counts of syllables would need a dictionary that is fetched.
    words = re.sub(r"!\[.*?\]\(.*?\)|\[([^]]*)\]\([^)]*\)|[*#|_>-]", r"\1", PAGE)
    assert getattr(textstat, measure)(words) <= most
