"""Addresses of the set-up and of its pages of probes. Pure."""

from urllib.parse import quote, urlencode

SET_UP_PATH = "/set-up"
PROBES_PATH = "/set-up/probes"
PROBES_EVENTS_PATH = "/set-up/probes-events"
TAKE_UP_PATH = "/set-up/take-up"
LISTEN_PATH = "/set-up/listen"


def probe_path(probe_id: str) -> str:
    """Give the address of one probe."""
    return f"{PROBES_PATH}/{quote(probe_id, safe='')}"


def take_up_path(topic: str) -> str:
    """Give the address of the form for what came on a topic."""
    return f"{TAKE_UP_PATH}?{urlencode({'topic': topic})}"
