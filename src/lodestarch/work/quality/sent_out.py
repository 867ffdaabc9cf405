"""Samples that another lab measured too: what that lab reads above ours, and how far its results wander."""

from __future__ import annotations

from lodestarch.common.arrays import as_array
from lodestarch.common.errors import NoAnswer
from lodestarch.common.findings import Finding, Severity, in_order
from lodestarch.common.nomenclature import legal_range
from lodestarch.control.lab_bias import LabBias, lab_bias
from lodestarch.method.scatter import ScatterLaw
from lodestarch.sheets.plain_columns import placed, read_columns

__all__ = ["bias_of_file"]


def bias_of_file(
    data: bytes, name: str, law: ScatterLaw, tubes: int
) -> tuple[LabBias | None, tuple[Finding, ...]]:
    """Read paired results: ``ours``, ``theirs`` and, where there, ``occasion`` (day, shipment).

    Parameters
    ----------
    data : bytes
    name : str
        File name.
    law : ScatterLaw
        Scatter of one of our tubes: it is taken off the spread of differences. What is left is the other
        lab's own scatter with the wandering of the bias.
    tubes : int
        In each of our results.
    """
    columns = read_columns(
        data, name, texts=("occasion",), numbers=("ours", "theirs"), required=("ours", "theirs")
    )
    if not columns.has("ours") or not columns.has("theirs"):
        return None, columns.findings
    ours, theirs = columns.numbers["ours"], columns.numbers["theirs"]
    low, high = legal_range("seconds")
    occasion = [o or "" for o in columns.texts["occasion"]] if columns.has("occasion") else None
    # A missing result of ours is left out with a finding; until then any level stands for it.
    levels = [x if low <= x <= high else low for x in as_array(ours).tolist()]
    u_ours = [law.mean_sd_s(x, tubes) for x in levels]
    try:
        bias = lab_bias(ours, theirs, u_ours_s=u_ours, occasion=occasion)
    except NoAnswer as cause:
        return None, (*columns.findings, Finding(cause.code, severity=Severity.STOP, values=cause.values))
    return bias, in_order((*columns.findings, *placed(bias.findings, columns)))
