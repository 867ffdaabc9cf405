"""Inclusion proofs: one entry of a long list, shown to belong to it by a few digests.

A tree over n entries has one root; the proof for one entry is about log2(n) digests. Leaves and nodes are
hashed apart (0x00 and 0x01 in front), so that a node can never pass for a leaf.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass

from lodestarch.common.errors import OutOfRange

__all__ = ["InclusionProof", "holds", "inclusion_proof", "leaf_hash", "root_hash"]


@dataclass(frozen=True, slots=True)
class InclusionProof:
    """The path from one leaf to the root.

    Parameters
    ----------
    index : int
        Place of the leaf, from 0.
    size : int
        Number of leaves.
    path : tuple of bytes
        Digests of the sister nodes, from the leaf up. [32 bytes each]
    """

    index: int
    size: int
    path: tuple[bytes, ...]


def leaf_hash(entry: bytes) -> bytes:
    """Return SHA-256(0x00 || entry), Eq. of section 2.1 in [1]_.

    References
    ----------
    .. [1] B. Laurie, A. Langley, E. Kasper, Certificate Transparency, RFC 6962, 2013, section 2.1.
    """
    return hashlib.sha256(b"\x00" + entry).digest()


def _node(left: bytes, right: bytes) -> bytes:
    return hashlib.sha256(b"\x01" + left + right).digest()


def _pair_up(level: Sequence[bytes]) -> list[bytes]:
    """Return the level above; an odd node at the end goes up as it is."""
    above = [_node(level[i], level[i + 1]) for i in range(0, len(level) - 1, 2)]
    if len(level) % 2:
        above.append(level[-1])
    return above


def root_hash(leaves: Sequence[bytes]) -> bytes:
    """Return the root over leaf hashes; SHA-256 of nothing where there are none.

    The recursive split of RFC 6962 (at the largest power of two below n) and pairing level by level with
    the odd node carried up give the same tree.

    Examples
    --------
    >>> root_hash([]).hex()[:16]
    'e3b0c44298fc1c14'
    """
    if not leaves:
        return hashlib.sha256(b"").digest()
    level = list(leaves)
    while len(level) > 1:
        level = _pair_up(level)
    return level[0]


def inclusion_proof(leaves: Sequence[bytes], index: int) -> InclusionProof:
    """Return the proof that ``leaves[index]`` is under the root over ``leaves``.

    Raises
    ------
    OutOfRange
        When there is no such leaf.
    """
    if not 0 <= index < len(leaves):
        raise OutOfRange("index", index, 0, len(leaves) - 1, "1")
    level, place, path = list(leaves), index, []
    while len(level) > 1:
        sister = place ^ 1
        if sister < len(level):
            path.append(level[sister])
        level = _pair_up(level)
        place >>= 1
    return InclusionProof(index, len(leaves), tuple(path))


def holds(leaf: bytes, proof: InclusionProof, root: bytes) -> bool:
    """Tell whether ``proof`` leads from a leaf hash to ``root``.

    Never raises: a proof that is too short, too long or out of place does not hold.
    """
    place, last = proof.index, proof.size - 1
    if not 0 <= place <= last:
        return False
    node = leaf
    for sister in proof.path:
        if last == 0:
            return False
        if place % 2 or place == last:
            node = _node(sister, node)
            while place % 2 == 0 and place:
                place, last = place >> 1, last >> 1
        else:
            node = _node(node, sister)
        place, last = place >> 1, last >> 1
    return last == 0 and node == root
