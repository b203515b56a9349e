"""A simulated incubator: heat, water vapour, faults and the probes that watch them. Pure, seeded, in SI units.

It is an invented world, not a measurement: the formulas are published physics, the sizes are chosen for a plausible
cabinet. Nothing here takes part in judging a real reading.
"""
