"""Margins of fuel and mixture, a file for each.

May import: physics.numerics, physics.gases, physics.engines, physics.parts, units, records.car,
records, analysis.margins.figures.
"""
