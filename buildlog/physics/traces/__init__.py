"""What is read out of a trace: the full-load sweep, sags, engine speed, inertia, road load.

May import: physics.numerics.
"""
