"""Results as JSON documents and CSV tables.

May import: findings, units, records, analysis.car, analysis.pulls, analysis.margins,
analysis.prediction, analysis.answers, report.
"""
