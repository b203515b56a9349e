"""The watcher's memory as JSON text. Pure. Moments become spans, for a monotonic clock begins anew with the machine."""

import json
from collections.abc import Mapping
from dataclasses import asdict, replace
from typing import Any, Final

from daemon.alarms.delivery import OutgoingMessage
from daemon.watcher.rules import FIRST_LOOK_S, Incident, Moment, Policy, State, begin

FORMAT: Final = "clutchwarden-watch-1"


class UnreadableError(ValueError):
    """The text is not a memory of the watcher; nothing of its content is repeated."""


def to_text(state: State, unsent: Mapping[str, OutgoingMessage], now_s: float) -> str:
    """Write the state and the messages that no receiver has accepted yet, by contact."""
    found = state.incident
    incident = None
    if found is not None:
        incident = asdict(replace(found, next_s=found.next_s - now_s, well_since_s=None))
        incident["answered_s"] = None if found.answered_s is None else now_s - found.answered_s
    kept = {
        "format": FORMAT,
        "silent_s": now_s - state.well_s,
        "trouble": state.trouble,
        "incident": incident,
        "unsent": {contact: json.loads(message.to_json()) for contact, message in unsent.items()},
    }
    return json.dumps(kept, ensure_ascii=False, indent=1)


def from_text(text: str, policy: Policy, now: Moment) -> tuple[State, dict[str, OutgoingMessage]]:
    """Read what `to_text` wrote. The time in between counts as none.

    Nothing is told before there was a first look, of `FIRST_LOOK_S` at most. Raises UnreadableError.
    """
    try:
        kept: dict[str, Any] = json.loads(text)
        if kept["format"] != FORMAT:
            raise UnreadableError(f"it is not in the form {FORMAT}")
        unsent = {str(name): OutgoingMessage.from_json(json.dumps(one)) for name, one in kept["unsent"].items()}
        silent_s = min(max(float(kept["silent_s"]), 0.0), max(0.0, policy.silence_s - FIRST_LOOK_S))
        state = replace(begin(now), well_s=now.s - silent_s, trouble=str(kept["trouble"]))
        return replace(state, incident=_incident(kept["incident"], policy, now.s)), unsent
    except (AttributeError, KeyError, TypeError, ValueError) as error:
        if isinstance(error, UnreadableError):
            raise
        raise UnreadableError("it cannot be read as the watcher's memory") from None


def _incident(kept: dict[str, Any] | None, policy: Policy, now_s: float) -> Incident | None:
    if kept is None:
        return None
    first_s = min(FIRST_LOOK_S, policy.repeat_s)
    wait_s = min(max(float(kept["next_s"]), first_s), policy.repeat_s)
    answered = kept["answered_s"]
    return Incident(
        ident=str(kept["ident"]),
        token=str(kept["token"]),
        began_ms=int(kept["began_ms"]),
        told=int(kept["told"]),
        next_s=now_s + wait_s,
        answered_s=None if answered is None else now_s - max(float(answered), 0.0),
        who=str(kept["who"]),
    )
