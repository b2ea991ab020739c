"""The moves: every device of reharmonization, by what it works with.

They are those of harmony textbooks (Levine, *The Jazz Theory Book*, Sher 1995; Nettles & Graf,
*The Chord Scale Theory and Jazz Harmony*, Advance 1997; from memory) and common practice. Of
ways that give the same chords at a place the first one here names them.

`dominants`: of the chord that comes, with and without their II. `substitutes`: a tritone away or a
half step beside. `borrowed`: from the minor key. `diminished`: passing, on a root that stays, for a
dominant. `walks`: along the scale, by half steps, in thirds. `basses`: a bass line as the idea.
`lines`: one voice moves. `still`: the bass stays or the third waits. `endings`: after the last
melody note. `cycles`: rounds of several chords. `scale`: neighbours in the key.
"""

from __future__ import annotations

from fillwright.fills.devices.reharm.device import Move
from fillwright.fills.devices.reharm.moves.basses import BASSES
from fillwright.fills.devices.reharm.moves.borrowed import BORROWED
from fillwright.fills.devices.reharm.moves.cycles import CYCLES
from fillwright.fills.devices.reharm.moves.diminished import DIMINISHED
from fillwright.fills.devices.reharm.moves.dominants import DOMINANTS
from fillwright.fills.devices.reharm.moves.endings import ENDINGS
from fillwright.fills.devices.reharm.moves.lines import LINES
from fillwright.fills.devices.reharm.moves.scale import SCALE
from fillwright.fills.devices.reharm.moves.still import STILL
from fillwright.fills.devices.reharm.moves.substitutes import SUBSTITUTES
from fillwright.fills.devices.reharm.moves.walks import WALKS

__all__ = ["MOVES"]

MOVES: tuple[Move, ...] = (*DOMINANTS, *SUBSTITUTES, *BORROWED, *DIMINISHED, *WALKS, *BASSES,
                           *LINES, *STILL, *ENDINGS, *CYCLES, *SCALE)
"""All of them; the plain neighbours in the scale come last, for what has a better name."""
