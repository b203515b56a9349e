"""The page of all changes that have no journal of their own, newest first. Pure."""

import difflib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode
from zoneinfo import ZoneInfo

from daemon.storage.audit import HOST, AuditEvent
from dashboards import figures
from dashboards.access.policy import AUDIT_PATH

SHOWN = 50
_MOMENT = "_ms"
_TEXT = "text"
_SAME = "(no line differs)"
_AROUND = 3
"""Lines before and after what differs."""


@dataclass(frozen=True, slots=True)
class ChangeView:
    """One change. `old` and `new` are texts of several lines; `path` leads to all changes of the same thing."""

    key: str
    when: str
    iso: str
    headline: str
    where: str
    why: str
    old: str
    new: str
    about: str
    path: str


@dataclass(frozen=True, slots=True)
class AuditView:
    """One page of them. `older` and `all_of_them` are paths, empty where they lead nowhere new."""

    heading: str
    changes: tuple[ChangeView, ...]
    older: str
    all_of_them: str


def audit_view(events: Sequence[AuditEvent], about: str, before: int | None, zone: ZoneInfo) -> AuditView:
    """Show so many events, one more than `SHOWN` of which says that there are older ones."""
    shown = events[:SHOWN]
    older = _path(before=shown[-1].event_id, about=about) if len(events) > SHOWN else ""
    return AuditView(
        heading=f"Changes of {about}" if about else "Changes",
        changes=tuple(_change_view(each, zone) for each in shown),
        older=older,
        all_of_them=AUDIT_PATH if about or before is not None else "",
    )


def _change_view(event: AuditEvent, zone: ZoneInfo) -> ChangeView:
    change, moment = event.change, figures.local(event.at_ms, zone)
    is_own = change.about in ("", change.who)
    where = "on the machine itself" if change.from_where == HOST else f"from {change.from_where}"
    old, new = _differing(change.old, change.new)
    return ChangeView(
        key=f"change-{event.event_id}",
        when=figures.moment_text(moment),
        iso=moment.isoformat(timespec="seconds"),
        headline=f"{change.who}: {change.what}" + ("" if is_own else f", {change.about}"),
        where=where if change.from_where else "",
        why=change.why,
        old=_lines(old, zone),
        new=_lines(new, zone),
        about=change.about,
        path=_path(about=change.about) if change.about else "",
    )


def _differing(old: Mapping[str, Any], new: Mapping[str, Any]) -> tuple[Mapping[str, Any], Mapping[str, Any]]:
    """Leave of a file that was changed the lines that differ and those around them: the rest is the same in both."""
    before, after = old.get(_TEXT), new.get(_TEXT)
    if not isinstance(before, str) or not isinstance(after, str):
        return old, new
    lines = before.splitlines(), after.splitlines()
    hunks = list(difflib.SequenceMatcher(None, *lines, autojunk=False).get_grouped_opcodes(_AROUND))
    kept = (
        [lines[0][hunk[0][1] : hunk[-1][2]] for hunk in hunks],
        [lines[1][hunk[0][3] : hunk[-1][4]] for hunk in hunks],
    )
    told = ["\n\N{HORIZONTAL ELLIPSIS}\n".join("\n".join(part) for part in parts) for parts in kept]
    return {**old, _TEXT: told[0] or _SAME}, {**new, _TEXT: told[1] or _SAME}


def _lines(values: Mapping[str, Any], zone: ZoneInfo) -> str:
    return "\n".join(_line(name, value, zone) for name, value in values.items())


def _line(name: str, value: Any, zone: ZoneInfo) -> str:
    if name.endswith(_MOMENT) and isinstance(value, int):
        return f"{name.removesuffix(_MOMENT)}: {figures.moment_text(figures.local(value, zone))}"
    return f"{name}: {value if isinstance(value, str) else json.dumps(value, ensure_ascii=False)}"


def _path(before: int | None = None, about: str = "") -> str:
    asked = ({"before": str(before)} if before is not None else {}) | ({"about": about} if about else {})
    return f"{AUDIT_PATH}?{urlencode(asked)}"
