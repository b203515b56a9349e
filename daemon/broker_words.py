"""Why the broker ended a session, and what to do about it, in words. Pure."""

_OWN_ID = "Is a second clutchwarden running? Give each its own client_id in [broker] of settings.toml."


def refused(reason: str) -> str:
    """Say that the broker refused the connection; `reason` is the name of its reason code."""
    return f"the broker refused the connection: {reason.lower()}. {_hint(reason.lower())}"


def taken_over(client_id: str) -> str:
    """Say that somebody else came with the same name."""
    return f"another program came with the same client_id {client_id!r}. {_OWN_ID}"


def _hint(reason: str) -> str:
    if "protocol" in reason:
        return 'An older broker needs protocol = "3.1.1" in [broker] of settings.toml.'
    if "password" in reason or "authori" in reason:
        return "Check username and password_file in [broker] of settings.toml."
    return "Look at the broker's own log for the cause."
