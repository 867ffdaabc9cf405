"""What is handed over: certificates, letters, evidence, and their check.

- ``lab``: how the lab names itself on paper.
- ``gather``: everything that the records hold of one sample, as a certificate states it.
- ``agreed``: a decision rule that was agreed, applied.
- ``certificate``, ``letter``, ``evidence``: issuing them.
- ``papers``: issued papers out of the records again.
- ``check_file``: a file held against the records or against a head kept elsewhere.
"""

from __future__ import annotations
