"""What tells one journal from every other."""

IDENTITY: tuple[str, ...] = (
    # One row. Drawn once and for ever; a backup that is restored goes on with it, and a journal that is made out of a
    # mirror takes that of the one that was lost. It is no secret.
    "CREATE TABLE journal_identity (only INTEGER PRIMARY KEY CHECK (only = 1), journal TEXT NOT NULL)",
    "INSERT INTO journal_identity VALUES (1, lower(hex(randomblob(6))))",
)
