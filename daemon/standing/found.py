"""What a look at the state of things finds: a condition that holds, or of which nothing can be said now."""

from dataclasses import dataclass

from config.words import AlarmKind
from sensors.reading import ChannelKey


@dataclass(frozen=True, slots=True)
class Found:
    """One condition that holds at the moment of the look; one that is not found does not hold.

    `subject` is what it is about: with the kind it is the name of the alarm, so it must stay the same from look to
    look (`site`, a place, a channel, `clutch-12`, a contact). `place` is empty for the whole site. `about` names the
    subject for people where the place does not. `value` and `limit` are of the channel, in its canonical unit.
    `since_ms` is when it began, where that is known. `known` is False where nothing can be said: an alarm that is on
    then stays on, and none begins.
    """

    kind: AlarmKind
    subject: str
    reason: str
    place: str = ""
    about: str = ""
    channel: ChannelKey | None = None
    value: float | None = None
    limit: float | None = None
    since_ms: int | None = None
    known: bool = True

    @property
    def name(self) -> str:
        """The name of the alarm."""
        return f"{self.kind}:{self.subject}"
