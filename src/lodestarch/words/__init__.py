"""One place for formatters, sentences, catalogues of languages and pictures.

Pure rooms return codes and values; what a person reads is made here, the same for screen, paper and
terminal. Contents:

- ``catalogues``: the texts of one language, from TOML.
- ``numbers``: how a number is written.
- ``result``: the result line, the line for the phone.
- ``findings``: a finding in three short parts: where, what is wrong, what to do.
- ``day``: the sentence that says what is waiting.
- ``register``: a line a sample.
- ``bins``: a bin in words.
- ``accounts``: what became of the rows of a sheet.
- ``times``: how a time is written.
- ``face``: colours by role, light and dark.
- ``shapes``: what pages and papers need to know of a day, without importing the room that makes it.
- ``drawing``: the pictures, as SVG that takes its colours from a style sheet.
- ``limits``: a buyer's floor or window in words.
"""

from __future__ import annotations
