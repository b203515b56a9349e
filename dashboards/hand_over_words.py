"""What stands on every sheet of a hand-over: what to do first, how to acknowledge, what to mind. Pure."""

from typing import NamedTuple

from config.words import AlarmKind
from daemon.alarms.definitions import DEFINITIONS


class Action(NamedTuple):
    """What to do first about something, and how much time there is."""

    when: str
    first: str
    time: str


def _action(when: str, kind: AlarmKind) -> Action:
    definition = DEFINITIONS[kind]
    return Action(when, definition.first_action, definition.time_available)


WHAT_TO_DO = (
    _action("Far too hot", AlarmKind.TEMPERATURE_LETHAL_HIGH),
    _action("Too warm", AlarmKind.TEMPERATURE_HIGH),
    _action("Far too cold", AlarmKind.TEMPERATURE_LETHAL_LOW),
    _action("Too cold", AlarmKind.TEMPERATURE_LOW),
    _action("Power off", AlarmKind.MAINS_LOST),
    _action("A probe is silent", AlarmKind.NO_DATA),
)
"""The first actions of the alarms themselves, so that sheet and message say the same."""
HOW_TO_ACKNOWLEDGE = (
    "Open the link in the message, or the alarm at {pages}, and press Acknowledge.",
    "It says that you see to it, and nobody else is called for that alarm. It mends nothing: go and look.",
)
CAUTIONS = (
    "Wash your hands with soap after every box: any egg, medium or box may carry Salmonella.",
    "Mains heat in damp air only behind a ground-fault breaker (RCD or GFCI); dry hands before you touch a plug.",
    "Water goes on the medium, not on eggs; do not turn eggs (common practice, no source).",
    "Not a safety device: an independent over-temperature cut-out protects, this only tells.",
)
