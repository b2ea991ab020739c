"""A ladder: one idea thinned from the level it was offered at down to a beginner's.

    taken_back   a finished fill as the draft it was, to be changed and finished anew
    naming       what is then said of it: only what its devices hear in its notes
    thinning     what can be left out, one thing at a time
    frames       what is still recognised when the full name is no longer true
    fits         for which level a form is
    rungs        the ladder; a rung by its id

A rung is a fill like any other: it can be heard, picked for a chorus, handed out.
"""
