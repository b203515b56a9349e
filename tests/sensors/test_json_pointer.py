"""JSON pointers, by RFC 6901."""

import json
from typing import Any

import pytest

from sensors.foreign import lookup, pointer_tokens

# The document and the pointers of RFC 6901 section 5, with the values that section gives.
RFC_6901 = json.loads(
    '{"foo":["bar","baz"],"":0,"a/b":1,"c%d":2,"e^f":3,"g|h":4,"i\\\\j":5,"k\\"l":6," ":7,"m~n":8}',
)
POINTERS: list[tuple[str, Any]] = [
    ("", RFC_6901),
    ("/foo", ["bar", "baz"]),
    ("/foo/0", "bar"),
    ("/", 0),
    ("/a~1b", 1),
    ("/c%d", 2),
    ("/e^f", 3),
    ("/g|h", 4),
    ("/i\\j", 5),
    ('/k"l', 6),
    ("/ ", 7),
    ("/m~0n", 8),
]


@pytest.mark.parametrize(("pointer", "expected"), POINTERS)
def test_the_pointers_of_rfc_6901_section_5_lead_to_its_values(pointer: str, expected: Any) -> None:
    assert lookup(RFC_6901, pointer_tokens(pointer)) == expected


@pytest.mark.parametrize(
    ("document", "pointer", "clause"),
    [
        ({"a": [1, 2]}, "/a/2", "RFC 6901 4: no such element"),
        ({"a": [1, 2]}, "/a/-", "RFC 6901 4: - is the element after the last"),
        ({"a": [1, 2]}, "/a/01", "RFC 6901 4: no leading zero"),
        ({"a": [1, 2]}, "/a/-1", "RFC 6901 4: no sign"),
        ({"a": [1, 2]}, "/a/1e0", "RFC 6901 4: digits only"),
        ({"a": [1, 2]}, "/a/" + "9" * 5000, "RFC 6901 4: no such element"),
        ({"a": 1}, "/a/b", "RFC 6901 4: a number has no members"),
        ({"a": "text"}, "/a/0", "RFC 6901 4: a string has no elements"),
        ({"A": 1}, "/a", "RFC 6901 4: names are compared exactly"),
        ({"a~1": 1}, "/a~01x", "RFC 6901 4: ~01 is ~1"),
    ],
)
def test_a_pointer_that_leads_nowhere_finds_nothing(document: Any, pointer: str, clause: str) -> None:
    assert lookup(document, pointer_tokens(pointer)) is None, clause


def test_tilde_zero_one_is_a_tilde_and_a_one() -> None:
    # RFC 6901 section 4: ~1 is replaced first, so that ~01 cannot become a slash.
    assert lookup({"a~1": 5}, pointer_tokens("/a~01")) == 5
