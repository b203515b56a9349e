"""Writes to an InfluxDB with its client library, which no other module knows. Loaded where there is a mirror alone.

No address and no token gets into a log: the library keeps quiet unless it is asked to debug, and what it stands on is
held back while a request is made.
"""

import logging
from collections.abc import Iterable, Sequence
from typing import Any, Self

from influxdb_client import InfluxDBClient, WritePrecision
from influxdb_client import Point as LinePoint
from influxdb_client.client.write_api import SYNCHRONOUS
from influxdb_client.rest import ApiException
from pydantic import SecretStr
from urllib3.exceptions import ConnectTimeoutError, HTTPError, NewConnectionError, ReadTimeoutError

from config.mirror import MirrorSettings
from daemon.alarms.redaction import libraries_held_back
from daemon.mirror.answers import Answer, one_line
from daemon.mirror.points import CHECK, Origin, Point
from daemon.mirror.target import target_of

logging.getLogger("influxdb_client").setLevel(logging.CRITICAL)

_NO_ANSWER: tuple[tuple[type[Exception], str], ...] = (
    (NewConnectionError, "no connection: refused, no way to it, or its name is not known"),
    (ConnectTimeoutError, "it could not be reached in time"),
    (ReadTimeoutError, "it took the connection but did not answer in time"),
    (HTTPError, "the connection broke before there was an answer"),
    (OSError, "the connection broke before there was an answer"),
)


class MirrorClient:
    """Writes lines, from one thread at a time. Raises ConfigError where the token cannot be read."""

    def __init__(self, settings: MirrorSettings) -> None:
        token = settings.reveal_token()
        self.target = target_of(settings)
        self._token = SecretStr("") if token is None else token
        self._client = InfluxDBClient(
            self.target.url,
            token=self._token.get_secret_value() or None,
            org=self.target.org,
            timeout=round(settings.timeout_s * 1000),
            enable_gzip=True,
        )
        self._api = self._client.write_api(write_options=SYNCHRONOUS)

    def __repr__(self) -> str:
        return f"MirrorClient({self.target.address})"

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()

    def close(self) -> None:
        """Give back what it holds."""
        self._client.close()

    def write(self, lines: Sequence[str]) -> Answer:
        """Write lines in one request, compressed; gives the answer and raises nothing for what a network may do."""
        with libraries_held_back():
            try:
                self._api.write(self.target.bucket, self.target.org, "\n".join(lines), WritePrecision.MS)
            except ApiException as error:
                return self._answer(error)
            except (HTTPError, OSError) as error:
                # An exception's own text is never used: it holds the address.
                return Answer(0, next(told for kind, told in _NO_ANSWER if isinstance(error, kind)))
        return Answer(204)

    def check(self, origin: Origin, at_ms: int) -> Answer:
        """Write one point that says nothing but that this site can write."""
        return self.write(lines_of([Point(CHECK, origin.tags(), {"up": 1}, at_ms)]))

    def _answer(self, error: Any) -> Answer:
        status = int(error.status or 0)
        if not status:
            return Answer(0, "no safe connection: its TLS certificate was not accepted")
        headers = error.headers or {}
        told = headers.get("X-Influxdb-Error") or error.body or ""
        return Answer(status, one_line(str(told), self._token.get_secret_value()), _seconds(headers.get("Retry-After")))


def _seconds(stated: str | None) -> float | None:
    """Read `Retry-After` where it is a number of seconds (RFC 9110, 10.2.3); a date there is as good as nothing."""
    return float(stated) if stated and stated.isascii() and stated.isdigit() else None


def lines_of(points: Iterable[Point]) -> list[str]:
    """Write points as line protocol; one without any field is left out."""
    return [line for line in (_line(point) for point in points) if line]


def series_of(measurement: str, tags: Iterable[tuple[str, str]]) -> str:
    """Give the beginning of a line, up to its tags."""
    line = _line(Point(measurement, dict(tags), {"f": 0}, 0))
    return line.removesuffix(" f=0i 0")


def _line(point: Point) -> str:
    made = LinePoint(point.measurement)
    for name, tag in point.tags.items():
        made.tag(name, tag)
    for name, value in point.fields.items():
        made.field(name, value)
    return str(made.time(point.at_ms, WritePrecision.MS).to_line_protocol())
