"""A round in progress: which warnings of its incubator are suppressed by design, and until when. Pure.

An open incubator cools and dries, and whoever opened it knows. So its warnings of low and of falling temperature, of
humidity and water, and of the open door are held back for the time that the person stated, at most `LONGEST_ROUND_MS`,
and for a settle time after a round that was ended in time. A round that nobody ends runs into its hard end: there is no
settle time then, what is still on is told, and that the round has not been ended is an alarm of its own. Too warm,
every lethal limit, no data, mains and self-alarms are told as always. The times are this project's choice.
"""

from dataclasses import dataclass

from config.errors import StatedError
from daemon.alarms.classes import LONGEST_SETTLE_MS, LONGEST_SUPPRESSION_MS, MINUTE_MS, Mode
from daemon.alarms.events import SuppressOff, SuppressOn
from daemon.alarms.folding import Role

LONGEST_ROUND_MS = LONGEST_SUPPRESSION_MS[Mode.ROUND]
SETTLE_MS = 15 * MINUTE_MS
HELD_BACK = frozenset({Role.LOW, Role.FALLING, Role.AHEAD_LOW, Role.HUMIDITY, Role.CONDENSATION, Role.DOOR_OPEN})


@dataclass(frozen=True, slots=True)
class Round:
    """A round in one incubator. UTC ms. `stated_ms` is how long the person said that it takes.

    Raises StatedError for a time that is not positive or too long, and for a settle time that is too long.
    """

    id: str
    incubator: str
    who: str
    started_ms: int
    stated_ms: int = LONGEST_ROUND_MS
    settle_ms: int = SETTLE_MS
    ended_ms: int | None = None

    def __post_init__(self) -> None:
        longest_min = LONGEST_ROUND_MS // MINUTE_MS
        if not 0 < self.stated_ms <= LONGEST_ROUND_MS:
            asked_min = self.stated_ms / MINUTE_MS
            raise StatedError(
                f"a round of {asked_min:g} min is not possible; it lasts more than 0 and at most {longest_min} min",
                "Start a round for one incubator at a time, and end it when you have closed the door.",
            )
        if not 0 <= self.settle_ms <= LONGEST_SETTLE_MS:
            raise StatedError(
                f"a settle time of {self.settle_ms / MINUTE_MS:g} min is not possible",
                f"Use 0 to {LONGEST_SETTLE_MS // MINUTE_MS} min.",
            )

    @property
    def hard_end_ms(self) -> int:
        """The end that comes whether or not somebody ends the round."""
        return self.started_ms + self.stated_ms

    @property
    def in_time(self) -> bool:
        """True for a round that was ended before its hard end."""
        return self.ended_ms is not None and self.ended_ms < self.hard_end_ms

    @property
    def told_again_ms(self) -> int:
        """From when on everything is told again, as far as that is known now."""
        return self.ended_ms + self.settle_ms if self.in_time and self.ended_ms is not None else self.hard_end_ms


def applies(round_: Round, role: Role, incubator: str) -> bool:
    """Tell whether an alarm with this role in this incubator is held back by the round."""
    return role in HELD_BACK and incubator == round_.incubator


def suppression(round_: Round, role: Role, incubator: str) -> SuppressOn | SuppressOff | None:
    """Give the event for one alarm when the round starts or, with `ended_ms`, ends; None where it does not apply."""
    if not applies(round_, role, incubator):
        return None
    if round_.ended_ms is not None:
        return SuppressOff(Mode.ROUND, round_.id)
    return SuppressOn(Mode.ROUND, round_.id, round_.hard_end_ms, round_.settle_ms)


def suppression_at_begin(
    round_: Round, role: Role, incubator: str, now_ms: int
) -> tuple[SuppressOn | SuppressOff, ...]:
    """Give the events for an alarm that begins at `now_ms`, in order; none where the round holds it back no more.

    One that begins in the settle time is held back for the rest of that.
    """
    if not applies(round_, role, incubator) or not round_.started_ms <= now_ms < round_.told_again_ms:
        return ()
    if round_.ended_ms is None:
        return (SuppressOn(Mode.ROUND, round_.id, round_.hard_end_ms, round_.settle_ms),)
    begin = SuppressOn(Mode.ROUND, round_.id, round_.told_again_ms, round_.told_again_ms - now_ms)
    return begin, SuppressOff(Mode.ROUND, round_.id)


def is_overdue(round_: Round, now_ms: int) -> bool:
    """Tell whether the round has run into its hard end and nobody has ended it yet."""
    return round_.ended_ms is None and now_ms >= round_.hard_end_ms
