"""The pictures: SVG from plain values, the same on page and paper.

Places along the seconds axis are per cent of the width, everything else goes with the size of the letters
(``rem``), so a picture fits any width and any size of letters. Colours and line widths come from
``drawing.css``; no element has a style of its own, so that a strict content policy holds.

- ``svg``: elements, escaped.
- ``axis``: the seconds axis, low on the left, and the limits as named lines.
- ``strip``: all samples of a day.
- ``tubes``: the readings of one sample.
- ``bins``: a row a bin.
- ``plot``: curves over a common axis; ``rows``: bars and marks, a row a name.
- ``tube_cut``: one tube at one moment, cut open; ``tube_curves``: what happens in it against time.
- ``alone``: a picture as a file of its own.
"""

from __future__ import annotations
