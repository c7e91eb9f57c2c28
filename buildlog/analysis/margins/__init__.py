"""What is asked of each part beside its limit, and what is reached first.

May import: errors, findings, physics.numerics, physics.gases, physics.parts, units, records,
analysis.car, analysis.margins.figures, analysis.margins.kinds.fuel,
analysis.margins.kinds.charge, analysis.margins.kinds.engine, analysis.margins.kinds.driveline,
analysis.margins.kinds.road.
"""
