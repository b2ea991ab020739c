"""Lines: improvisation in the right hand."""
