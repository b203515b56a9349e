"""Backups and restore tests: what was made, checked, kept and removed."""

BACKUPS: tuple[str, ...] = ()
