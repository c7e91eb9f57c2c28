"""Answers as tables in a notebook.

May import: findings, records, store.ledger, analysis.car, analysis.pulls, analysis.answers, report,
report.as_text, report.booklet.
"""
