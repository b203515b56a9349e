"""Texts that are made to fit a phone."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from daemon.alarms.shortened import shortened, shortened_words


@pytest.mark.parametrize(
    ("text", "room", "said"),
    [
        ("check its plug", 14, "check its plug"),
        ("check its plug and cable", 19, "check its plug and…"),
        ("check its plug and cable", 22, "check its plug and…"),
        ("check its plug, and cable", 18, "check its plug…"),
        ("a incubatorwithoutanyspace", 12, "a incubator…"),
        ("incubatorwithoutanyspace", 10, "incubator…"),
        ("eggs", 1, "…"),
    ],
)
def test_it_is_cut_between_words_where_that_leaves_most_of_it(text: str, room: int, said: str) -> None:
    assert shortened_words(text, room) == said


@given(st.text(st.sampled_from("ab ,."), max_size=40), st.integers(1, 40))
def test_it_always_fits_and_begins_as_the_text_does(text: str, room: int) -> None:
    for said in (shortened(text, room), shortened_words(text, room)):
        assert len(said) <= room
        assert text.startswith(said.removesuffix("…"))
