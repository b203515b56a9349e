"""Accounts, sessions, invitations, keys of programs. No secret lies here as it is typed, but for one, said below."""

ACCESS: tuple[str, ...] = (
    # `password_hash` is argon2id, NULL until an invitation is used. `factor_secret` has to be kept as it is: the codes
    # of RFC 6238 are worked out from it. Whoever reads this file can make codes, but still needs the password; the
    # file is for its owner alone (0600). `factor_step` is the newest time step whose code was used.
    """CREATE TABLE account (
        account_id INTEGER PRIMARY KEY,
        name TEXT NOT NULL UNIQUE COLLATE NOCASE,
        role TEXT NOT NULL CHECK (role IN ('viewer', 'responder', 'keeper')),
        created_ms INTEGER NOT NULL,
        created_by TEXT NOT NULL,
        password_hash TEXT,
        factor_secret TEXT,
        factor_step INTEGER,
        closed_ms INTEGER)""",
    # `token_hash` and those below are SHA-256 of what was drawn at random.
    """CREATE TABLE session (
        session_id INTEGER PRIMARY KEY,
        token_hash TEXT NOT NULL UNIQUE,
        account_id INTEGER NOT NULL REFERENCES account,
        begun_ms INTEGER NOT NULL,
        seen_ms INTEGER NOT NULL,
        until_ms INTEGER NOT NULL,
        confirmed_ms INTEGER NOT NULL,
        address TEXT NOT NULL,
        device TEXT NOT NULL,
        ended_ms INTEGER)""",
    "CREATE INDEX session_of_account ON session (account_id, session_id)",
    # `account_id` is NULL for the code that makes the first account.
    """CREATE TABLE invitation (
        invitation_id INTEGER PRIMARY KEY,
        code_hash TEXT NOT NULL UNIQUE,
        account_id INTEGER REFERENCES account,
        made_by TEXT NOT NULL,
        made_ms INTEGER NOT NULL,
        until_ms INTEGER NOT NULL,
        used_ms INTEGER,
        withdrawn_ms INTEGER)""",
    """CREATE TABLE program_key (
        key_id INTEGER PRIMARY KEY,
        name TEXT NOT NULL COLLATE NOCASE,
        key_hash TEXT NOT NULL UNIQUE,
        role TEXT NOT NULL CHECK (role IN ('viewer', 'responder', 'keeper')),
        made_ms INTEGER NOT NULL,
        made_by TEXT NOT NULL,
        seen_ms INTEGER,
        withdrawn_ms INTEGER)""",
    "CREATE UNIQUE INDEX program_key_in_use ON program_key (name) WHERE withdrawn_ms IS NULL",
    # Wrong passwords in a row. `origin` is an address from which this account was signed in lately, or empty for all
    # others together: what strangers try must not keep somebody out at home. Account 0 stands for the names that
    # nobody has: a row is written for those too, so that the answer takes as long.
    """CREATE TABLE sign_in_try (
        account_id INTEGER NOT NULL,
        origin TEXT NOT NULL,
        failures INTEGER NOT NULL,
        from_ms INTEGER NOT NULL,
        wait_ms INTEGER NOT NULL,
        PRIMARY KEY (account_id, origin)) WITHOUT ROWID""",
)
