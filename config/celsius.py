"""Catches a temperature in degree Fahrenheit where degree Celsius is meant."""

HOTTEST_ROOM_OR_EGG_C = 45.0
"""Above this no room with people, incubator or egg is; 45 °F is 7 °C, so what is meant stays clear."""


def looks_like_fahrenheit(temperature_c: float) -> str | None:
    """Give a sentence where a temperature in degree Celsius can only be one in degree Fahrenheit, else None.

    Conversion t/°C = (t/°F - 32)/1.8: NIST SP 811 (2008), appendix B.8.
    """
    if temperature_c <= HOTTEST_ROOM_OR_EGG_C:
        return None
    meant_c = (temperature_c - 32.0) / 1.8
    return f"{temperature_c:g} °C looks like °F: {temperature_c:g} °F is {meant_c:.1f} °C"
