"""Accounts, sessions, invitations, keys of programs."""

ACCESS: tuple[str, ...] = ()
