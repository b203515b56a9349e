"""What is loaded once a daemon has started stays: the collector of garbage need not look at it."""

import gc


def keep_what_is_loaded() -> None:
    """Set aside all that is there.

    Without this the collector walks through all of it again and again while readings come in, which costs as much as
    understanding them. What a daemon before this one left in the same process may go.
    """
    gc.unfreeze()
    gc.collect()
    gc.freeze()
    gc.set_threshold(50_000, 20, 20)
