"""Draw the pictures of docs/pictures from the project's own functions.

Usage: python tools/doc_pictures.py
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from scipy.stats import norm

from lodestarch.method.blend import Lot, blend
from lodestarch.tube import TubeInputs, run, shipped_set
from lodestarch.words.drawing.alone import alone
from lodestarch.words.drawing.plot import Axis, Curve, Dots, Stake, plot

PICTURES = Path(__file__).resolve().parent.parent / "docs" / "pictures"
SECONDS = (62.0, 100.0, 150.0, 200.0, 250.0, 300.0, 350.0, 400.0)


def mixed(high_s: float, low_s: float, share: float) -> float:
    """Falling number of a mix in which ``share`` of the mass is the low lot [s]."""
    if share in {0.0, 1.0}:
        return low_s if share else high_s
    return blend([Lot(high_s, 1.0 - share), Lot(low_s, share)], cap_s=None).seconds_s


def mix_picture() -> str:
    """What a little low grain does to a good bin, beside the average that many expect."""
    shares = np.linspace(0.0, 0.6, 101)
    mix = [mixed(400.0, 100.0, float(w)) for w in shares]
    x = Axis(0.0, 60.0, (0.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0), "low grain in the mix, % of mass")
    y = Axis(62.0, 420.0, SECONDS, "falling number, seconds")
    picture = plot(
        [
            Curve(100.0 * shares, mix, "", "what the mix reads"),
            Curve((0.0, 60.0), (400.0, 220.0), "second", "the average of the numbers"),
        ],
        x, y, f"One part in ten at 100 s brings a bin of 400 s down to {mixed(400.0, 100.0, 0.1):.0f} s, not to 370 s",
        stakes=[Stake(10.0, "one part in ten")], height_px=340.0,
    )  # fmt: skip
    return alone(
        [(picture, 340.0)],
        [
            "By the liquefaction number, 6000/(FN − 50), which adds by mass. No published blend series tests this law."
        ],
    )


def retest_picture(fn_s: float, u_s: float, limit_s: float) -> str:
    """Fifty equally likely readings of the same load, against a limit."""
    reads = fn_s + u_s * norm.ppf((np.arange(50) + 0.5) / 50)
    cells = limit_s + 4.0 * np.floor((reads - limit_s) / 4.0) + 2.0  # no column of dots stands on the limit
    heights = [float(np.count_nonzero(cells[:i] == c)) + 0.5 for i, c in enumerate(cells)]
    passing = int(np.count_nonzero(reads >= limit_s))
    x = Axis(
        fn_s - 3.6 * u_s,
        fn_s + 3.6 * u_s,
        tuple(float(s) for s in range(280, 341, 10)),
        "falling number, seconds",
    )
    y = Axis(0.0, max(heights) + 1.5, (), "")
    picture = plot(
        [], x, y, f"A load that read {fn_s:.0f} s: of 50 readings as likely, {passing} make {limit_s:.0f} s, {50 - passing} do not",
        stakes=[Stake(limit_s, f"limit {limit_s:.0f}")], dots=[Dots(cells.tolist(), heights)], height_px=220.0,
    )  # fmt: skip
    return alone(
        [(picture, 220.0)],
        [f"Standard uncertainty of a reading {u_s:.0f} s; every dot is as likely as every other."],
    )


def fall_picture() -> str:
    """How the stirrer sinks in three tubes: sound, some sprout, sprouted."""
    tubes = [("", "sound", 18.0), ("second", "some sprout", 30.0), ("quiet", "sprouted", 75.0)]
    params = shipped_set()
    curves, said = [], []
    for class_, name, ln in tubes:
        history = run(TubeInputs(ln=ln), params).history
        if history is None:
            raise SystemExit(f"the tube model gives no history at LN {ln:g}")
        curves.append(Curve(history.time_s, 100.0 * history.share_fallen, class_, name))
        said.append(f"{name} {history.seconds:.0f} s")
    end = max(float(c.xs[-1]) for c in curves)
    x = Axis(0.0, end + 20.0, tuple(float(s) for s in range(0, int(end) + 1, 60)), "seconds in the bath")
    y = Axis(0.0, 112.0, (0.0, 25.0, 50.0, 75.0, 100.0), "how far the stirrer has sunk, %")
    title = f"The same starch with little or much enzyme: {', '.join(said)}"
    picture = plot(curves, x, y, title, stakes=[Stake(params["release_s"], "let go")], height_px=300.0)
    return alone(
        [(picture, 300.0)], ["Computed by the tube model; it explains a reading and never corrects one."]
    )


def main() -> None:
    """Write every picture."""
    PICTURES.mkdir(exist_ok=True)
    for name, svg in {
        "mix": mix_picture(),
        "retest": retest_picture(310.0, 9.0, 300.0),
        "fall": fall_picture(),
    }.items():
        (PICTURES / f"{name}.svg").write_text(svg, "utf-8")
        print(PICTURES / f"{name}.svg")


if __name__ == "__main__":
    main()
