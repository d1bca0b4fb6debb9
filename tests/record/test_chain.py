"""The hash chain rests on published standards; these are their own examples."""

from __future__ import annotations

import json

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from hypothesis import given
from hypothesis import strategies as st

from sayso.record.chain import NOTHING_BEFORE, canonical, digest, follow
from sayso.record.errors import NotRecordedError


@pytest.mark.parametrize(
    ("message", "expected"),
    [
        # NIST, "Examples with Intermediate Values", SHA-256 (csrc.nist.gov), for FIPS 180-4; the
        # million a's are from the same collection (FIPS 180-2, appendix B.3).
        (b"abc", "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"),
        (
            b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq",
            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1",
        ),
        (b"a" * 1_000_000, "cdc76e5c9914fb9281a1c7e284d73e67f1809a48a497200e046d39ccc7112cd0"),
        # NIST CAVP, SHA256ShortMsg.rsp, Len = 0
        (b"", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"),
    ],
)
def test_digest_gives_the_nist_example_values(message: bytes, expected: str) -> None:
    assert digest(message) == expected


def test_canonical_json_gives_the_example_of_rfc_8785() -> None:
    # RFC 8785 section 3.2.2 (input) and 3.2.3 (sorted, serialised output)
    given_text = r"""{
      "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
      "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
      "literals": [null, true, false]
    }"""
    expected = (
        '{"literals":[null,true,false],'
        '"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
        r'"string":"€$\u000f\nA' + "'" + r'B\"\\\\\"/"}'
    )
    assert canonical(json.loads(given_text)) == expected


def test_canonical_json_sorts_names_as_rfc_8785_asks() -> None:
    # RFC 8785 section 3.2.3: names sorted by UTF-16 code units, so the smiley comes before U+FB33
    names = {
        "\u20ac": "Euro Sign",
        "\r": "Carriage Return",
        "\ufb33": "Hebrew Letter Dalet With Dagesh",
        "1": "One",
        "\U0001f600": "Emoji: Grinning Face",
        "\u0080": "Control",
        "\u00f6": "Latin",
    }
    order = list(json.loads(canonical(names)))
    assert order == ["\r", "1", "\u0080", "\u00f6", "\u20ac", "\U0001f600", "\ufb33"]


def test_the_signature_library_gives_the_example_of_rfc_8032() -> None:
    # RFC 8032 section 7.1, TEST 2 (one-byte message)
    key = Ed25519PrivateKey.from_private_bytes(
        bytes.fromhex("4ccd089b28ff96da9db6c346ec114e0f5b8a319f35aba624da8cf6ed4fb8a6fb")
    )
    assert key.sign(bytes.fromhex("72")).hex() == (
        "92a009a9f0d4cab8720e820b5f642540a2b27b5416503f8fb3762223ebdb69da"
        "085ac1e43e15996e458f3613d0f11d8c387b2eaeb4302aeeb00d291612bb0c00"
    )


# From 2**53 on, JSON cannot tell a whole float from an integer; no measured value comes near.
numbers = st.integers(-(2**53) + 1, 2**53 - 1) | st.floats(-1e15, 1e15)
names = st.text(st.characters(exclude_categories=["Cs"]), max_size=6)
json_values = st.recursive(
    st.none() | st.booleans() | numbers | names,
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(names, inner, max_size=3),
    max_leaves=8,
)


@given(
    st.text(st.characters(exclude_categories=["Cs"]), min_size=1, max_size=12),
    st.integers(0, 10**6),
    st.integers(-(2**41), 2**42),
    st.dictionaries(st.text(st.characters(exclude_categories=["Cs"]), max_size=6), json_values, max_size=4),
)
def test_an_entry_is_hashed_over_the_canonical_json_of_all_its_fields(
    job: str, seq: int, at_ms: int, data: dict[str, object]
) -> None:
    entry = follow(job, seq, at_ms, "answer", data, NOTHING_BEFORE)
    whole = canonical(
        {"job": job, "seq": seq, "at_ms": at_ms, "kind": "answer", "data": data, "prev": NOTHING_BEFORE}
    )
    assert entry.hash == digest(whole)
    assert canonical(entry.data) == entry.data_json


@pytest.mark.parametrize("value", [float("nan"), float("inf"), 2**60, "\ud800", {1, 2}, b"x"])
def test_what_json_cannot_hold_is_refused_and_not_bent(value: object) -> None:
    with pytest.raises(NotRecordedError, match="cannot be recorded as JSON"):
        follow("J", 1, 0, "answer", {"value": value}, NOTHING_BEFORE)
