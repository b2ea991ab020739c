"""Reharmonization: passing chords that are not on the chart.

To be read in this order:

    family                    all of it: plans, their hands, their drafts
    device, moves, conditions what a move is, all of them, and where each may stand
    place, function, never    what sounds, what comes, what lies around; what is never done there
    options, passing, time    what the moves give at a place, and when
    states, arrival, plan     the ways through the gap's chords
    prior, own, rank          how likely its chords are: in real tunes, in this one, at their time
    hands, voice, touch, broken, spelling
                              what two hands strike, how, and by which names
    sound, whole, told, disguise, recognise
                              whether it is heard as what is printed
    words, reasons            what is said of it
"""
