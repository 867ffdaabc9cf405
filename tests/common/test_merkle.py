from __future__ import annotations

import hashlib

import pytest

from lodestarch.common.errors import OutOfRange
from lodestarch.common.merkle import InclusionProof, holds, inclusion_proof, leaf_hash, root_hash

# Entries and roots of the test vectors that circulate with implementations of RFC 6962 (recalled; the
# recursion of the RFC itself, below, is the check that counts).
ENTRIES = [
    bytes.fromhex(x)
    for x in (
        "",
        "00",
        "10",
        "2021",
        "3031",
        "40414243",
        "5051525354555657",
        "606162636465666768696a6b6c6d6e6f",
    )
]


def by_the_book(entries):
    """MTH of RFC 6962, section 2.1, as written there."""
    n = len(entries)
    if n == 0:
        return hashlib.sha256(b"").digest()
    if n == 1:
        return hashlib.sha256(b"\x00" + entries[0]).digest()
    k = 1
    while k * 2 < n:
        k *= 2
    return hashlib.sha256(b"\x01" + by_the_book(entries[:k]) + by_the_book(entries[k:])).digest()


@pytest.mark.parametrize("n", [*range(9), 13, 33, 100])
def test_root_is_that_of_the_recursion_in_the_rfc(n):
    entries = [i.to_bytes(2, "big") for i in range(n)]
    assert root_hash([leaf_hash(e) for e in entries]) == by_the_book(entries)


def test_root_of_the_vectors_in_circulation():
    leaves = [leaf_hash(e) for e in ENTRIES]
    assert root_hash(leaves).hex() == "5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328"


@pytest.mark.parametrize("n", [1, 2, 3, 5, 8, 21])
def test_a_proof_holds_for_its_leaf_and_for_nothing_else(n):
    leaves = [leaf_hash(bytes([i])) for i in range(n)]
    root = root_hash(leaves)
    for i in range(n):
        proof = inclusion_proof(leaves, i)
        assert holds(leaves[i], proof, root)
        for j in range(n):
            if j != i:
                assert not holds(leaves[j], proof, root)
                assert not holds(leaves[i], InclusionProof(j, n, proof.path), root)
        assert not holds(leaves[i], InclusionProof(i, n, (*proof.path, root)), root)
        assert not holds(leaves[i], InclusionProof(i, n, proof.path[:-1]), root) or n == 1
        assert not holds(leaves[i], proof, leaf_hash(root))
    assert not holds(leaves[0], InclusionProof(n, n, ()), root)


def test_a_node_never_passes_for_a_leaf():
    leaves = [leaf_hash(b"a"), leaf_hash(b"b")]
    assert leaf_hash(leaves[0] + leaves[1]) != root_hash(leaves)


def test_there_is_no_proof_for_a_leaf_that_is_not_there():
    with pytest.raises(OutOfRange):
        inclusion_proof([leaf_hash(b"a")], 1)
