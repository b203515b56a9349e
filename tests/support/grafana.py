"""The dashboards as Grafana reads them, and what it makes of their queries."""

import json
import re
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any, NamedTuple

ROOT = Path(__file__).parent.parent.parent
FOLDER = ROOT / "dashboards" / "grafana"
FILES = sorted((FOLDER / "json").glob("*.json"))
ALL = ".*"
_SPECIAL = re.compile(r"[\\^$*+?.()|\[\]{}/]")
_QUOTED = re.compile(r'"([^"]+)"')
_ALIAS = re.compile(r'AS "([^"]+)"')
_FROM = re.compile(r'FROM "([^"]+)"')
_ROW = re.compile(r"^\| `(\w+)` \| ([^|]*) \| ([^|]*) \|")


class Target(NamedTuple):
    """A query of a panel."""

    file: str
    panel: int
    ref: str
    query: str
    interval: str

    @property
    def name(self) -> str:
        """How a test calls it."""
        return f"{self.file}-{self.panel}-{self.ref}"


def dashboard(file: Path) -> dict[str, Any]:
    """Read one."""
    found: dict[str, Any] = json.loads(file.read_text(encoding="utf-8"))
    return found


def targets() -> Iterator[Target]:
    """Give every query of every panel."""
    for file in FILES:
        for panel in dashboard(file)["panels"]:
            for each in panel["targets"]:
                yield Target(file.stem, panel["id"], each["refId"], each["query"], panel.get("interval", "1m"))


def chosen(values: Sequence[str]) -> str:
    """Write what is chosen of a variable as `${name:regex}` does; `ALL` stands as it is."""
    if list(values) == [ALL]:
        return ALL
    escaped = [_SPECIAL.sub(r"\\\g<0>", each) for each in values]
    return escaped[0] if len(escaped) == 1 else f"({'|'.join(escaped)})"


def filled_in(target: Target, values: dict[str, Sequence[str]], first_ms: int, last_ms: int) -> str:
    """Give the query as it is sent, for a period."""
    query = target.query.replace("$timeFilter", f"time >= {first_ms}ms and time <= {last_ms}ms")
    query = query.replace("$__interval", target.interval)
    for name, listed in values.items():
        query = query.replace(f"${{{name}:regex}}", chosen(listed))
    assert "$" not in re.sub(r"\$/", "/", query), query
    return query


def documented() -> dict[str, set[str]]:
    """Give tags and fields of each measurement, by the table in the README."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    section = readme.partition("## A mirror in InfluxDB")[2].partition("\n## ")[0]
    rows = (_ROW.match(line) for line in section.splitlines())
    found = {row[1]: set(re.findall(r"`(\w+)`", f"{row[2]} {row[3]}")) for row in rows if row}
    return {name: names | {"site", "journal"} for name, names in found.items()}


def unknown_names(query: str, schema: dict[str, set[str]]) -> set[str]:
    """Give the names in a query that no measurement, tag or field has."""
    measurements = set(_FROM.findall(query))
    known = set(_ALIAS.findall(query)) | measurements
    known = known.union(*(schema.get(each, set()) for each in measurements))
    return (set(_QUOTED.findall(query)) - known) | (measurements - set(schema))
