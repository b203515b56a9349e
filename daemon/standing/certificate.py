"""A certificate of the broker that runs out: from then on nobody who checks it can connect. Pure; times are UTC ms."""

from collections.abc import Sequence
from datetime import tzinfo
from typing import NamedTuple

from config.words import AlarmKind
from daemon.alarms.figures import duration_text
from daemon.alarms.rota import moment_text
from daemon.standing.found import Found
from sensors.board_state import CERTIFICATE_SOON_S

SUBJECT = "broker-certificate"


class Known(NamedTuple):
    """Until when the certificate is good, as `by` saw it when it connected last: a probe, or the service itself."""

    by: str
    ends_ms: int


def certificate_ending(known: Sequence[Known], now_ms: int, zone: tzinfo, *, is_on: bool, asked: bool) -> Found | None:
    """Whether the certificate that anybody connected by ends soon; of several the one that ends first.

    `asked`: there was time for all to say it. Before that an alarm that is on stays on.
    """
    first = min(known, key=lambda each: each.ends_ms, default=None)
    if first is None or first.ends_ms - now_ms > CERTIFICATE_SOON_S * 1000:
        waits = Found(AlarmKind.CERTIFICATE_ENDING, SUBJECT, "nobody has said yet until when it is good", known=False)
        return waits if is_on and not asked else None
    left_ms = first.ends_ms - now_ms
    day = moment_text(first.ends_ms, zone)
    ends = f"ends {day}, in {duration_text(left_ms)}" if left_ms > 0 else f"ended {day}"
    return Found(AlarmKind.CERTIFICATE_ENDING, SUBJECT, f"the one by which {first.by} is connected {ends}")
