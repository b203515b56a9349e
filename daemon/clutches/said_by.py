"""Pure: who stands for a statement that came by a table: whoever took the table in, and whom the table names."""

from daemon.clutches.rules import text_of

_NAMED = ", the table says "


def by_table(who: str, named: str) -> str:
    """Give whom a statement is on record of: `ana, the table says kim`; `who` alone where the table names nobody else.

    Anybody may write any name into a table, so the one who answers for it stands first.
    """
    name = text_of(named)
    return text_of(who) if name in ("", text_of(who)) else text_of(f"{text_of(who)}{_NAMED}{name}")


def named_in_table(who: str) -> str:
    """Give the name that a table has, or gets, for a statement on record of `who`."""
    return who.partition(_NAMED)[2] or who
