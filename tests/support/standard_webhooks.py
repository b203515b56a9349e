"""The receiver's side of Standard Webhooks 1.0.0, written from its text and not from what is tested.

https://github.com/standard-webhooks/standard-webhooks/blob/main/spec/standard-webhooks.md, "Signature scheme",
"Webhook headers" and "Verifying signatures"; five minutes is the tolerance of the libraries beside it.
"""

import base64
import hashlib
import hmac
from collections.abc import Mapping

TOLERANCE_S = 300


class RefusedError(Exception):
    """The request is not taken; the text says why."""


class Verifier:
    """Knows the key of a sender and what was taken already."""

    def __init__(self, key: str) -> None:
        self._key = base64.b64decode(key.removeprefix("whsec_"))
        self._taken: set[str] = set()

    def take(self, headers: Mapping[str, str], body: bytes, now_s: float) -> None:
        """Take a request; raises RefusedError where it is altered, forged, old, from the future, or had before."""
        try:
            webhook_id, timestamp = headers["webhook-id"], headers["webhook-timestamp"]
            given = headers["webhook-signature"].split(" ")
        except KeyError as missing:
            raise RefusedError(f"no header {missing}") from None
        if abs(now_s - int(timestamp)) > TOLERANCE_S:
            raise RefusedError("time")
        content = b".".join((webhook_id.encode(), timestamp.encode(), body))
        expected = "v1," + base64.b64encode(hmac.new(self._key, content, hashlib.sha256).digest()).decode()
        if not any(hmac.compare_digest(expected, one) for one in given):
            raise RefusedError("signature")
        if webhook_id in self._taken:
            raise RefusedError("had before")
        self._taken.add(webhook_id)
