"""Tunes, choruses, fills and arrangements as pictures and sound, without a file.

    show   a lead sheet with its gaps; a fill in its bars; the pages of an arrangement
    play   the same as sound; a tune or chorus is played with its gaps left open

Engraver and piano are imported only when something is shown or played.
"""

from __future__ import annotations

from fillwright.arranging.assemble import complete
from fillwright.arranging.model import Arrangement, Decided, Options
from fillwright.arranging.story import story_of
from fillwright.arranging.window import Window, staff_of, window_of
from fillwright.errors import InputError
from fillwright.fills.model import Fill
from fillwright.given import a
from fillwright.shown import Picture, Sound
from fillwright.tune.form import unfold
from fillwright.tune.gaps import find_gaps
from fillwright.tune.model import Chorus, Tune

__all__ = ["play", "show"]


def show(thing: object) -> Picture:
    """Engrave a Tune, a Chorus, a Fill of a proposal or an Arrangement.

    Raises InputError for anything else, `EngravingError` where the engraver fails.
    """
    from fillwright.score.engraver import PageStyle, engrave_musicxml
    from fillwright.score.lead import lead_sheet
    from fillwright.score.mei import Heading
    from fillwright.score.musicxml import to_musicxml
    from fillwright.score.render import engrave_arrangement

    if isinstance(thing, Tune):
        thing = unfold(thing)
    if isinstance(thing, Chorus):
        return Picture(lead_sheet(thing, find_gaps(thing)).pages, thing.tune.title)
    if isinstance(thing, Arrangement):
        return Picture(engrave_arrangement(thing).pages, thing.chorus.tune.title)
    if isinstance(thing, Fill):
        staff = staff_of(_window(thing))[0]
        small = PageStyle(width=9000, height=700, margin_side=20, margin_top=60,
                          margin_bottom=20, systems=1, in_one_line=True)
        done = engrave_musicxml(to_musicxml(staff, fingering="fills", view=True), Heading(),
                                small, foot=())
        return Picture(done.pages, f"gap {thing.gap}: {thing.device}")
    raise InputError(f"{a(thing)} cannot be shown; a Tune, Chorus, Fill or Arrangement can")


def play(thing: object) -> Sound:
    """Play a Tune, a Chorus, a Fill of a proposal or an Arrangement.

    Raises InputError for anything else.
    """
    from fillwright.sound.audio import render_sound

    if isinstance(thing, Tune):
        thing = unfold(thing)
    if isinstance(thing, Chorus):
        gaps = find_gaps(thing)
        title = thing.tune.title
        thing = complete(story_of(thing, gaps), {}, Decided({gap.number: None for gap in gaps}),
                         Options())
    elif isinstance(thing, Fill):
        title = f"gap {thing.gap}: {thing.device}"
        thing = _window(thing).arrangement
    elif isinstance(thing, Arrangement):
        title = thing.chorus.tune.title
    else:
        raise InputError(f"{a(thing)} cannot be played; a Tune, Chorus, Fill or Arrangement can")
    return Sound(render_sound(thing, ("flac",))["arrangement.flac"], title)


def _window(fill: Fill) -> Window:
    if fill.chorus is None:
        raise InputError("this fill stands in no chorus; take one that `propose` or `arrange` gave")
    return window_of(fill.chorus, find_gaps(fill.chorus), fill.gap, fill,
                     Options(level=fill.level))
