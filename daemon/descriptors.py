"""How many files and connections this process may have open at once."""

import resource

MOST_DESCRIPTORS = 65_536
"""As much as is asked for: where nothing limits it, some libraries walk through all numbers. Project choice."""


def raise_descriptors() -> int:
    """Take what the system lets this process have, and give how many that is.

    The usual 1,024 are a limit of a shell and not of the machine. Where more is not given, what there is stays.
    """
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    wanted = MOST_DESCRIPTORS if hard == resource.RLIM_INFINITY else min(hard, MOST_DESCRIPTORS)
    if soft == resource.RLIM_INFINITY or soft >= wanted:
        return descriptors()
    resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, hard))
    return wanted


def descriptors() -> int:
    """Give how many this process may have open just now, at most `MOST_DESCRIPTORS`."""
    soft, _ = resource.getrlimit(resource.RLIMIT_NOFILE)
    return MOST_DESCRIPTORS if soft == resource.RLIM_INFINITY else min(soft, MOST_DESCRIPTORS)
