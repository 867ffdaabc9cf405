"""What is handed over on paper: one self-contained HTML page each, to print on A4 or Letter.

No script, no request to anywhere: style, font and pictures are inside the page. Functions return text and
write no file.

- ``page``: the common sheet: font, colours, running lines.
- ``day_sheet``: what a day's bench sheet comes to.
- ``wall_table``: the portion for each moisture, for the wall.
- ``blank_sheet``: an empty bench sheet to write on.
"""

from __future__ import annotations
