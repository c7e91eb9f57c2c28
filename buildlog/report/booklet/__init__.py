"""The booklet and the sheet of a stage: content, pages, HTML, PDF.

May import: errors, findings, programs, units, records, analysis.car, analysis.pulls,
analysis.workshop, analysis.margins.figures, analysis.answers, report, report.as_json,
report.as_text, report.pictures.
"""
