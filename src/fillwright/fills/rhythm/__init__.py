"""When chords are struck: generated rhythms and their syncopation."""
