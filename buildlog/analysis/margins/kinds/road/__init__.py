"""Margins of the tyres, a file for each.

May import: physics.numerics, physics.gases, physics.engines, physics.parts, units, records,
analysis.margins.figures.
"""
