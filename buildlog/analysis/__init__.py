"""Records and raw files to results; nothing here reads git or writes."""
