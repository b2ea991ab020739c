"""The whole chorus: base texture, one fill a gap at most, picks kept."""
