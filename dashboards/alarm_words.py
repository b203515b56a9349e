"""How people stand to one alarm, as sentences. Pure."""

from collections.abc import Iterator
from datetime import datetime
from zoneinfo import ZoneInfo

from daemon.alarm_board_values import AlarmList, ListedAlarm, PersonCalled, RoundNow
from daemon.alarms.state_values import DesignSuppression
from daemon.answer_values import person_name
from dashboards import figures

_MOST_MOMENTS = 4


class Words:
    """Writes for one list, at its moment and in the zone and unit of the site."""

    def __init__(self, listed: AlarmList) -> None:
        self._listed = listed
        self._zone = ZoneInfo(listed.time_zone)
        self._now = figures.local(listed.now_ms, self._zone)

    def lines(self, alarm: ListedAlarm) -> Iterator[str]:
        """Give the state since when, the figures, why, who was called and who answered, and what holds it back."""
        began = f"{self._clock(alarm.since_ms)} ({figures.age(self._listed.now_ms, alarm.since_ms)})"
        condition = "" if alarm.known or not alarm.in_alarm else " Nothing is known of it now: no fresh good reading."
        yield f"{_start(alarm.shown)}. {'On since' if alarm.in_alarm else 'Began'} {began}.{condition}"
        if alarm.returned_ms is not None and not alarm.in_alarm:
            yield f"Back in range since {self._clock(alarm.returned_ms)}."
        figure = self._figures(alarm)
        if figure:
            yield figure
        if alarm.why:
            yield f"Why: {alarm.why}."
        yield self._called(alarm)
        if alarm.acknowledged_by:
            at = "" if alarm.acknowledged_ms is None else f" at {self._clock(alarm.acknowledged_ms)}"
            yield f"Acknowledged by {alarm.acknowledged_by}{at}."
        yield from self._held(alarm)

    def round_line(self, running: RoundNow) -> str:
        """Say who goes through an incubator, and until when that holds warnings back."""
        until = self._until(running.until_ms)
        if running.is_overdue:
            over = figures.age(self._listed.now_ms, running.until_ms)
            return f"{running.incubator}: the round of {running.who} was to end {over}; all is told again."
        if running.is_ended:
            return f"{running.incubator}: the round of {running.who} is over; it settles until {until}."
        return (
            f"{running.incubator}: a round by {running.who}; cold, damp, dry and the open door are not told "
            f"until {until}."
        )

    def _figures(self, alarm: ListedAlarm) -> str:
        if alarm.quantity is None or alarm.limit is None:
            return ""
        fahrenheit = self._listed.fahrenheit
        limit = figures.value_beside(alarm.quantity, alarm.limit, alarm.value, fahrenheit)
        if alarm.value is None:
            return f"Limit {limit}."
        return f"Newest {figures.value_beside(alarm.quantity, alarm.value, alarm.limit, fahrenheit)}, limit {limit}."

    def _called(self, alarm: ListedAlarm) -> str:
        return f"Called: {'; '.join(map(self._person, alarm.called))}." if alarm.called else "Nobody was called for it."

    def _person(self, called: PersonCalled) -> str:
        shown = [self._clock(each) for each in called.at_ms[-_MOST_MOMENTS:]]
        more = f" and {len(called.at_ms) - len(shown)} times before" if len(called.at_ms) > len(shown) else ""
        left = "" if called.has_left else " (no message to them has been accepted yet)"
        return f"{called.name} {', '.join(shown)}{more}{left}"

    def _held(self, alarm: ListedAlarm) -> Iterator[str]:
        shelf, out = alarm.shelf, alarm.out
        if shelf is not None:
            once = ", or until it is next back in range" if shelf.one_shot else ""
            second = f" Agreed: {self._name(shelf.second)}." if shelf.second else ""
            until = f"{self._until(shelf.until_ms)}{once}"
            yield f"Shelved by {self._name(shelf.who)} until {until}: {_sentence(shelf.reason)}{second}"
        for each in alarm.design:
            yield f"Held back: {_design(each)}, told again at {self._until(each.ends_ms)} at the latest."
        if out is not None:
            review = self._until(out.review_ms)
            yield f"Out of service, by {self._name(out.who)}: {_sentence(out.reason)} Review {review}."
            yield f"Meanwhile: {_sentence(out.interim)}"

    def _name(self, who: str) -> str:
        return person_name(dict(self._listed.people), who)

    def _until(self, moment_ms: int) -> str:
        left_ms = moment_ms - self._listed.now_ms
        left = f"{figures.duration(left_ms // 1000)} left" if left_ms > 0 else "due"
        return f"{self._clock(moment_ms)} ({left})"

    def _clock(self, moment_ms: int) -> str:
        return figures.clock_text(self._local(moment_ms), self._now)

    def _local(self, moment_ms: int) -> datetime:
        return figures.local(moment_ms, self._zone)


def _design(by: DesignSuppression) -> str:
    return f"{by.mode} ({by.name})" if by.mode.is_work else by.mode.value


def _start(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"


def _sentence(text: str) -> str:
    return f"{text.strip().removesuffix('.')}."
