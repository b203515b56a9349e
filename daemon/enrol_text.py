"""What to put on a device that was enrolled: lines for our agent, and what a microcontroller needs to know. Pure."""

import json
from dataclasses import dataclass, field

from config.model import Probe
from config.words import Quantity
from daemon.probe_values import PREFIX

_EXAMPLES: dict[Quantity, dict[str, object]] = {
    Quantity.AIR_TEMPERATURE: {"u": "Cel", "v": 28.4},
    Quantity.SURFACE_TEMPERATURE: {"u": "Cel", "v": 27.9},
    Quantity.RELATIVE_HUMIDITY: {"u": "%RH", "v": 84.6},
    Quantity.MAINS: {"vb": True},
    Quantity.DOOR: {"vb": False},
}
"""Invented values."""


@dataclass(frozen=True, slots=True)
class Door:
    """How a device reaches the broker. `authority`: the text of ca.pem; empty where the broker speaks no TLS."""

    host: str
    port: int
    authority: str = ""
    inner: bool = False


@dataclass(frozen=True, slots=True)
class Credentials:
    """A user name, which is the id of the probe, and a password that is shown once."""

    name: str
    password: str = field(repr=False)


def whole(probe: Probe, door: Door, credentials: Credentials) -> str:
    """Write everything that is shown once."""
    parts = [
        f"Probe {credentials.name} is enrolled. Its password, shown this once:\n\n    {credentials.password}",
        _authority(door),
        _for_agent(door, credentials.name),
        _for_controller(probe, door, credentials.name),
        _own_ways(probe),
    ]
    return "\n\n".join(part for part in parts if part)


def _authority(door: Door) -> str:
    if door.authority:
        return f"The broker's authority, the file ca.pem on the device:\n\n{door.authority.strip()}"
    return (
        "Caution: this broker speaks no TLS. The password goes through the network as it is, for everybody in it to "
        "read; use it only in a network where you trust everybody."
    )


def _for_agent(door: Door, name: str) -> str:
    tls = 'tls = true\n    ca_file = "ca.pem"\n    ' if door.authority else ""
    protocol = 'protocol = "3.1.1"\n    ' if door.inner else ""
    return (
        "For the agent of a board, in probe.toml; the password alone in the file that is named there (chmod 600, of "
        "the user who runs the agent; of a service that is clutchwarden):\n\n"
        f"    [broker]\n    host = {json.dumps(door.host)}\n    port = {door.port}\n"
        f'    {tls}{protocol}\n    [[probe]]\n    id = "{name}"\n    password_file = "{name}-password"'
    )


def _for_controller(probe: Probe, door: Door, name: str) -> str:
    topic = f"{PREFIX}/{name}"
    with_tls = "TLS 1.2 or newer, checked by ca.pem" if door.authority else "without TLS"
    rows = {
        "broker": f"{door.host}, port {door.port}, {with_tls}; MQTT 3.1.1{'' if door.inner else ' or 5'}",
        "user name": name,
        "client id": name,
        "readings": f"{topic}/measure, QoS 1, not retained, every {probe.interval_s:g} s",
        "payload": example(probe),
        "last will": f"{topic}/status, offline, QoS 1, retained; after connecting send online there, the same way",
    }
    lines = "\n".join(f"    {what:<10} {told}" for what, told in rows.items())
    return f"For a microcontroller (deploy/microcontroller.md says more):\n\n{lines}"


def example(probe: Probe) -> str:
    """Write a message as this probe may send it, with invented values."""
    records = [{"n": channel.name, **_EXAMPLES[channel.quantity]} for channel in probe.channels]
    return json.dumps(records, separators=(",", ":"))


def _own_ways(probe: Probe) -> str:
    topics = sorted({source.topic for source in probe.sources})
    if not topics:
        return ""
    lines = "\n".join(f"    topic write {topic}" for topic in topics)
    return (
        "site.toml says that this probe speaks its own way. The broker lets it send to its own three topics only; for "
        f"Mosquitto, add to the file acl and reload it:\n\n    user {probe.id}\n{lines}"
    )
