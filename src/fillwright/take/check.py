"""A take against a tune: the report."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from statistics import fmean, median

from fillwright.arranging.build import prepare
from fillwright.arranging.model import Arrangement, Options
from fillwright.errors import InputError
from fillwright.exact import Fraction
from fillwright.hands.model import LEVELS
from fillwright.swing import grid_ratio, line_ratio
from fillwright.take.answer import answer_of
from fillwright.take.elsewhere import unheard, unheard_words
from fillwright.take.findings import Asked, findings_of
from fillwright.take.form import form_of
from fillwright.take.heard import HeardRun
from fillwright.take.listen import listen_for_this_tune, other_keys
from fillwright.take.match import Match
from fillwright.take.model import Take
from fillwright.take.nearest import (
    ALIKE,
    Likeness,
    answer_by,
    as_written,
    nearest,
    offers_for,
    pairing,
)
from fillwright.take.notes import hands_of, notes_of
from fillwright.take.report import FormRun, GapHeard, NoteHeard, Report, Swing
from fillwright.take.roles import GapStrokes, gap_strokes, roles_of
from fillwright.take.timing import PARTS
from fillwright.take.words import first_empty, summary_of
from fillwright.take.written import WrittenChorus
from fillwright.theory.key import Key
from fillwright.tune.gaps import find_gaps
from fillwright.tune.model import Chorus, Gap, Tune

__all__ = ["NotHeard", "check_take"]

_SURELY_HEARD = 0.75        # of the melody, where a run came by: nothing more is asked
_LEAST_HEARD = 0.4          # with less it is another tune
_THE_SAME = 0.97            # of the strokes of a fill: it was played as it stands
_CLEARLY = 2.0              # times as much speaks for a tune as for the same in another key
_LEAST_SCORE = 15.0         # nats: about four notes
_IN_PLACE_BEATS = 0.2
_LEAST_PAIRS_OF_SWING = 4
_USUAL_ABOUT = 0.3          # around the ratios of lines and of steady hands (see `swing`)
_MOST_USUAL = 2.0           # ratios up to 2 : 1 are heard as swing


class NotHeard(InputError):
    """The tune is not in the take, as far as can be heard: it may be of another."""


def check_take(take: Take, tune: Tune | Chorus, options: Options | None = None,
               written: WrittenChorus | Arrangement | None = None) -> Report:
    """Hear a take against a tune.

    tune      the sheet, or a chorus of it
    options   key, octave, tempo, feel and form as they were played, where a `Tune` is given;
              level and hand of the fills that what was played is compared with
    written   the chorus for two hands that the student played from, if there was one

    Raises InputError, whose `source` is the take's name; `NotHeard` where the tune is not in it.
    """
    if not isinstance(take, Take):
        raise InputError("check_take hears a Take, as read_take gives it")
    options = Options() if options is None else options
    if isinstance(written, Arrangement):
        written = WrittenChorus.of(written)
    if isinstance(tune, Tune):
        if written is not None:
            options = written.options_for(options)
        chorus, gaps = prepare(tune, options)
    elif isinstance(tune, Chorus):
        chorus, gaps = tune, find_gaps(tune)
    else:
        raise InputError("a take is heard against a Tune, as read_tune gives it, or a Chorus")
    if written is not None:
        written.check_fits(chorus)
    runs = listen_for_this_tune(take, chorus)
    score = Score(chorus, gaps, options, written)
    report = _report(take, score, runs) if runs else None
    share = 0.0 if report is None else _share_in_place(report, runs)
    if report is None or share < _SURELY_HEARD:
        _check_it_is_there(take, chorus, share)
    assert report is not None
    return report


def _check_it_is_there(take: Take, chorus: Chorus, share: float) -> None:
    """Raise InputError where a take is of another tune, or in another key."""
    own, other, by = other_keys(take, chorus)
    title = chorus.tune.title
    if other > _CLEARLY * max(own, _LEAST_SCORE):
        key = chorus.key
        there = Key((key.fifths + 7 * by + 6) % 12 - 6, key.mode)
        raise InputError(f"{title!r} is heard in it in {there}, {abs(by)} "
                         f"{'semitone' if abs(by) == 1 else 'semitones'} "
                         f"{'higher' if by > 0 else 'lower'} than {key}: choose {there} as its key",
                         take.name)
    if share < _LEAST_HEARD or own < max(_CLEARLY * other, _LEAST_SCORE):
        raise NotHeard(f"{title!r} is not heard in it", take.name)


def _share_in_place(report: Report, runs: Sequence[HeardRun]) -> float:
    """How many of the notes that were come by are there at about their time: nine in ten and
    more of a take, one in four of one of another tune."""
    reached = in_place = 0
    for note in report.melody:
        reached += note.reached
        if note.status == "played":
            beat = runs[note.run].beat
            place = float(report.chorus.melody[note.note].onset_quarter)
            off = abs(note.late_sec or 0.0) / (beat.quarter_sec(place) * beat.step_quarter)
            in_place += off < _IN_PLACE_BEATS
    return in_place / reached if reached else 0.0


@dataclass(frozen=True, slots=True)
class Score:
    """What was there to be played."""

    chorus: Chorus
    gaps: Sequence[Gap]
    options: Options
    written: WrittenChorus | None


def _report(take: Take, score: Score, runs: Sequence[HeardRun]) -> Report:
    chorus = score.chorus
    form = form_of(runs, take, chorus)
    melody = tuple(note for number, run in enumerate(runs)
                   for note in _melody(number, run, take, chorus))
    played = [one for number, run in enumerate(runs)
              for one in gap_strokes(number, run, take.strokes, chorus, score.gaps)]
    answers = _answers(played, score, runs)
    roles, stroke_gaps = roles_of(runs, take.strokes,
                                  [(one, answer) for one, (answer, _) in
                                   zip(played, answers, strict=True)])
    if score.written is not None:
        roles, stroke_gaps = as_written(runs, take.strokes, score.written.notes,
                                        (roles, stroke_gaps))
    heard = tuple(_with_findings(one, _gap(one, answer, runs[one.run], melody, score), answer[1],
                                 Asked(take, chorus, runs[one.run], score.options.hand))
                  for one, answer in zip(played, answers, strict=True))
    mean = _mean_tempo(form, chorus, runs)
    report = Report(take, chorus, mean, _curve(form, runs, chorus), form, melody, roles,
                    stroke_gaps, heard, _swing(runs, chorus, mean), _balance(take, roles, runs), (),
                    (*take.warnings, *unheard_words(chorus.tune.title, unheard(runs, take))))
    return summary_of(report, _easy_idea(first_empty(heard), score))


def _easy_idea(empty: GapHeard | None, score: Score) -> str | None:
    """What a beginner would be offered for a gap: chords in rhythm before anything else."""
    if empty is None:
        return None
    number = empty.gap.number
    offers = offers_for(score.chorus, score.gaps, {number}, LEVELS[0], score.options.hand)[number]
    return min(offers, key=lambda fill: fill.family != "comp").device if offers else None


# --- the melody -----------------------------------------------------------------------------------

def _melody(number: int, run: HeardRun, take: Take, chorus: Chorus) -> list[NoteHeard]:
    """Every written note, as this run has it."""
    matches: dict[int, tuple[Match, float]] = {
        match.note: (match, carried)
        for match, carried in zip(run.matches, run.carried, strict=True)}
    found = []
    for note in range(len(chorus.melody)):
        if note not in matches or matches[note][0].stroke is None:
            found.append(NoteHeard(number, note, "missed", note in matches))
            continue
        match, carried = matches[note]
        assert match.stroke is not None
        sec = take.strokes[match.stroke].onset_sec
        found.append(NoteHeard(number, note, match.status, True, sec, sec - carried,
                               match.octave, match.stroke))
    return found


# --- the gaps -------------------------------------------------------------------------------------

def _answers(played: Sequence[GapStrokes], score: Score, runs: Sequence[HeardRun]
             ) -> list[tuple[str, Likeness | None]]:
    """How each gap was answered, and with which of the program's ideas. What is near to none at
    the level that was asked for is compared with those of the others."""
    hints = [answer_of(one) for one in played]
    near: list[dict[str, Likeness]] = [{} for _ in played]
    written = {} if score.written is None else score.written.fills
    for place, one in enumerate(played):
        if one.gap.number in written:
            near[place] = nearest(one, [written[one.gap.number]], runs[one.run])
    for level in sorted(LEVELS, key=lambda level: level != score.options.level):
        open_places = [place for place, hint in enumerate(hints) if hint != "open"
                       and max((one.share for one in near[place].values()), default=0) < ALIKE]
        offers = offers_for(score.chorus, score.gaps,
                            {played[place].gap.number for place in open_places}, level,
                            score.options.hand)
        for place in open_places:
            one = played[place]
            for family, like in nearest(one, offers[one.gap.number], runs[one.run]).items():
                if family not in near[place] or like.share > near[place][family].share:
                    near[place][family] = like
    return [answer_by(hint, some) for hint, some in zip(hints, near, strict=True)]


def _gap(one: GapStrokes, answered: tuple[str, Likeness | None], run: HeardRun,
         melody: Sequence[NoteHeard], score: Score) -> GapHeard:
    answer, like = answered
    late = None
    if one.landing is not None:
        late = next(note.late_sec for note in melody
                    if note.run == one.run and note.event == one.landing.event)
    beats = None
    if late is not None:
        place = float(one.gap.end_quarter)
        unit = float(score.chorus.bar_at(one.gap.end_quarter).meter.beat_quarter)
        beats = late / (run.beat.quarter_sec(place) * unit)
    heard = None if one.held is None else one.held.until_sec - one.held.onset_sec
    return GapHeard(one.run, one.gap, answer, len(one.attacks),
                    None if like is None else like.fill.device,
                    None if like is None else like.fill.id, melody_heard_sec=heard,
                    back_late_sec=late, back_late_beats=beats,
                    is_asked=score.written is None or one.gap.number in score.written.fills)


def _with_findings(one: GapStrokes, heard: GapHeard, like: Likeness | None, asked: Asked
                   ) -> GapHeard:
    """Where the nearest offer is what was played, its hands are those of the strokes."""
    hands: dict[int, str] = {}
    if like is not None and like.share >= ALIKE:
        notes = like.fill.notes
        hands = {event: notes[place].hand
                 for place, event in pairing(one.strokes, notes, asked.run)}
    if one.held is not None:
        until = Fraction(round(4 * asked.run.beat.quarter(
            min(one.held.until_sec, one.until_sec))), 4)
        heard = replace(heard, held_until_quarter=max(
            until, one.gap.onset_quarter + Fraction(1, 4)))
    if heard.answer != "open":
        heard = replace(heard, notes=notes_of(one, asked.run, asked.chorus,
                                              hands_of(one.strokes, hands)))
    return replace(heard, findings=findings_of(
        one, heard, like is not None and like.share >= _THE_SAME, asked))


# --- tempo, swing, balance ------------------------------------------------------------------------

def _mean_tempo(form: Sequence[FormRun], chorus: Chorus, runs: Sequence[HeardRun]) -> float:
    """Felt beats over minutes, of the places that were played."""
    beats = minutes = 0.0
    for one, run in zip(form, runs, strict=True):
        start, end = float(one.from_quarter), float(one.to_quarter)
        beats += (end - start) / float(chorus.meter.beat_quarter)
        minutes += (run.beat.smooth_sec(end) - run.beat.smooth_sec(start)) / 60
    return beats / minutes if minutes > 0 else float(chorus.tempo_bpm)


def _curve(form: Sequence[FormRun], runs: Sequence[HeardRun], chorus: Chorus
           ) -> tuple[tuple[Fraction, float], ...]:
    """The tempo at the beginning of each run and at each bar line that it came by."""
    found = []
    for one, run in zip(form, runs, strict=True):
        places = [one.from_quarter, *(bar.onset_quarter for bar in chorus.bars
                                      if one.from_quarter < bar.onset_quarter < one.to_quarter)]
        for place in places:
            unit = float(chorus.bar_at(place).meter.beat_quarter)
            found.append((place, 60 / (run.beat.quarter_sec(float(place)) * unit)))
    return tuple(found)


def _swing(runs: Sequence[HeardRun], chorus: Chorus, tempo_bpm: float) -> Swing | None:
    """Two eighths and the beat after them, by one hand: long to short."""
    ratios = []
    for run in runs:
        clock = run.habit.clock
        for part in PARTS:
            at: dict[Fraction, float] = {}
            for heard in run.heard:
                if heard.part == part and heard.quarter not in at:
                    at[heard.quarter] = heard.sec
            for (one, off), (_, after) in zip(pairwise(sorted(at.items())),
                                              pairwise(sorted(at.items())[1:]), strict=False):
                beat, _ = clock.beat_of(one[0])
                unit = chorus.bar_at(one[0]).meter.beat_quarter
                if (one[0] == beat and off[0] == beat + unit / 2 and after[0] == beat + unit
                        and clock.place(off[0])[2] == "off" and after[1] > off[1] > one[1]):
                    ratios.append((off[1] - one[1]) / (after[1] - off[1]))
    if len(ratios) < _LEAST_PAIRS_OF_SWING:
        return None
    usual = (1.0, 1.2)
    if chorus.feel == "swing":
        quarters = tempo_bpm * float(chorus.meter.beat_quarter)
        usual = (max(1.0, line_ratio(quarters) - _USUAL_ABOUT),
                 max(_MOST_USUAL, grid_ratio(quarters) + _USUAL_ABOUT))
    return Swing(median(ratios), len(ratios), usual)


def _balance(take: Take, roles: Sequence[str], runs: Sequence[HeardRun]) -> float | None:
    """Mean velocity of the melody minus that of the accompaniment, where the tune was played."""
    by_role: dict[str, list[int]] = {"melody": [], "accompaniment": []}
    for run in runs:
        for place in range(run.run.first, run.run.last):
            if roles[place] in by_role:
                by_role[roles[place]].append(take.strokes[place].velocity)
    if not all(by_role.values()):
        return None
    return fmean(by_role["melody"]) - fmean(by_role["accompaniment"])
