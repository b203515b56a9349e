"""The journal: one SQLite file that is the truth."""
