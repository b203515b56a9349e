"""Which address each contact of the site file had when the daemon last looked."""

CONTACTS: tuple[str, ...] = (
    # A contact is known by its place in the site file (`ana/0`), which says nothing of the address behind it. `key` is
    # what tests are kept under: it goes with the address. `digest` is a slow hash, so that nobody reads a password that
    # stands in an address out of this file; `salt` is drawn at random, one for the whole journal.
    """CREATE TABLE contact_way (
        contact TEXT PRIMARY KEY,
        key TEXT NOT NULL UNIQUE,
        digest TEXT NOT NULL,
        salt TEXT NOT NULL) WITHOUT ROWID""",
)
