"""Air, charge, mixture, fuel, knock, heat, flow in pipes, and the correction of power.

May import: physics.numerics.
"""
