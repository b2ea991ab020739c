"""Comping: rhythmic chords under a melody that holds.

To be read in this order:

    family                  all of it: textures in rhythms, the cheapest first
    texture, table          what a way of comping is, and all of them; `kinds`: the voicings each
                            hand looks for in them; `inner`: the lines of a moving voice,
                            `tenor`: those of the left hand
    grips, ideas, passages  how each is heard in the notes, and what is said of it
    setting, times          the gap as comping measures it, and the rhythms that suit
    again                   what is asked for in a chorus: an idea that comes back, its shout
    strokes, plan, led      who strikes when over which chord; `ending`: how long a tune's last
                            note stays on top
    states, lefts, rights, below, colours
                            which keys may be struck, and what each costs by itself
    steps, walk, search     what it costs to go on, and the cheapest way
    drafts, names, reasons  the notes, what they are called, what is said of them
"""
