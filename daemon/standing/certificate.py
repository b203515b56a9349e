"""A certificate of the broker that runs out: from then on nobody who checks it can connect. Pure; times are UTC ms."""

from collections.abc import Sequence
from datetime import tzinfo
from typing import NamedTuple

from config.words import AlarmKind
from daemon.alarms.rota import moment_text
from daemon.standing.found import Found
from sensors.board_state import CERTIFICATE_SOON_S

SUBJECT = "broker-certificate"


class Known(NamedTuple):
    """Until when the certificate is good by which somebody is connected now; None for a connection without one."""

    by: str
    ends_ms: int | None


def certificate_ending(known: Sequence[Known], now_ms: int, zone: tzinfo, *, may_be_on: bool) -> Found | None:
    """Whether a certificate that is in use ends soon; of several the one that ends first.

    Only somebody who is connected knows that there is a better one. Where nobody is, which is how it is once it has run
    out, an alarm that `may_be_on` stays so.
    """
    soon_ms = now_ms + CERTIFICATE_SOON_S * 1000
    soon = [(ends_ms, by) for by, ends_ms in known if ends_ms is not None and ends_ms <= soon_ms]
    if soon:
        # No time that is left: the reason stands for as long as the alarm is on.
        ends_ms, by = min(soon)
        reason = f"the broker's certificate, as {by} saw it, is good until {moment_text(ends_ms, zone)}"
        return Found(AlarmKind.CERTIFICATE_ENDING, SUBJECT, reason)
    if known or not may_be_on:
        return None
    return Found(AlarmKind.CERTIFICATE_ENDING, SUBJECT, "nobody is connected who could see the newest one", known=False)
