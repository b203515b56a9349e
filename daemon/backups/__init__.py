"""Backups, pure: how they are named, what their manifest says, and which are kept."""
