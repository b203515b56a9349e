"""Reads the published values in `tests/tables`."""

import csv
from pathlib import Path

TABLES = Path(__file__).parent.parent / "tables"


def read_table(name: str) -> list[dict[str, str]]:
    """Rows of one table by column name; lines that begin with # are remarks."""
    lines = (TABLES / name).read_text(encoding="utf-8").splitlines()
    return list(csv.DictReader(line for line in lines if not line.startswith("#")))
