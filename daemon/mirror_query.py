"""Reads an InfluxDB back with InfluxQL over `/query`, which every generation of it answers."""

import json
from collections.abc import Mapping
from typing import Any, NamedTuple, Self

import requests
from pydantic import SecretStr
from requests.exceptions import ConnectionError as NoConnectionError
from requests.exceptions import RequestException, Timeout

from config.mirror import MirrorSettings
from daemon.alarms.redaction import libraries_held_back
from daemon.mirror.answers import Answer, one_line
from daemon.mirror.errors import MirrorError
from daemon.mirror.target import target_of

_OK = 200
_HINT = "Look whether it runs and whether [mirror] in settings.toml is right, then try again."
_WHAT = "the mirror cannot be read"


class Series(NamedTuple):
    """Rows of one series: its tags, the names of the columns (the first is `time`, UTC ms), and the rows."""

    tags: Mapping[str, str]
    columns: tuple[str, ...]
    rows: list[list[Any]]

    def column(self, name: str) -> int:
        """Give the place of a column. Raises ValueError where it is not there."""
        return self.columns.index(name)


class MirrorReader:
    """Asks one database, from one thread at a time. Raises ConfigError where the token cannot be read."""

    def __init__(self, settings: MirrorSettings) -> None:
        self._target = target_of(settings)
        self._timeout_s = settings.timeout_s
        self._token = settings.reveal_token() or SecretStr("")
        self._session = requests.Session()
        # No proxy and no password file of the environment: what is stated is what is asked.
        self._session.trust_env = False

    def __repr__(self) -> str:
        return f"MirrorReader({self._target.address})"

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._session.close()

    def ask(self, query: str) -> list[Series]:
        """Give the series that a query finds. Every number of the answer is a float. Raises MirrorError."""
        body = self._body(query)
        try:
            # A value of -0.0 comes as `-0`, which would be read as the whole number 0 and differ from it.
            results = json.loads(body, parse_int=float)["results"]
            if "error" in results[0]:
                raise self._error(one_line(str(results[0]["error"]), self._token.get_secret_value()))
            return [
                Series(each.get("tags", {}), tuple(each["columns"]), each.get("values", []))
                for each in results[0].get("series", [])
            ]
        except (ValueError, LookupError, TypeError, AttributeError) as error:
            raise self._error("its answer is none of an InfluxDB") from error

    def _body(self, query: str) -> bytes:
        token = self._token.get_secret_value()
        headers = {"User-Agent": "clutchwarden", **({"Authorization": f"Token {token}"} if token else {})}
        asked = {"db": self._target.bucket, "epoch": "ms", "q": query}
        with libraries_held_back():
            try:
                answer = self._session.get(
                    f"{self._target.url}/query",
                    params=asked,
                    headers=headers,
                    timeout=(self._timeout_s, max(self._timeout_s, 60.0)),
                    allow_redirects=False,
                )
            except Timeout:
                raise self._error("it does not answer in time") from None
            except NoConnectionError:
                raise self._error("no connection: refused, no way to it, or its name is not known") from None
            except RequestException:
                raise self._error("the connection broke before there was an answer") from None
        if answer.status_code != _OK:
            raise self._error(Answer(answer.status_code, one_line(answer.text, token)).told)
        return answer.content

    def _error(self, why: str) -> MirrorError:
        return MirrorError(_WHAT, self._target.address, why, _HINT)


def text(value: str) -> str:
    """Write a text for InfluxQL."""
    escaped = value.replace("\\", "\\\\").replace("'", "\\'").replace("\n", "\\n")
    return f"'{escaped}'"
