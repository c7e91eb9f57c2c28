"""Single parts and their limits: clutch, shafts, gears, tyres, belt, injectors, pump, fasteners.

May import: physics.numerics, physics.gases, physics.engines.
"""
