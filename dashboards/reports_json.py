"""Which reports there are, as JSON. Pure."""

from collections.abc import Iterable, Mapping

from pydantic import BaseModel, ConfigDict


class ReportJson(BaseModel):
    """A report that can be fetched: its name, `2026-05` or `2026`, and where it is, as a zip."""

    model_config = ConfigDict(frozen=True)

    name: str
    path: str


class ReportsJson(BaseModel):
    """All of them, the newest first. The record of a clutch is at `/clutches/{number}/record.zip`."""

    model_config = ConfigDict(frozen=True)

    months: list[ReportJson]
    seasons: list[ReportJson]


def reports_json(months: Mapping[str, str], seasons: Mapping[str, str]) -> ReportsJson:
    """List them, from names with their paths."""

    def listed(found: Iterable[tuple[str, str]]) -> list[ReportJson]:
        return [ReportJson(name=name, path=path) for name, path in found]

    return ReportsJson(months=listed(months.items()), seasons=listed(seasons.items()))
