"""An arrangement on paper.

    engrave            all of it, as bytes by file name: MusicXML, SVG pages, PDF
    to_musicxml        MusicXML 4.0 for any notation program
    Printing           what a reader chooses: fingers, counts, size, paper, chord symbols
    restyled           an arrangement with its chord symbols written in another way
    engrave_musicxml   MusicXML to SVG pages, by verovio in a process of its own
    pages_to_pdf       SVG pages to one PDF, by typst
    drawn_on, shift    what is drawn on a page, as the rectangles its ink fills; moving it
    read_arrangement   the way back: a score for two hands, from any program, to struck keys

Inside, from the notes to the page: `voices` (who shares a stem), `metre` and `rhythm` (note values,
ties, tuplets), `beams`, `accidentals`, `page` (bars, staves, voices together), `symbols`, `marks`,
`octaves` and `fingers` (words and signs), `note_elements` and `musicxml` (all of it as XML); then
`engraver` with `mei` and `labels` (its dress), `worker` (its process); after it `ink` (what is
drawn where), `obstacles`, `moving`, `signs` (accidentals of two voices), `ties` (from the line
before), `placing` (words and signs clear of the notes) with `slurs` (led around fingers), `turning`
(which line may end a page), `paging` (lines of music on pages); `typeset` (the door to typst),
`pdf`, `fonts` and `embed`; `render` makes all files at once, as chosen in `printing`, `lead` the
sheet as it came, `heard` the same with what a student made of it, and `readback` reads a page.
`pictures` says which keys are down together, `handdrawing`, `handstrip` and `handpages` draw that;
`inpage` makes a drawing safe to stand inside an HTML page.

The engraver and typst are imported only when a page is made.
"""

from __future__ import annotations

from fillwright.score.embed import embed_fonts
from fillwright.score.engraver import (
    Engraving,
    EngravingError,
    PageStyle,
    engrave_musicxml,
)
from fillwright.score.ink import Drawn, drawn_on
from fillwright.score.labels import clear_signs
from fillwright.score.moving import shift
from fillwright.score.musicxml import to_musicxml
from fillwright.score.obstacles import Area
from fillwright.score.pdf import pages_to_pdf
from fillwright.score.placing import place_line
from fillwright.score.printing import Printing
from fillwright.score.readback import read_arrangement
from fillwright.score.render import SCORE_FORMATS, engrave_arrangement, render_score
from fillwright.score.signs import part_signs
from fillwright.score.symbols import restyled

__all__ = ["SCORE_FORMATS", "Area", "Drawn", "Engraving", "EngravingError", "PageStyle",
           "Printing", "clear_signs", "drawn_on", "embed_fonts", "engrave",
           "engrave_arrangement", "engrave_musicxml", "pages_to_pdf", "part_signs", "place_line",
           "read_arrangement", "render_score", "restyled", "shift", "to_musicxml"]

engrave = render_score
