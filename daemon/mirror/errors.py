"""Why the mirror could not be read or written: what, where, why and what to do."""


class MirrorError(Exception):
    """What failed, where, why, and what to do about it; never with a token in it."""

    def __init__(self, what: str, where: str, why: str, hint: str) -> None:
        super().__init__(what, where, why, hint)
        self.what = what
        self.where = where
        self.why = why
        self.hint = hint

    def __str__(self) -> str:
        return f"{self.what} ({self.where}): {self.why}. {self.hint}"
