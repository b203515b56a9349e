"""Why the broker ended a session, and what to do about it, in words. Pure."""

from collections.abc import Sequence

_OWN_ID = "Is a second clutchwarden running? Give each its own client_id in [broker] of settings.toml."


def refused(reason: str) -> str:
    """Say that the broker refused the connection; `reason` is the name of its reason code."""
    return f"the broker refused the connection: {reason.lower()}. {_hint(reason.lower())}"


def taken_over(client_id: str) -> str:
    """Say that somebody else came with the same name."""
    return f"another program came with the same client_id {client_id!r}. {_OWN_ID}"


def not_allowed(topics: Sequence[str], refusals: Sequence[str]) -> str:
    """Say which topics the broker does not let this user read, and why; a refusal is empty for what it does allow."""
    kept = [(topic, refusal) for topic, refusal in zip(topics, refusals, strict=False) if refusal]
    if not kept:
        return ""
    names, why = ", ".join(topic for topic, _ in kept), kept[0][1].lower()
    return (
        f"the broker does not let this user read {names} ({why}). Let it, in the broker's rules of access, or check "
        "username in [broker] of settings.toml."
    )


def _hint(reason: str) -> str:
    if "protocol" in reason:
        return 'An older broker needs protocol = "3.1.1" in [broker] of settings.toml.'
    if "password" in reason or "authori" in reason:
        return "Check username and password_file in [broker] of settings.toml."
    return "Look at the broker's own log for the cause."
