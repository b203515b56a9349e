"""Signs a webhook so that its receiver can tell who sent it, when, and that nobody changed it. Pure.

Standard Webhooks 1.0.0, symmetric scheme `v1`: HMAC-SHA256 (RFC 2104) of id, time of the attempt and body, with full
stops between. The id stays the same over all attempts, the time does not. A receiver refuses a time that is more than
five minutes from its own clock, and an id that it has had before.
"""

import base64
import hmac
from collections.abc import Sequence
from hashlib import sha256

from pydantic import SecretBytes


def signature_headers(keys: Sequence[SecretBytes], message_id: str, at_s: int, body: bytes) -> dict[str, str]:
    """Give the three headers of a signed webhook, or none where there is no key; `at_s` is UTC seconds since the epoch.

    Each key signs, so that a receiver may know the old one or the new one.
    """
    if not keys:
        return {}
    signed = f"{message_id}.{at_s}.".encode() + body
    return {
        "webhook-id": message_id,
        "webhook-timestamp": str(at_s),
        "webhook-signature": " ".join(f"v1,{_signature(key, signed)}" for key in keys),
    }


def _signature(key: SecretBytes, signed: bytes) -> str:
    return base64.b64encode(hmac.digest(key.get_secret_value(), signed, sha256)).decode()
