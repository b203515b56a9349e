"""Eggs of a clutch, and what the register says beyond its first schema."""

EGGS: tuple[str, ...] = ()
