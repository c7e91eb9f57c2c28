"""What another version would give, as a band, and what past stages teach.

May import: errors, physics.numerics, physics.gases, physics.engines, units, records.fields,
records.car, records, analysis.car, analysis.pulls.
"""
