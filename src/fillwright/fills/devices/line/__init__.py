"""Lines: improvisation in the right hand.

To be read in this order:

    family                    all of it: lines found, judged, named, with a left hand under them
    learnt, dice              what real solos cost, and how a line is drawn from that
    room, rhythms, seeds      what the gap allows, when notes come, what a line is asked for
    walk, found, judging      pitches drawn, and how good a whole line is
    sounding                  a line as it is heard
    naming, devices, pitchwork, gestures, octaves, doubles, shift
                              the ideas that are heard in it, each with its sentence
    strikes, left, tenor, manners, spelling
                              what is played under it, and its names
    reasons                   what is said of it
"""
