"""Results as figures.

May import: errors, records.car, records, analysis.pulls, analysis.margins.figures,
analysis.prediction, analysis.answers, report, report.as_text.
"""
