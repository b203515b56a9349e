"""A message that the tests of delivery send."""

import dataclasses
from typing import Any

from config.words import AlarmKind, Priority
from daemon.alarms.delivery import MessageKind, MessageStatus, OutgoingMessage

_MESSAGE = OutgoingMessage(
    message_id="m-0001",
    kind=MessageKind.ALARM,
    status=MessageStatus.ACTUAL,
    site="Reptile house",
    place="North cabinet, upper shelf",
    priority=Priority.CRITICAL,
    headline="Too hot for eggs: 34.2 °C in the north cabinet",
    body="Open the door and switch the heater off at the wall.",
    alarm=AlarmKind.TEMPERATURE_LETHAL_HIGH,
    occurrence="o-17",
    value=34.2,
    limit=33.0,
    started_at="2026-03-01T04:05:06.789Z",
)


def message(**changes: Any) -> OutgoingMessage:
    """Make the message, with some fields changed."""
    return dataclasses.replace(_MESSAGE, **changes)
