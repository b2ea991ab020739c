"""Comping: rhythmic chords under a melody that holds."""
