"""One way to write a value as bytes, so that a digest of it means the same everywhere.

The bytes are those of RFC 8785 (JSON Canonicalization Scheme): keys sorted, no blanks, numbers in their
shortest form. Digests are SHA-256.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from typing import Final

import rfc8785

__all__ = ["DIGEST_BYTES", "Json", "canonical_bytes", "canonical_text", "digest", "sha256_hex"]

Json = None | bool | int | float | str | Sequence["Json"] | Mapping[str, "Json"]
"""A value that JSON can hold."""

DIGEST_BYTES: Final = 32
"""Length of a SHA-256 digest. [bytes]"""


def _plain(value: Json) -> Json:
    """Return ``value`` in the containers that the serialiser knows (dict, list)."""
    if isinstance(value, Mapping):
        return {key: _plain(part) for key, part in value.items()}
    if isinstance(value, Sequence) and not isinstance(value, str):
        return [_plain(part) for part in value]
    return value


def canonical_bytes(value: Json) -> bytes:
    """Write ``value`` in the bytes of RFC 8785.

    Parameters
    ----------
    value : Json
        Null, truth value, number, text, sequence, or mapping with text keys. Integers must lie within
        2^53 - 1 of zero and floats be finite: JSON numbers carry no more.

    Raises
    ------
    ValueError
        When the value holds NaN, an infinity, a larger integer, a lone surrogate or a key that is no text.

    Examples
    --------
    >>> canonical_bytes({"seconds": 287.0, "kind": 0, "sample": "8814"})
    b'{"kind":0,"sample":"8814","seconds":287}'

    References
    ----------
    .. [1] A. Rundgren, B. Jordan, S. Erdtman, JSON Canonicalization Scheme, RFC 8785, 2020.
    """
    return rfc8785.dumps(_plain(value))


def canonical_text(value: Json) -> str:
    """Write ``value`` as :func:`canonical_bytes` does, as text."""
    return canonical_bytes(value).decode("utf-8")


def sha256_hex(data: bytes) -> str:
    """Return the SHA-256 digest of bytes in 64 lower-case hexadecimal digits."""
    return hashlib.sha256(data).hexdigest()


def digest(value: Json) -> str:
    """Return the SHA-256 digest of the canonical bytes of a value.

    Examples
    --------
    >>> digest({})
    '44136fa355b3678a1146ad16f7e8649e94fb4fc21fe77e8310c060f61caaff8a'
    """
    return sha256_hex(canonical_bytes(value))
