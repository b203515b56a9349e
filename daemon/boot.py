"""Which life of the machine this is."""

from pathlib import Path

BOOT_ID = Path("/proc/sys/kernel/random/boot_id")
"""Linux gives each start of the machine a random name of its own: random(4)."""
_LONGEST = 64


def boot_id(file: Path = BOOT_ID) -> str:
    """Give the name of this start of the machine; empty where the system has none."""
    try:
        return file.read_text(encoding="ascii").strip()[:_LONGEST]
    except (OSError, UnicodeDecodeError):
        return ""
