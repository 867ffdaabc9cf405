from __future__ import annotations

import json

import pytest

from lodestarch.common.canonical import canonical_bytes, canonical_text, digest


def test_the_example_of_the_standard():
    # RFC 8785, section 3.2.2 and 3.2.3: the sample object and its canonical form.
    sample = json.loads(
        '{"numbers":[333333333.33333329,1E30,4.50,2e-3,0.000000000000000000000000001],'
        '"string":"\\u20ac$\\u000F\\u000aA\'\\u0042\\u0022\\u005c\\\\\\"\\/","literals":[null,true,false]}'
    )
    expected = (
        '{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
        '"string":"€$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'
    )
    assert canonical_text(sample) == expected


def test_keys_sort_by_utf16_units():
    # RFC 8785, section 3.2.3: an emoji (surrogates from D83D on) sorts before U+FB33.
    assert canonical_text({"\ufb33": 1, "\U0001f600": 2}) == '{"\U0001f600":2,"\ufb33":1}'


@pytest.mark.parametrize("value", [float("nan"), float("inf"), 2**53, "\ud800", {1: 2}])
def test_what_json_cannot_hold_is_refused(value):
    with pytest.raises(ValueError, match=r".+"):
        canonical_bytes(value)


def test_order_of_keys_and_kind_of_container_do_not_matter():
    assert digest({"a": (1, 2), "b": None}) == digest({"b": None, "a": [1, 2]})
    assert digest({"a": [1, 2]}) != digest({"a": [2, 1]})
