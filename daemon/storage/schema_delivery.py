"""Contacts that took nothing at the last attempts."""

DELIVERY: tuple[str, ...] = (
    # A row ends with the next message that is accepted. `gone`: the receiver said that the address is not in use.
    """CREATE TABLE contact_failing (
        contact TEXT PRIMARY KEY,
        failures INTEGER NOT NULL,
        since_ms INTEGER NOT NULL,
        gone INTEGER NOT NULL,
        error TEXT NOT NULL) WITHOUT ROWID""",
)
