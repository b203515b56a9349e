"""Incidents, what people wrote about them, and in which life of the machine the service ran."""

INCIDENTS: tuple[str, ...] = ()
