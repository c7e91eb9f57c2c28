"""Results that several subjects make together: the comparison, next steps, plans, the shop.

May import: errors, findings, physics.parts, units, records.fields, records.car, records,
analysis.car, analysis.pulls, analysis.workshop, analysis.margins.figures, analysis.margins,
analysis.prediction.
"""
