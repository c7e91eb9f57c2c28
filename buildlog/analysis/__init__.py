"""From records and raw files to results: sheets, differences, findings."""
