"""One place for formatters, sentences, catalogues of languages and pictures.

Pure rooms return codes and values; what a person reads is made here, the same for screen, paper and
terminal. Contents:

- ``catalogues``: the texts of one language, from TOML.
- ``numbers``: how a number is written.
- ``result``: the result line, the line for the phone.
- ``findings``: a finding in three short parts: where, what is wrong, what to do.
- ``day``: the sentence that says what is waiting.
- ``limits``: a buyer's floor or window in words.
"""

from __future__ import annotations
