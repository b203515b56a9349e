"""What an answer to "are you well" means. Pure. Only a clear yes counts as one."""

import json
from http import HTTPStatus

from daemon.watcher.rules import NotWell, Well

LARGEST_BYTES = 65_536
_SHOWN = 3


def judge(status: int, body: bytes) -> Well | NotWell:
    """Judge the answer of `/health`: a status code and a JSON object with `healthy` and `reasons`."""
    said = _read(body)
    if said is None:
        where = "is that the address of /health?"
        return NotWell(f"something answered {status}, but not as clutchwarden does; {where}")
    healthy, reasons = said
    if status == HTTPStatus.OK and healthy:
        return Well()
    return NotWell(_sentence(reasons) or f"it answered {status} and gave no reason")


def judge_heartbeat(body: bytes) -> Well | NotWell | None:
    """Judge the body of a heartbeat; None for one that cannot be read. An empty one says that all is well."""
    if not body.strip():
        return Well()
    said = _read(body)
    if said is None:
        return None
    healthy, reasons = said
    return Well() if healthy else NotWell(_sentence(reasons) or "it says that it is not well and gives no reason")


def _read(body: bytes) -> tuple[bool, list[str]] | None:
    try:
        found = json.loads(body)
    except (ValueError, RecursionError):
        return None
    if not isinstance(found, dict) or not isinstance(found.get("healthy"), bool):
        return None
    reasons = found.get("reasons", [])
    return found["healthy"], [str(one) for one in reasons] if isinstance(reasons, list) else []


def _sentence(reasons: list[str]) -> str:
    shown = " ".join(" ".join(one.split()) for one in reasons[:_SHOWN])
    return shown if len(reasons) <= _SHOWN else f"{shown} And {len(reasons) - _SHOWN} more."
