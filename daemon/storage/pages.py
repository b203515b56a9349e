"""How a list that is given by pages asks for the rows of one."""


def below(before: int | None) -> int:
    """Give the number below which the rows of a page lie; of the first page one above all that SQLite can give.

    A number in any case: with a choice between two conditions SQLite would walk through all that are newer.
    """
    return 2**63 - 1 if before is None else before
