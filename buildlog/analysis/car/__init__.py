"""The car at a version: what changed, gearing, priors, which session belongs to it.

May import: errors, findings, physics.numerics, physics.parts, units, records.fields, records.car,
records.
"""
