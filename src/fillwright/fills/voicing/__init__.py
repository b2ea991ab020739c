"""Chord symbols as keys: the forms a hand can take."""
