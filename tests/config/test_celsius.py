import pytest

from config.celsius import looks_like_fahrenheit


@pytest.mark.parametrize("temperature_c", [-20.0, 0.0, 21.0, 34.0, 45.0])
def test_temperatures_of_rooms_and_eggs_are_believed(temperature_c: float) -> None:
    assert looks_like_fahrenheit(temperature_c) is None


@pytest.mark.parametrize(
    ("stated", "meant"),
    [
        # Boiling water and body heat are in any table of both scales; 82 °F by NIST SP 811 (2008), appendix B.8.
        (212.0, "100.0 °C"),
        (98.6, "37.0 °C"),
        (82.0, "27.8 °C"),
    ],
)
def test_a_temperature_that_can_only_be_fahrenheit_is_told_with_what_it_means(stated: float, meant: str) -> None:
    assert looks_like_fahrenheit(stated) == f"{stated:g} °C looks like °F: {stated:g} °F is {meant}"
