"""The day in the shop: lists, faults, fasteners, part life, gates, doubts.

May import: errors, findings, physics.gases, physics.engines, physics.parts, units, records.fields,
records.car, records, analysis.car.
"""
