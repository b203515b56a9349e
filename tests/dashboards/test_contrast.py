"""The colours of the style sheet against WCAG 2.2, success criteria 1.4.3 (text, 4.5) and 1.4.11 (shapes, 3)."""

import re

import pytest

from dashboards.rendering import STATIC
from dashboards.standing import Tone

TEXT, SHAPE = 4.5, 3.0
PAIRS = [
    ("ink", "paper", TEXT),
    ("soft", "paper", TEXT),
    ("ink", "plain", TEXT),
    *[("black", tone.value, TEXT) for tone in Tone if tone is not Tone.PLAIN],
    ("soft", "paper", SHAPE),
    ("well", "paper", SHAPE),
    ("focus", "paper", SHAPE),
    ("ink", "safe", SHAPE),
]


def colours() -> dict[str, dict[str, str]]:
    """The light set, and the dark one laid over it."""
    text = (STATIC / "page.css").read_text()
    blocks = re.findall(r":root \{(.*?)\}", text, re.DOTALL)[:2]
    light, dark = (dict(re.findall(r"--([a-z]+): (#[0-9a-f]{6});", block)) for block in blocks)
    return {"light": {"black": "#000000", **light}, "dark": {"black": "#000000", **light, **dark}}


def luminance(colour: str) -> float:
    """Relative luminance by the definition in WCAG 2.2."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(first: str, second: str) -> float:
    lighter, darker = sorted((luminance(first), luminance(second)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def test_the_check_itself_gives_the_published_extremes() -> None:
    # WCAG 2.2 on contrast ratio: from 1 to 21
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    assert contrast("#777777", "#777777") == pytest.approx(1)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(("front", "back", "least"), PAIRS)
def test_what_is_written_or_drawn_can_be_told_from_its_ground(scheme: str, front: str, back: str, least: float) -> None:
    set_of_colours = colours()[scheme]
    assert contrast(set_of_colours[front], set_of_colours[back]) >= least
