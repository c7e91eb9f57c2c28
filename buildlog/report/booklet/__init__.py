"""The booklet and the stage sheet: one content, as HTML, PDF, text and JSON."""
