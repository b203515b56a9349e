"""Where the pages of alarms are. Pure."""

from urllib.parse import quote

BOARD_PATH = "/alarms"
JOURNAL_PATH = f"{BOARD_PATH}/journal"
METRICS_PATH = f"{BOARD_PATH}/metrics"


def alarm_path(key: str) -> str:
    """Where an alarm has a page of its own."""
    return f"{BOARD_PATH}/of/{quote(key, safe=':/')}"
