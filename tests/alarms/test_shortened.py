"""Texts that are made to fit a phone."""

import re

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
        # Within a figure, between a figure and its unit, and where a long word before it leaves no better place.
        ("lid at 30.1 °C, 0.05 K above the dew point", 20, "lid at 30.1 °C…"),
        ("lid at 30.1 °C, 0.05 K above the dew point", 21, "lid at 30.1 °C…"),
        ("lid at 30.1 °C, 0.05 K above the dew point", 23, "lid at 30.1 °C, 0.05 K…"),
        ("12.5 incubatorwithoutanyspace", 4, "…"),
        ("in incubatorwithoutanyspaceatall 33.5 °C", 36, "in incubatorwithoutanyspaceatall…"),
        ("box N1 of 12 is too warm", 14, "box N1 of…"),
    ],
)
def test_it_is_cut_between_words_where_that_leaves_most_of_it(text: str, room: int, said: str) -> None:
    assert shortened_words(text, room) == said


FIGURES = st.builds(lambda whole, part: f"{whole}.{part} °C", st.integers(0, 99), st.integers(0, 99))


@given(st.lists(FIGURES | st.text(st.sampled_from("abc"), min_size=1, max_size=30), max_size=8), st.integers(1, 80))
def test_no_figure_is_shown_without_its_end_or_its_unit(parts: list[str], room: int) -> None:
    text = " ".join(parts)
    said = shortened_words(text, room).removesuffix("…")
    figures = re.findall(r"\d+\.\d+ °C", text)
    assert re.findall(r"\d+\.\d+ °C", said) == figures[: said.count("°C")]
    assert not re.search(r"\d[\d.]*$", said)


@given(st.text(st.sampled_from("ab ,."), max_size=40), st.integers(1, 40))
def test_it_always_fits_and_begins_as_the_text_does(text: str, room: int) -> None:
    for said in (shortened(text, room), shortened_words(text, room)):
        assert len(said) <= room
        assert text.startswith(said.removesuffix("…"))
