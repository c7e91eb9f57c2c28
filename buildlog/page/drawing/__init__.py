"""What the screens are drawn with: words, forms, figures and templates.

May import: errors, channels, units, records.car, records, analysis.car, analysis.workshop, report,
report.pictures, report.booklet, desk.snapshot, desk.questions, desk.acts, desk.give, page.
"""
