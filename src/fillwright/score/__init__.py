"""An arrangement on paper.

    to_musicxml     MusicXML 4.0 for any notation program
    engrave         MusicXML to SVG pages, by verovio in a process of its own
    pages_to_pdf    SVG pages to one PDF, by typst
    render_score    all of these, as bytes by file name

Inside, from the notes to the page: `voices` (who shares a stem), `metre` and `rhythm` (note
values, ties, tuplets), `beams`, `accidentals`, `page` (bars, staves, voices together),
`symbols`, `marks` and `counts` (words and signs), `musicxml` (all of it as XML), `mei`
(the engraver's dress), `fonts`.

The engraver and typst are imported only when a page is made.
"""

from __future__ import annotations

from fillwright.score.engrave import Engraving, EngravingError, PageStyle, engrave
from fillwright.score.musicxml import to_musicxml
from fillwright.score.pdf import pages_to_pdf
from fillwright.score.render import SCORE_FORMATS, engrave_arrangement, render_score

__all__ = ["SCORE_FORMATS", "Engraving", "EngravingError", "PageStyle", "engrave",
           "engrave_arrangement", "pages_to_pdf", "render_score", "to_musicxml"]
