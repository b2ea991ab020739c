"""Lines: improvisation in the right hand.

To be read in this order:

    family                    all of it: lines found, judged, named, with a left hand under them
    learnt, dice              what real solos cost, and how a line is drawn from that
    room, rhythms, seeds      what the gap allows, when notes come, what a line is asked for
    question, walk            what is asked of each note, and pitches drawn
    found, judging            lines found, and how good a whole line is
    again                     lines that take up an idea of the chorus
    sounding                  a line as it is heard
    naming, devices, pitchwork, gestures, motives, octaves, doubles, shift
                              the ideas that are heard in it, each with its sentence
    strikes, left, told, tenor, manners, spelling
                              what is played under it, and its names
    reasons                   what is said of it
"""
