"""Addresses and words that the pages of people, calibrations and species share. Pure."""

from urllib.parse import quote

PEOPLE_PATH = "/people"
PEOPLE_SETUP_PATH = "/set-up/people"
CALIBRATION_PATH = "/set-up/calibration"
CALIBRATION_EVENTS_PATH = "/set-up/calibration-events"
SPECIES_PATH = "/set-up/species"
KIND_WORDS = {"apprise": "push service or mail", "webhook": "webhook"}
"""How somebody is reached, by the words of the site file."""


def calibration_path(channel: str) -> str:
    """Give the address of one channel's calibrations."""
    return f"{CALIBRATION_PATH}/{quote(channel, safe='/')}"


def species_path(species_id: str) -> str:
    """Give the address of one species."""
    return f"{SPECIES_PATH}/{quote(species_id, safe='')}"
