"""The text form of a key that signs webhooks, as Standard Webhooks 1.0.0 writes it: whsec_ and base64."""

import base64
import binascii

from pydantic import SecretBytes

from config.errors import StatedError

PREFIX = "whsec_"
FEWEST_BYTES, MOST_BYTES = 24, 64
"""192 to 512 bits: Standard Webhooks 1.0.0, signature scheme."""
_HINT = 'Make one with: printf "whsec_%s" "$(openssl rand -base64 32)" > FILE, and give the same text to the receiver.'


def read_signing_key(text: str) -> SecretBytes:
    """Give the bytes of a key. Raises StatedError, never with a part of the key."""
    try:
        key = base64.b64decode(text.strip().removeprefix(PREFIX), validate=True)
    except (binascii.Error, ValueError):
        raise StatedError("this is no signing key: after whsec_ it is not base64", _HINT) from None
    if not FEWEST_BYTES <= len(key) <= MOST_BYTES:
        reason = f"a signing key has {FEWEST_BYTES} to {MOST_BYTES} bytes, and this one has {len(key)}"
        raise StatedError(reason, _HINT)
    return SecretBytes(key)


def looks_like_key(text: str) -> bool:
    """True for what is a key rather than the name of a file or of a variable."""
    return text.strip().startswith(PREFIX) or text.strip().endswith("=")
