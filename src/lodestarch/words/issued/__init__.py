"""What issued papers say: values of a certificate or letter, and the words that they are set in.

- ``statement``: what a certificate states, as plain values without a name in them.
- ``names``: the names that stand on it, apart, so that they can be erased.
- ``printable``: text from anywhere made fit for paper: one line, signs that the font has, a length that fits.
- ``rounded_u``: an expanded uncertainty as the GUM rounds it.
- ``sheet``: the blocks that every issued paper is made of, the same for PDF and HTML.
- ``certificate``, ``letter``, ``evidence``: values into blocks.
"""

from __future__ import annotations
