"""Devices that the tests of the set-up of probes hear, and the forms by which they are taken up."""

import tomllib
from typing import Any

from tests.support.probed import ProbedHouse

PROBES, TAKE_UP, NORTH = "/set-up/probes", "/set-up/take-up", "/set-up/probes/north-air"
BOX, BOX_TOPIC = "box-7", "clutchwarden/box-7/measure"
PACK = b'[{"n":"t","u":"Cel","v":28.125},{"n":"rh","u":"%RH","v":81}]'
BOX_FIELDS = {
    "topic": BOX_TOPIC,
    "place": "north/upper/N1",
    "interval_s": "60",
    "channel:t": "air_temperature",
    "channel:rh": "relative_humidity",
}


def probes(house: ProbedHouse) -> list[dict[str, Any]]:
    """What site.toml states of probes."""
    found: list[dict[str, Any]] = tomllib.loads(house.stated())["probe"]
    return found
