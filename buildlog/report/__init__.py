"""Results as text, JSON, figures and pages. Nothing here calculates."""
