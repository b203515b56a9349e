"""What the agent sends, as SenML packs (RFC 8428). Pure.

Number and start of the board go as records of their own, `seq` and `boot`: names are ours to give, while a new label
would need an entry in the registry of labels (section 12.2), and a receiver that knows neither name passes them over.
"""

import json
from collections.abc import Mapping, Sequence
from typing import NamedTuple

from sensors.agent.lines import Line, read_values
from sensors.board_state import CLOCK_RIGHT, DISK_WELL
from sensors.publisher import senml_pack

SEQUENCE, BOOT = "seq", "boot"
RESERVED = frozenset({SEQUENCE, BOOT})
"""Names that no channel may have."""
LEAF = "agent"
"""The state of the agent goes to `<prefix>/<probe>/agent`, retained."""
_SHORT_BOOT = 8


class State(NamedTuple):
    """How the agent is with one probe. Counts are since the spool was begun; `missed` since the agent started.

    `full`: how much of its bounds the spool takes, 0 to 1. `oldest_s`: the age of what has waited longest, None where
    nothing waits or nobody can say. `certificate_ends_s`: until when the broker's certificate is good, in seconds since
    1970 UTC; None without one.
    """

    waiting: int
    given_up: int
    damaged: int
    undated: int
    missed: int
    clock: str
    disk: str
    faults: Mapping[str, str]
    version: str = ""
    full: float = 0.0
    oldest_s: int | None = None
    certificate_ends_s: int | None = None


def measure_pack(line: Line, moment_ms: int) -> bytes:
    """Write one line of the spool as a message. Number and start make each message tell that it is the only one."""
    beside = ({"n": SEQUENCE, "u": "count", "v": line.number}, {"n": BOOT, "vs": line.boot[:_SHORT_BOOT]})
    return senml_pack(moment_ms, read_values(line.values), beside)


def status_sentence(states: Sequence[State]) -> str:
    """Say in a sentence how the agent is with all probes, for whoever keeps the board."""
    waiting, faults = sum(state.waiting for state in states), sum(len(state.faults) for state in states)
    lost = sum(state.given_up + state.damaged + state.undated for state in states)
    parts = [f"{len(states)} {'probe' if len(states) == 1 else 'probes'}"]
    parts.append(f"{waiting} {'reading waits' if waiting == 1 else 'readings wait'} for the broker")
    parts += [f"{lost} lost"] if lost else []
    parts += [f"{faults} {'channel gives' if faults == 1 else 'channels give'} no value"] if faults else []
    parts += [f"the clock is {state.clock}" for state in states[:1] if state.clock != CLOCK_RIGHT]
    parts += [f"disk: {state.disk}" for state in states if state.disk != DISK_WELL][:1]
    return f"Measuring: {'; '.join(parts)}."


def state_pack(state: State, moment_ms: int | None) -> bytes:
    """Write the state of the agent; a channel with a fault has the reason as its text."""
    counts = {"waiting": state.waiting, "given-up": state.given_up, "damaged": state.damaged}
    counts |= {"undated": state.undated, "missed": state.missed}
    records: list[dict[str, object]] = [{"n": name, "u": "count", "v": count} for name, count in counts.items()]
    records.append({"n": "full", "u": "/", "v": state.full})
    if state.oldest_s is not None:
        records.append({"n": "oldest", "u": "s", "v": state.oldest_s})
    if state.certificate_ends_s is not None:
        records.append({"n": "certificate-ends", "u": "s", "v": state.certificate_ends_s})
    records += [{"n": "clock", "vs": state.clock}, {"n": "disk", "vs": state.disk}]
    if state.version:
        records.append({"n": "version", "vs": state.version})
    records += [{"n": f"fault/{channel}", "vs": sentence} for channel, sentence in state.faults.items()]
    if moment_ms is not None:
        records[0] = {"bt": moment_ms / 1000, **records[0]}
    return json.dumps(records, separators=(",", ":"), ensure_ascii=False).encode()
