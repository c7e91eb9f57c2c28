"""From pulls to sheets and measured differences: curves, scatter, sags, mixture.

May import: errors, findings, physics.numerics, physics.gases, physics.engines, physics.parts,
physics.traces, units, records.car, records, rawfiles, analysis.car.
"""
