"""A small process for a second machine: it watches the daemon. It needs no journal, no pages and no broker."""
