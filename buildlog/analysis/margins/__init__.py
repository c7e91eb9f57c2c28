"""What is asked of each part beside its limit, and what is reached first.

May import: errors, findings, physics.numerics, physics.gases, physics.engines, physics.parts,
units, records, analysis.car, analysis.workshop.
"""
