"""The rules of a take, one by one: what docs/json.md promises."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from statistics import median

import pytest
from tests.demo_arrangements import arranged
from tests.take.perturb import Wish, midi_of, played

from fillwright import InputError, Options, arrange, check_take, demo, read_tune, unfold
from fillwright.cli import main
from fillwright.take import (
    Stroke,
    Take,
    best_fit,
    kept_fill,
    kept_findings,
    read_take,
    read_written,
)


def shifted(take: Take, by_event: dict[int, float]) -> Take:
    """The take with some strokes earlier or later; they keep their order."""
    return replace(take, strokes=tuple(
        replace(s, onset_sec=s.onset_sec + by_event.get(s.event, 0.0),
                release_sec=s.release_sec + by_event.get(s.event, 0.0),
                until_sec=s.until_sec + by_event.get(s.event, 0.0)) for s in take.strokes))


def with_strokes(take: Take, *more: Stroke) -> Take:
    ordered = sorted([*take.strokes, *more], key=lambda s: (s.onset_sec, s.midi))
    return replace(take, strokes=tuple(replace(s, event=i) for i, s in enumerate(ordered)))


@pytest.mark.slow
def test_a_student_who_plays_even_eighths_is_not_early_on_the_off_beats() -> None:
    """Off-beats follow the student's own swing."""
    even = arrange(read_tune(demo.demo_path("umbrella")), Options(feel="straight"))
    report = check_take(played(even, Wish()).take, arranged("umbrella").chorus)
    late = [note.late_sec for note in report.melody if note.late_sec is not None]
    assert abs(median(late)) < 0.01 and max(map(abs, late)) < 0.04
    assert report.swing is not None and report.swing.ratio == pytest.approx(1.0, abs=0.12)


def test_one_late_landing_is_measured_and_nothing_else_is_late() -> None:
    known = played(arranged("umbrella"), Wish(jitter_sec=0.004))
    gap = next(gap for gap in known.arrangement.gaps if gap.number == 3)
    assert gap.landing is not None
    note = [n.onset_quarter for n in known.arrangement.chorus.melody].index(
        gap.landing.onset_quarter)
    event = known.melody[0, note]
    before, after = known.take.strokes[event], known.take.strokes[event + 1]
    by = min(0.12, after.onset_sec - before.onset_sec - 0.001)
    late = check_take(shifted(known.take, {event: by}), known.arrangement.chorus)
    times = {one.gap.number: one.back_late_sec for one in late.gaps}
    straight = check_take(known.take, known.arrangement.chorus)
    for one in straight.gaps:
        if one.back_late_sec is not None:
            wanted = one.back_late_sec + (by if one.gap.number == 3 else 0.0)
            assert times[one.gap.number] == pytest.approx(wanted, abs=0.012)


@pytest.mark.slow
@pytest.mark.parametrize("number", range(1, 7))
def test_all_in_time_for_a_student_who_waits_but_the_landing_after_the_wait(number: int) -> None:
    """Carried on from before: who stops to think and then goes on is late once, in whichever gap
    and whatever was played there."""
    known = played(arranged("umbrella"), Wish(jitter_sec=0.004))
    gap = next(gap for gap in known.arrangement.gaps if gap.number == number)
    assert gap.landing is not None
    note = [n.onset_quarter for n in known.arrangement.chorus.melody].index(
        gap.landing.onset_quarter)
    sec = known.take.strokes[known.melody[0, note]].onset_sec - 0.03
    report = check_take(shifted(known.take, {s.event: 0.4 for s in known.take.strokes
                                             if s.onset_sec >= sec}), known.arrangement.chorus)
    assert len(report.form) == 1
    for one in report.gaps:
        if one.back_late_sec is not None:
            wanted = 0.4 if one.gap.number == number else 0.0
            assert one.back_late_sec == pytest.approx(wanted, abs=0.035), one.gap.number
    waited = next(one for one in report.gaps if one.gap.number == number)
    assert any(finding.rule == "landing" for finding in waited.findings)
    assert "bar" in report.summary[1] and "late" in report.summary[1]


@pytest.mark.slow
def test_ninety_milliseconds_of_a_ballad_are_in_time_in_every_sentence() -> None:
    """A tenth of a beat: nothing was found there to be mended, and yet it was to be worked on."""
    known = played(arranged("snow"), Wish(jitter_sec=0.002))
    chorus = known.arrangement.chorus
    # A landing that begins a phrase comes after a breath, a little late of its own.
    gap = next(one.gap for one in check_take(known.take, chorus).gaps
               if one.back_late_sec is not None and abs(one.back_late_sec) < 0.01)
    assert gap.landing is not None
    note = [n.onset_quarter for n in chorus.melody].index(gap.landing.onset_quarter)
    event = known.melody[0, note]
    beat_sec = 60 / 66
    for beats, is_off in ((0.09, False), (0.16, True)):
        by = beats * beat_sec
        own = known.take.strokes[event]
        rest = replace(known.take, strokes=tuple(
            replace(stroke, event=place) for place, stroke in enumerate(
                stroke for stroke in known.take.strokes if stroke.event != event)))
        report = check_take(with_strokes(rest, replace(
            own, onset_sec=own.onset_sec + by, release_sec=own.release_sec + by,
            until_sec=own.until_sec + by)), chorus)
        heard = next(one for one in report.gaps if one.gap.number == gap.number)
        assert heard.back_late_sec == pytest.approx(by, abs=0.02)
        assert heard.is_off is is_off
        assert any(one.rule == "landing" for one in heard.findings) is is_off
        assert ("the way back" in report.summary[1]) is is_off


def test_only_a_tempo_that_can_be_noticed_to_move_is_told() -> None:
    chorus = arranged("umbrella").chorus
    for drift, is_steady in ((0.0, True), (0.1, False)):
        report = check_take(played(arranged("umbrella"), Wish(drift=drift, jitter_sec=0.0)).take,
                            chorus)
        assert report.is_steady is is_steady


def test_gaps_that_stay_empty_are_worked_on_unless_the_chorus_leaves_them_open() -> None:
    """The melody alone: against the sheet every gap is empty; against a chorus without a fill
    nothing was asked for."""
    tune = read_tune(demo.demo_path("umbrella"))
    bare = arrange(tune, Options(picks=tuple(
        (gap.number, "open") for gap in arranged("umbrella").gaps)))
    known = played(bare, Wish())
    melody = set(known.melody.values())
    take = replace(known.take, strokes=tuple(
        replace(stroke, event=place) for place, stroke in enumerate(
            stroke for stroke in known.take.strokes if stroke.event in melody)))
    empty = check_take(take, tune, bare.options)
    count = len(empty.gaps)
    assert f"{count} of {count} gaps stayed empty: in bar " in empty.summary[1]
    assert "answered" not in empty.summary[0]
    assert "stayed empty" not in check_take(take, tune, written=bare).summary[1]


def test_what_is_open_and_how_long_the_held_note_sounds() -> None:
    known = played(arranged("umbrella"), Wish())
    report = check_take(known.take, known.arrangement.chorus)
    for one in report.gaps:
        struck = {note.onset_quarter for note in known.arrangement.notes
                  if note.role != "melody"
                  and one.gap.onset_quarter < note.onset_quarter < one.gap.end_quarter}
        assert one.attacks == len(struck)
        assert (one.answer == "open") == (len(struck) <= 1)
        held = next(note for note in report.melody
                    if known.arrangement.chorus.melody[note.note] is one.gap.held)
        assert held.event is not None and one.melody_heard_sec is not None
        stroke = known.take.strokes[held.event]
        assert one.melody_heard_sec == pytest.approx(stroke.until_sec - stroke.onset_sec)
        for event, number in enumerate(report.stroke_gaps):
            assert (number is not None) == (report.roles[event] == "fill")


def test_a_third_below_is_accompaniment_and_an_octave_above_melody() -> None:
    known = played(arranged("umbrella"), Wish())
    stroke = known.take.strokes[known.melody[0, 5]]
    third = replace(stroke, midi=stroke.midi - 4, onset_sec=stroke.onset_sec + 0.005)
    octave = replace(stroke, midi=stroke.midi + 12, onset_sec=stroke.onset_sec + 0.01)
    take = with_strokes(known.take, third, octave)
    report = check_take(take, known.arrangement.chorus)
    roles = {s.midi: report.roles[s.event] for s in take.strokes
             if abs(s.onset_sec - stroke.onset_sec) < 0.02}
    assert roles[stroke.midi] == roles[stroke.midi + 12] == "melody"
    assert roles[stroke.midi - 4] == "accompaniment"
    assert report.melody[5].octave == 0


LONG = ('X:1\nT:Long\nM:4/4\nL:1/4\nQ:1/4=132\nK:C\n'
        + 2 * '"Cmaj7"e d c B|"Am7"c d e g|"Dm7"f e d c|"G7"B c d e|'
        + '"Cmaj7"e2 g2|"Am7"c4|"Dm7"d2 f2|"G7"B4|]\n')


def test_late_landings_on_end_leave_the_beat_to_the_hand_that_keeps_it(tmp_path: Path) -> None:
    """The left hand strikes every beat; the last notes of the tune are all late. The beat bent with
    them, until what the left hand struck lay nowhere, and they were said to be in time."""
    (tmp_path / "long.abc").write_text(LONG)
    chorus = unfold(read_tune(tmp_path / "long.abc"))
    late = {34: 0.06, 36: 0.07, 40: 0.045, 42: 0.11, 44: 0.1}
    beat_sec = chorus.seconds_per_quarter
    keys = [(float(note.onset_quarter) * beat_sec + late.get(int(note.onset_quarter), 0.0),
             note.midi, 84) for note in chorus.melody]
    keys += [(beat * beat_sec + 0.004 * (beat % 3), 48 + beat % 3, 60) for beat in range(48)]
    take = Take("long.mid", tuple(
        Stroke(event, sec, sec + 0.3, sec + 0.3, midi, velocity)
        for event, (sec, midi, velocity) in enumerate(sorted(keys))))
    heard = {int(gap.gap.end_quarter): gap.back_late_sec for gap in check_take(take, chorus).gaps}
    for place, by in late.items():
        assert heard[place] == pytest.approx(by, abs=0.02)


@pytest.mark.slow
def test_two_choruses_are_two_runs_or_one_chorus_played_twice() -> None:
    once = arranged("umbrella")
    known = played(once, Wish(sections=((0, 48), (0, 48))))
    report = check_take(known.take, once.chorus)
    assert [(str(run.from_quarter), str(run.to_quarter)) for run in report.form] == [
        ("0", "48"), ("0", "48")]
    assert {gap.run for gap in report.gaps} == {0, 1}
    tune = read_tune(demo.demo_path("umbrella"))
    twice = check_take(known.take, tune, Options(choruses=2))
    assert [(str(run.from_quarter), str(run.to_quarter)) for run in twice.form] == [("0", "96")]


@pytest.mark.slow
def test_another_key_is_named() -> None:
    tune = read_tune(demo.demo_path("umbrella"))
    known = played(arrange(tune, Options(key="D minor")), Wish())
    with pytest.raises(InputError, match=r"^take\.mid: 'Wrong Umbrella' is heard in it in D minor, "
                                         r"2 semitones higher than C minor: choose D minor"):
        check_take(known.take, tune)
    assert check_take(known.take, tune, Options(key="D minor")).form


def _by_key(take: Take, told: Sequence[object]) -> dict[int, list[object]]:
    rows: dict[int, list[object]] = {}
    for stroke, value in zip(take.strokes, told, strict=True):
        rows.setdefault(stroke.midi, []).append(value)
    return rows


@pytest.mark.slow
def test_a_written_chorus_says_what_each_stroke_is(tmp_path: Path,
                                                   capsys: pytest.CaptureFixture[str]) -> None:
    path, sheet = tmp_path / "w", str(demo.demo_path("umbrella"))
    with pytest.raises(SystemExit):
        main(["arrange", sheet, "-o", str(path), "--formats", "json", "--key", "D minor"])
    written = read_written(path / "arrangement.json")
    arrangement = arrange(read_tune(sheet), Options(key="D minor"))
    known = played(arrangement, Wish())
    (tmp_path / "t.mid").write_bytes(midi_of(known.take))
    capsys.readouterr()
    with pytest.raises(SystemExit) as done:
        main(["take", sheet, str(tmp_path / "t.mid"), "--json", "--arrangement",
              str(path / "arrangement.json")])
    assert done.value.code == 0
    document = json.loads(capsys.readouterr().out)
    assert document["options"]["key"] == "D minor"
    # strokes of one tick come in another order from the file: they are compared key by key
    read = read_take(tmp_path / "t.mid")
    for name, told in (("role", known.roles), ("gap", known.gaps)):
        found = [stroke[name] for stroke in document["strokes"]]
        assert _by_key(read, found) == _by_key(known.take, told)
    for gap in document["gaps"]:
        if gap["answer"] != "open" and gap["number"] in written.fills:
            fill = written.fills[gap["number"]]
            assert (gap["answer"], gap["device"], gap["fill"]) == (
                fill.family, fill.device, fill.id)

    with pytest.raises(InputError, match="it is not an arrangement of 'What the Snow Kept'"):
        check_take(known.take, read_tune(demo.demo_path("snow")), None, written)
    (tmp_path / "bad.json").write_text('{"version": 1, "notes": [3]}')
    with pytest.raises(SystemExit) as done:
        main(["take", sheet, str(tmp_path / "t.mid"), "--arrangement", str(tmp_path / "bad.json")])
    assert done.value.code == 2
    assert capsys.readouterr().err.startswith("bad.json: this is no arrangement.json")


def test_a_rub_and_a_missing_third_are_found() -> None:
    """A half step under the held note, struck while it sounds, and a fill without thirds."""
    known = played(arranged("umbrella"), Wish())
    chorus = known.arrangement.chorus
    report = check_take(known.take, chorus)
    one = next(gap for gap in report.gaps if gap.answer == "comp" and gap.gap.held is not None)
    held = one.gap.held
    assert held is not None
    index = [note.onset_quarter for note in chorus.melody].index(held.onset_quarter)
    stroke = known.take.strokes[known.melody[0, index]]
    rub = replace(stroke, midi=stroke.midi - 1, onset_sec=stroke.onset_sec + 0.3,
                  release_sec=stroke.onset_sec + 0.6, until_sec=stroke.onset_sec + 0.6)
    again = check_take(with_strokes(known.take, rub), chorus)
    rules = {finding.rule for gap in again.gaps if gap.gap.number == one.gap.number
             for finding in gap.findings}
    assert "rubs" in rules
    thirds = {(span.symbol.root.pitch_class + step) % 12 for span in one.gap.chords
              if span.symbol.root is not None for step in (3, 4)}
    inside = {event for event, number in enumerate(report.stroke_gaps)
              if number == one.gap.number}
    bare = replace(known.take, strokes=tuple(
        replace(s, event=i) for i, s in enumerate(
            s for s in known.take.strokes
            if not (s.event in inside and s.midi % 12 in thirds))))
    rules = {finding.rule for gap in check_take(bare, chorus).gaps
             if gap.gap.number == one.gap.number for finding in gap.findings}
    assert "third and seventh" in rules


@pytest.mark.slow
def test_the_programs_own_performance_swings_as_is_usual() -> None:
    """Both are of one measure: note to note, by one hand."""
    tune = read_tune(demo.demo_path("umbrella"))
    for tempo in (80, 132, 200, 280):
        arrangement = arrange(tune, Options(tempo=tempo))  # type: ignore[arg-type]
        swing = check_take(played(arrangement, Wish()).take, arrangement.chorus).swing
        assert swing is not None and swing.usual[0] <= swing.ratio <= swing.usual[1], tempo


def test_what_was_played_is_kept_as_a_fill_of_ones_own() -> None:
    known = played(arranged("umbrella"), Wish())
    report = check_take(known.take, known.arrangement.chorus)
    for heard in report.gaps:
        if heard.answer == "open":
            with pytest.raises(InputError, match="nothing was played in gap"):
                kept_fill(report, heard)
            continue
        ours = known.arrangement.fill_of(heard.gap.number)
        if ours is None:
            continue
        kept = kept_fill(report, heard)
        assert {(n.onset_quarter, n.midi, n.hand) for n in kept.notes} == {
            (n.onset_quarter, n.midi, n.hand) for n in ours.notes}
        assert (kept.family, kept.device, kept.counts) == (ours.family, ours.device, ours.counts)
        assert all(note.finger for note in kept.notes)
        assert kept_findings(kept, report.chorus, heard.gap).of("reach") == ()


def test_a_take_says_which_of_some_tunes_it_is() -> None:
    take = played(arranged("umbrella"), Wish(missed=0.05, wrong=0.05)).take
    tunes = {name: read_tune(demo.demo_path(name)) for name in ("snow", "umbrella", "lamp")}
    assert best_fit(take, tunes.values()) is tunes["umbrella"]
    twice = [tunes["snow"], tunes["umbrella"], replace(tunes["umbrella"], title="Brought Again")]
    assert best_fit(take, twice) is tunes["umbrella"]
    # the same with bars before it, and played twice
    longer = arrange(tunes["umbrella"], Options(introduction=4, choruses=2)).chorus
    found = best_fit(take, [tunes["snow"], longer, tunes["umbrella"]])
    assert found is not None and found.title == tunes["umbrella"].title
    assert best_fit(take, [tunes["snow"], tunes["lamp"]]) is None
    assert best_fit(take, []) is None


@pytest.mark.slow
def test_the_command_keeps_a_fill_and_names_the_right_tune(
        tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    known = played(arranged("umbrella"), Wish())
    path, sheet = tmp_path / "mine.mid", demo.demo_path("umbrella")
    path.write_bytes(midi_of(known.take))

    def run(*arguments: str) -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as done:
            main(["take", *arguments])
        said = capsys.readouterr()
        return int(str(done.value.code)), said.out, said.err

    fill = known.arrangement.fills[0]
    code, out, _ = run(str(sheet), str(path), "--keep", str(fill.gap))
    kept = json.loads(out)
    assert code == 0 and kept["fill"]["gap"] == fill.gap and kept["fill"]["family"] == fill.family
    assert [note["midi"] for note in kept["fill"]["notes"]] == [n.midi for n in fill.notes]
    assert isinstance(kept["findings"], list)
    code, out, err = run(str(sheet), str(path), "--keep", "99")
    assert (code, out) == (2, "") and err == "mine.mid: gap 99 was not come by\n"

    (tmp_path / "shelf").mkdir()
    (tmp_path / "shelf" / "mine.musicxml").write_bytes(sheet.read_bytes())
    (tmp_path / "shelf" / "no.musicxml").write_text("no sheet")
    code, out, err = run(str(demo.demo_path("snow")), str(path), "--among",
                         str(tmp_path / "shelf"))
    assert (code, out) == (2, "") and err.startswith("mine.mid: ") and err.count("\n") == 1
    assert err.endswith("it is 'Wrong Umbrella' (mine.musicxml)\n")
    (tmp_path / "none").mkdir()
    code, out, err = run(str(demo.demo_path("snow")), str(path), "--among", str(tmp_path / "none"))
    assert code == 2 and err.endswith("is not heard in it; and there is no lead sheet in none\n")
