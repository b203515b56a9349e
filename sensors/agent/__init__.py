"""The agent on a small board beside the incubator: reads what is attached, keeps it on disk, sends it on.

It imports neither pages nor journal nor numpy, so that it stays small. `python -m sensors.agent` is it.
"""
