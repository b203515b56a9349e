"""Pure: facts in sentences, each with its evidence. Times are local to the site."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import tzinfo

from config.words import AlarmKind, Quantity
from daemon.alarms.figures import clock_text, duration_text, value_text
from daemon.alarms.wrong import WRONG
from daemon.review.values import Span

_OTHER_DAY_MS = 3 * 86_400_000


@dataclass(frozen=True, slots=True)
class FactWords:
    """Writes in the zone and the unit of the site."""

    zone: tzinfo
    fahrenheit: bool = False

    def moment(self, at_ms: int) -> str:
        """`14 May 02:11`, whatever day it is when somebody reads it."""
        return clock_text(at_ms, at_ms + _OTHER_DAY_MS, self.zone)

    def span(self, span: Span) -> str:
        """`from 14 May 02:11 to 06:00 (3 h 49 min)`, or `from 14 May 02:11 on`."""
        if span.to_ms is None:
            return f"from {self.moment(span.from_ms)} on"
        end = clock_text(span.to_ms, span.from_ms, self.zone)
        return f"from {self.moment(span.from_ms)} to {end} ({duration_text(span.to_ms - span.from_ms)})"

    def probe_gap(self, channel: str, name: str, span: Span, came_ms: int | None, whole: bool) -> str:
        """A channel said nothing. `came_ms`: when readings of that time arrived afterwards."""
        after = ""
        if came_ms is not None:
            what = "Its readings" if whole else "A part of its readings"
            after = f" {what} of that time came afterwards, the last ones at {self.moment(came_ms)}."
        return f"{name}: nothing was heard of {channel} {self.span(span)}.{after}"

    def site_gap(self, probes: int, span: Span) -> str:
        """Nothing was heard of any probe."""
        return f"Nothing was heard of any of the {probes} probes of the site {self.span(span)}."

    def mains(self, channel: str, name: str, span: Span) -> str:
        """A contact said that the mains was gone."""
        until = "" if span.to_ms is None else f" and that it is there again at {self.moment(span.to_ms)}"
        lasted = "" if span.to_ms is None else f" ({duration_text(span.to_ms - span.from_ms)})"
        where = "" if not name else f" of {name}"
        return (
            f"The contact {channel} said at {self.moment(span.from_ms)} that the mains{where} is absent{until}{lasted}."
        )

    def slept(self, span: Span, slept_ms: int) -> str:
        """The machine was suspended. `span`: from when it was last seen awake to when it was seen awake again."""
        return (
            f"The machine that watches slept {self.span(span)}: by its own clocks it was suspended for "
            f"{duration_text(slept_ms)} of that. Nothing was watched, and nobody could be called."
        )

    def broker(self, span: Span, reason: str) -> str:
        """The broker was not connected."""
        return f"The broker was not connected {self.span(span)}: {reason}."

    def excursion(
        self, kind: AlarmKind, name: str, channel: str, quantity: Quantity, span: Span, limit: float | None
    ) -> str:
        """A place was outside a limit. A falling or rising value comes back into range by more than the limit alone."""
        beyond = "" if limit is None else f", limit {value_text(limit, quantity, self.fahrenheit)}"
        return f"{name}: {WRONG[kind]} {self.span(span)} by {channel}{beyond}."

    def fault(self, kind: AlarmKind, name: str, subject: str, span: Span, reason: str) -> str:
        """Readings that cannot be true, or that contradict each other."""
        return f"{name}: {WRONG[kind]} ({subject}) {self.span(span)}: {reason.rstrip('. ')}."

    def remark(self, kind: AlarmKind, name: str, span: Span) -> str:
        """Something else that held meanwhile."""
        return f"Meanwhile, {self.span(span)}: {f'{name}, ' if name else ''}{WRONG[kind]}."

    def undelivered(self, about: str, names: Sequence[str], span: Span, error: str) -> str:
        """A call reached nobody, or nobody for long."""
        who = ", ".join(names)
        end = "nobody" if span.to_ms is None else f"nobody before {clock_text(span.to_ms, span.from_ms, self.zone)}"
        why = f": {error.rstrip('. ')}" if error else ""
        return f"The call of {self.moment(span.from_ms)} about {about} to {who} reached {end}{why}."

    def given_up(self, about: str, names: Sequence[str], span: Span, error: str) -> str:
        """A call reached nobody, and nobody tries any more."""
        why = f": {error.rstrip('. ')}" if error else ""
        return f"The call of {self.moment(span.from_ms)} about {about} to {', '.join(names)} reached nobody{why}."
