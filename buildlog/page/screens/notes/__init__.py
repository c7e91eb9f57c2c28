"""The screens of what is written down in a minute at the car: odometer, photo, fault, work, a wait,
what came due.

May import: errors, records, analysis.workshop, analysis.answers, report, report.as_text,
desk.snapshot, desk.questions, page, page.drawing.
"""
