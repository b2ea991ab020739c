"""Reharmonization: passing chords that are not on the chart."""
