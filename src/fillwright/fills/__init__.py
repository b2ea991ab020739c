"""Ideas for a gap: comping, passing chords, lines.

`propose.propose` asks the three families; each describes states and costs to the lattice
and hands its drafts to `build.finish`, the only place where a draft becomes a `Fill`: it
is fingered, audited, counted and named there, or refused.
"""
