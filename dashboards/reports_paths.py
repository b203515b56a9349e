"""Addresses of reports. Pure."""

REPORTS_PATH = "/reports"
MONTHS_PATH, SEASONS_PATH = f"{REPORTS_PATH}/months", f"{REPORTS_PATH}/seasons"


def month_path(month: str) -> str:
    """Give the address of a month, `2026-05`, as a zip."""
    return f"{MONTHS_PATH}/{month}.zip"


def season_path(year: str) -> str:
    """Give the address of a season, `2026`, as a zip."""
    return f"{SEASONS_PATH}/{year}.zip"
