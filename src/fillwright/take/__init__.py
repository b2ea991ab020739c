"""What a student played, against the tune: the ear.

Read in this order: `model` (key strokes in seconds), `smf` (the bytes of a Standard MIDI File)
and `read` (a take from it); `score` (the tune as the ear wants it), `follow` (where in it each
stroke may be, through slips and jumps) and `runs` (what was played without a jump); `beat` (the
student's own beat), `timing` and `waits` (habits, what is late) and `match` (which stroke is which
note);
`elsewhere` tells runs of this tune from what was played beside it; `joins` says where exactly a
run ends and the next begins, and `listen` goes through all of these (what it finds stands in
`heard`). `form`, `roles`, `answer`, `written` (what was on paper) and `nearest` (the offer that
is nearest to what was played) say what that means for the form, the strokes and the gaps, `notes`
and `findings` what there is to work on; `report` holds it, `words` says it, `check` does all.
`live` hears one gap while the tune goes by; `keep` makes a fill of one's own of what was played;
`among` says which of some tunes it is.
"""

from fillwright.take.among import best_fit
from fillwright.take.check import NotHeard, check_take
from fillwright.take.keep import kept_fill, kept_findings
from fillwright.take.live import PlayedAnswer, answer_played, strokes_of
from fillwright.take.model import PedalMove, Stroke, Take
from fillwright.take.read import read_take, take_from_bytes
from fillwright.take.report import FormRun, GapHeard, Report
from fillwright.take.written import WrittenChorus, read_written

__all__ = ["FormRun", "GapHeard", "NotHeard", "PedalMove", "PlayedAnswer", "Report", "Stroke",
           "Take", "WrittenChorus", "answer_played", "best_fit", "check_take", "kept_fill",
           "kept_findings", "read_take", "read_written", "strokes_of", "take_from_bytes"]
