"""The plus or minus of a channel: read as stated, and refused in words where no probe can have it."""

from pathlib import Path

import pytest

from config.check import check_site
from config.site import load_site

EXAMPLE = Path(__file__).parents[2] / "config" / "example"
SITE = """
[site]
name = "Accuracy"
time_zone = "UTC"
[[incubator]]
id = "north"
name = "North cabinet"
[[probe]]
id = "a"
place = "north"
[[probe.channel]]
name = "x"
quantity = "{quantity}"
accuracy = {accuracy}
"""


def mistakes(folder: Path, quantity: str, accuracy: str) -> list[str]:
    (folder / "site.toml").write_text(SITE.format(quantity=quantity, accuracy=accuracy), encoding="utf-8")
    return [str(one) for one in check_site(folder).mistakes if one.severity == "mistake"]


def test_a_stated_accuracy_is_read_and_one_left_out_is_none() -> None:
    air, humidity = load_site(EXAMPLE).probes[0].channels
    assert (air.accuracy, humidity.accuracy) == (0.3, None)


@pytest.mark.parametrize(
    ("quantity", "accuracy"),
    [("air_temperature", "0.05"), ("air_temperature", "5"), ("relative_humidity", "0.2"), ("relative_humidity", "20")],
)
def test_an_accuracy_that_a_probe_can_have_is_taken(tmp_path: Path, quantity: str, accuracy: str) -> None:
    assert mistakes(tmp_path, quantity, accuracy) == []


@pytest.mark.parametrize(
    ("quantity", "accuracy", "words"),
    [
        ("air_temperature", "-0.5", "every probe is a little off"),
        ("surface_temperature", "5.1", "at most ±5 K"),
        ("relative_humidity", "21", "at most ±20 % RH"),
        ("relative_humidity", "0.02", "it would be ±2 % RH"),
        ("relative_humidity", "nan", "an ordinary number"),
        ("relative_humidity", '"3"', "a number without quotes"),
    ],
)
def test_an_accuracy_that_no_probe_has_is_refused(tmp_path: Path, quantity: str, accuracy: str, words: str) -> None:
    [told] = mistakes(tmp_path, quantity, accuracy)
    assert "probe.a.channel.x.accuracy" in told
    assert words in told
