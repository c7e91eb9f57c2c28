"""The page: the desk for a browser, at the car; what every screen and every act is told.

May import: errors, units, analysis.answers, desk.snapshot, desk.questions.
"""
