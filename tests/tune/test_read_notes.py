"""Notes, bars, meters, keys, parts: small sheets with known answers."""

from __future__ import annotations

from fractions import Fraction

import pytest
from tests.tune.sheets import (
    attributes,
    backup,
    barline,
    chord,
    forward,
    line,
    melody,
    note,
    notes,
    part,
    play,
    read,
    read_bars,
    score,
    sheet,
    sound,
    symbols,
    words,
)

from fillwright import InputError, Tune

C = chord("C")
WHOLE = notes("C5:16")
TRIPLET = ("<time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes>"
           "</time-modification>")


def warned(tune: Tune, *fragments: str) -> bool:
    return any(all(fragment in warning for fragment in fragments) for warning in tune.warnings)


# Time ----------------------------------------------------------------------------------


def test_notes_and_rests() -> None:
    tune = read_bars([C + notes("C5:4 r:2 D5:2 E5:8")])
    assert line(tune) == "C5@0+1 D5@3/2+1/2 E5@2+2"
    assert tune.warnings == ()


def test_spelling_is_kept() -> None:
    assert line(read_bars([C + notes("Cb5:4 E#4:4 Bbb4:4 F##5:4")])) == \
        "Cb5@0+1 E#4@1+1 Bbb4@2+1 F##5@3+1"


def test_triplets_are_exact() -> None:
    third = f"<type>eighth</type>{TRIPLET}"
    bar = C + "".join(note("C5", 4, third) for _ in range(3)) + notes("D5:12 E5:24")
    tune = read_bars([bar], first=attributes(divisions=12))
    assert line(tune) == "C5@0+1/3 C5@1/3+1/3 C5@2/3+1/3 D5@1+1 E5@2+2"


def test_rounded_tuplets_are_made_exact() -> None:
    """Three triplet quarters in divisions of 4 last 3 + 3 + 3 units instead of 8."""
    third = f"<type>quarter</type>{TRIPLET}"
    tune = read_bars([C + "".join(note(p, 3, third) for p in ("C5", "D5", "E5"))
                      + notes("F5:8")])
    assert line(tune) == "C5@0+2/3 D5@2/3+2/3 E5@4/3+2/3 F5@2+2"
    assert tune.bars[0].length_quarter == 4


def test_a_septuplet_in_divisions_of_480() -> None:
    seventh = ("<type>eighth</type><time-modification><actual-notes>7</actual-notes>"
               "<normal-notes>4</normal-notes></time-modification>")
    lengths = [137, 137, 137, 137, 137, 137, 138]
    bar = C + "".join(note("C5", n, seventh) for n in lengths) + note("D5", 960)
    tune = read_bars([bar], first=attributes(divisions=480))
    assert [n.duration_quarter for n in tune.bars[0].notes] == [Fraction(2, 7)] * 7 + [2]
    assert tune.bars[0].length_quarter == 4
    assert tune.warnings == ()


def test_rounded_tuplets_without_a_sign_snap_to_the_bar_line() -> None:
    bar = C + "".join(note("C5", n) for n in (68, 68, 69, 68, 69, 68, 69)) + note("D5", 1440)
    tune = read_bars([bar], first=attributes(divisions=480))
    assert tune.bars[0].length_quarter == 4
    assert tune.bars[0].notes[-1].onset_quarter + tune.bars[0].notes[-1].duration_quarter == 4
    assert tune.warnings == ()


def test_a_backup_that_is_one_unit_off() -> None:
    bar = C + note("C5", 480) + note("r", 1440) + backup(1919) + note("E5", 960)
    tune = read_bars([bar], first=attributes(divisions=480))
    assert line(tune) == "E5@0+2"
    assert tune.warnings == ()


def test_a_backup_beyond_the_bar_is_cut() -> None:
    tune = read_bars([C + notes("C4:16") + backup(99) + notes("E5:8")])
    assert line(tune) == "E5@0+2"
    assert warned(tune, "bar 1")


def test_grace_and_cue_notes_stand_outside() -> None:
    """A grace note has no time; a cue note has time and is not played."""
    grace = note("B4", None, "<grace/>")
    cue = note("G5", 4, "<cue/>")
    tune = read_bars([C + grace + note("C5", 4) + cue + notes("D5:8")])
    assert line(tune) == "C5@0+1 D5@2+2"


def test_divisions_absent_and_changing() -> None:
    tune = read_bars(
        [C + note("C5", 2) + attributes(divisions=480, time=None, fifths=None) + note("D5", 960),
         note("E5", 1920)], first=attributes(divisions=None))
    assert (line(tune, 0), line(tune, 1)) == ("C5@0+2 D5@2+2", "E5@0+4")


def test_divisions_with_a_fraction() -> None:
    tune = read_bars([C + note("C5", 5) + note("D5", 5)],
                     first=attributes(divisions=None, more="<divisions>2.5</divisions>"))
    assert line(tune) == "C5@0+2 D5@2+2"


def test_a_note_without_a_duration_takes_it_from_its_head() -> None:
    tune = read_bars([C + note("C5", None, "<type>half</type>", "<dot/>") + notes("D5:4")])
    assert line(tune) == "C5@0+3 D5@3+1"


# Bars ----------------------------------------------------------------------------------


@pytest.mark.parametrize("implicit", [{}, {1: 'implicit="yes"'}])
def test_a_short_first_bar_is_a_pickup(implicit: dict[int, str]) -> None:
    tune = read_bars([notes("G4:4"), C + WHOLE], bar_attributes=implicit)
    assert tune.bars[0].is_pickup
    assert tune.bars[0].length_quarter == 1
    assert tune.warnings == ()
    chorus = play([notes("G4:4"), C + WHOLE])
    assert melody(chorus) == "G4@0+1 C5@1+4"
    assert chorus.beat_in_bar(Fraction(0)) == 4


@pytest.mark.parametrize("lead", [
    note("r", 12, attributes='print-object="no"'), forward(12)])
def test_unprinted_beats_before_a_pickup_are_cut_off(lead: str) -> None:
    tune = read_bars([lead + C + notes("G4:4"), WHOLE])
    assert tune.bars[0].is_pickup
    assert tune.bars[0].length_quarter == 1
    assert (line(tune), symbols(tune)) == ("G4@0+1", "C@0")
    for printed in (C + notes("r:12 G4:4"), C + lead + notes("G4:4")):
        tune = read_bars([printed, WHOLE])
        assert not tune.bars[0].is_pickup
        assert line(tune) == "G4@3+1"


def test_the_last_bar_completes_the_pickup() -> None:
    tune = read_bars([notes("G4:4"), C + WHOLE, notes("E4:12")])
    assert [bar.length_quarter for bar in tune.bars] == [1, 4, 3]
    assert [bar.is_pickup for bar in tune.bars] == [True, False, False]
    assert tune.warnings == ()


def test_a_bar_split_by_a_repeat() -> None:
    tune = read_bars([C + WHOLE, notes("E4:12") + barline(repeat="backward"),
                      barline(repeat="forward", location="left") + notes("G4:4"), WHOLE])
    assert [bar.length_quarter for bar in tune.bars] == [4, 3, 1, 4]
    assert [bar.is_pickup for bar in tune.bars] == [False, False, True, False]
    assert tune.warnings == ()


def test_underfull_and_overfull_bars_are_played_as_long_as_they_are() -> None:
    tune = read_bars([C + WHOLE, notes("C5:12"), WHOLE, notes("C5:20"), WHOLE])
    assert [bar.length_quarter for bar in tune.bars] == [4, 3, 4, 5, 4]
    assert warned(tune, "bar 2", "3 of 4")
    assert warned(tune, "bar 4", "5")
    assert line(tune, 3) == "C5@0+5"


def test_rests_that_are_too_long_for_the_bar() -> None:
    """A whole-bar rest drawn with the length of a whole note in 3/4."""
    tune = read_bars([C + notes("C5:12"), note("r", 16), notes("C5:12")],
                     first=attributes(time="3/4"))
    assert [bar.length_quarter for bar in tune.bars] == [3, 3, 3]


def test_a_rest_of_a_thousand_beats_is_cut_with_a_warning() -> None:
    tune = read_bars([C + WHOLE, note("r", 4000), WHOLE])
    assert [bar.length_quarter for bar in tune.bars] == [4, 4, 4]
    assert warned(tune, "bar 2", "rest")


def test_bars_without_anything_are_as_long_as_the_meter() -> None:
    tune = read_bars([C + WHOLE, "", WHOLE])
    assert [bar.length_quarter for bar in tune.bars] == [4, 4, 4]
    assert line(tune, 1) == ""


def test_the_longest_voice_makes_the_bar() -> None:
    tune = read_bars([C + notes("C5:8") + backup(8) + notes("E4:16")])
    assert tune.bars[0].length_quarter == 4


def test_a_chord_on_a_beat_that_nothing_fills_keeps_the_bar_whole() -> None:
    tune = read_bars([C + WHOLE, C + chord("G", offset=12) + notes("C5:8"), WHOLE])
    assert tune.bars[1].length_quarter == 4


def test_multiple_rests_and_measure_repeats_are_not_expanded() -> None:
    """The bars are written out besides the sign (MusicXML 4.0, measure-style)."""
    rests = "<attributes><measure-style><multiple-rest>2</multiple-rest></measure-style>" \
            "</attributes>"
    again = '<attributes><measure-style><measure-repeat type="start">1</measure-repeat>' \
            "</measure-style></attributes>"
    tune = read_bars([C + WHOLE, rests + note("r", 16), note("r", 16), again + WHOLE])
    assert len(tune.bars) == 4


def test_bar_numbers_are_the_printed_ones() -> None:
    data = sheet([C + WHOLE, WHOLE]).replace(b'number="2"', b'number="X1"')
    assert [bar.number for bar in read(data).bars] == ["1", "X1"]


def test_sections_and_line_breaks() -> None:
    mark = "<direction><direction-type><rehearsal>B</rehearsal></direction-type></direction>"
    tune = read_bars([C + WHOLE, '<print new-system="yes"/>' + mark + WHOLE])
    assert [(bar.section, bar.line_break) for bar in tune.bars] == [("", False), ("B", True)]


# Meters and keys -----------------------------------------------------------------------


@pytest.mark.parametrize(("time", "meter", "beat"), [
    ("4/4", "4/4", 1), ("3/4", "3/4", 1), ("6/8", "6/8", Fraction(3, 2)), ("2/2", "2/2", 1),
    ("12/8", "12/8", Fraction(3, 2)), ("5/4", "5/4", 1), ("3+2/8", "5/8", 1),
    ("7/8", "7/8", 1)])
def test_meters(time: str, meter: str, beat: Fraction) -> None:
    tune = read_bars([C + note("C5", 1), WHOLE], first=attributes(time=time))
    assert (str(tune.meter), tune.meter.beat_quarter) == (meter, beat)


def test_a_missing_meter_is_4_4() -> None:
    tune = read_bars([C + WHOLE], first=attributes(time=None))
    assert str(tune.meter) == "4/4"
    assert warned(tune, "4/4")


def test_a_meter_that_is_none_is_left_out() -> None:
    tune = read_bars([C + WHOLE], first=attributes(time="0/4"))
    assert str(tune.meter) == "4/4"
    assert warned(tune, "time signature")


def test_changes_of_meter_and_key() -> None:
    tune = read_bars([C + notes("C5:12"),
                      attributes(divisions=None, time="4/4", fifths=1) + WHOLE, WHOLE],
                     first=attributes(time="3/4", fifths=-2))
    assert [(str(bar.meter), str(bar.key)) for bar in tune.bars] == [
        ("3/4", "Bb major"), ("4/4", "G major"), ("4/4", "G major")]


def test_a_change_inside_a_bar_counts_from_the_next() -> None:
    change = attributes(divisions=None, time=None, fifths=3)
    tune = read_bars([C + notes("C5:8") + change + notes("C5:8"), WHOLE])
    assert [bar.key.fifths for bar in tune.bars] == [0, 3]


@pytest.mark.parametrize(("fifths", "mode", "key"), [
    (0, "major", "C major"), (-3, "minor", "C minor"), (0, "dorian", "D minor"),
    (0, "mixolydian", "G major"), (0, "aeolian", "A minor"), (2, "lydian", "G major"),
    (0, "none", "C major"), (0, None, "C major"), (9, "major", "Eb major"),
])
def test_keys(fifths: int, mode: str | None, key: str) -> None:
    """Modes are heard in the major or minor key on their tonic."""
    tune = read_bars([C + WHOLE], first=attributes(fifths=fifths, mode=mode))
    assert str(tune.key) == key


def test_a_mode_that_is_not_given_follows_the_last_chord() -> None:
    bars = [chord("D", "minor") + WHOLE, chord("A", "minor") + WHOLE]
    assert str(read_bars(bars, first=attributes(mode=None)).key) == "A minor"
    assert str(read_bars(bars, first=attributes(mode="major")).key) == "C major"


@pytest.mark.parametrize(("chords", "key"), [
    (["Am", "E", "Am", "E", "Am"], "A minor"),  # stated as major, as programs do unasked
    (["C", "G", "Am", "E", "Am", "C", "G", "Am"], "C major"),  # the major tonic is there as often
    (["Am", "E", "Am", "E", "C"], "C major")])
def test_a_stated_major_is_minor_where_all_its_chords_are(chords: list[str], key: str) -> None:
    bars = [chord(name[0], "minor" if name[1:] else "major") + WHOLE for name in chords]
    assert str(read_bars(bars, first=attributes(mode="major")).key) == key


def test_a_transposing_part_is_read_at_sounding_pitch() -> None:
    """A sheet for B flat trumpet equals the sheet in C."""
    down = "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"
    written = read_bars([chord("D") + notes("D5:8 F#5:8")],
                        first=attributes(fifths=2, more=down))
    sounding = read_bars([chord("C") + notes("C5:8 E5:8")])
    assert written.bars == sounding.bars


@pytest.mark.parametrize(("transpose", "pitch"), [
    ("<chromatic>-9</chromatic>", "Eb4"), ("<chromatic>3</chromatic>", "Eb5"),
    ("<diatonic>-1</diatonic><chromatic>-2</chromatic><octave-change>-1</octave-change>", "Bb3"),
    ("<diatonic>0</diatonic><chromatic>0</chromatic><octave-change>-1</octave-change>", "C4"),
    ("<chromatic>0</chromatic><double/>", "C4"),
])
def test_transpositions(transpose: str, pitch: str) -> None:
    tune = read_bars([C + WHOLE],
                     first=attributes(more=f"<transpose>{transpose}</transpose>"))
    assert str(tune.bars[0].notes[0].pitch) == pitch


def test_a_score_at_concert_pitch_is_not_transposed() -> None:
    down = "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic></transpose>"
    data = score(part([C + WHOLE], first=attributes(more=down)),
                 head="<defaults><concert-score/></defaults>")
    assert line(read(data)) == "C5@0+4"


# Voices, parts -------------------------------------------------------------------------


def test_the_top_of_a_chord_is_the_melody() -> None:
    tune = read_bars([C + note("C4", 8) + note("E4", 8, "<chord/>") + note("G4", 8, "<chord/>")
                      + notes("D4:8")])
    assert line(tune) == "G4@0+2 D4@2+2"


def test_a_lower_voice_is_ignored_and_a_higher_one_cuts() -> None:
    lower = read_bars([C + notes("C5:16") + backup(16) + notes("E4:4 F4:4 E4:8")])
    assert line(lower) == "C5@0+4"
    higher = read_bars([C + notes("C4:16") + backup(16) + notes("r:8 E4:4 G4:4")])
    assert line(higher) == "C4@0+2 E4@2+1 G4@3+1"


def test_voices_in_unison_are_one_note() -> None:
    assert line(read_bars([C + notes("C5:16") + backup(16) + notes("C5:8 C5:8")])) == "C5@0+4"


def test_the_tied_rest_of_a_lower_note_is_not_melody() -> None:
    first = C + notes("G5:16") + backup(16) + note("E4", 16, tie="start")
    second = note("E4", 8, tie="stop") + notes("D5:8")
    tune = read_bars([first, second])
    assert line(tune, 1) == "D5@2+2"


def test_hidden_notes_slashes_and_drums_are_not_melody() -> None:
    slash = note("B4", 4, "<notehead>slash</notehead>")
    drum = "<note><unpitched/><duration>4</duration></note>"
    hidden = note("A5", 4, attributes='print-object="no"')
    assert line(read_bars([C + slash + drum + hidden + notes("C5:4")])) == "C5@3+1"


def test_of_two_staves_the_upper_one_is_read() -> None:
    upper = note("C5", 16, "<staff>1</staff>")
    lower = note("E5", 16, "<staff>2</staff>")
    tune = read_bars([C + upper + backup(16) + lower],
                     first=attributes(more="<staves>2</staves>"))
    assert line(tune) == "C5@0+4"


def test_an_empty_upper_staff_gives_way() -> None:
    lower = note("E5", 16, "<staff>2</staff>")
    tune = read_bars([C + lower], first=attributes(more="<staves>2</staves>"))
    assert line(tune) == "E5@0+4"


def test_parts() -> None:
    first = part([notes("C5:16")])
    second = part([C + notes("E5:16")], name="P2")
    data = score(first, second, names=("Flute", "Lead"))
    assert line(read(data)) == "E5@0+4"
    assert warned(read(data), "P2 (Lead)")
    for name in ("P1", "p1", "Flute", "flute", "1"):
        chosen = read(data, part=name)
        assert (line(chosen), symbols(chosen)) == ("C5@0+4", "C@0")
    with pytest.raises(InputError, match=r"no part 'Oboe'.*P1 \(Flute\), P2 \(Lead\)"):
        read(data, part="Oboe")
    with pytest.raises(InputError, match="no part '3'"):
        read(data, part="3")


def test_signs_printed_in_the_first_part_count_for_all() -> None:
    first = part([notes("C5:16") + barline(repeat="backward"), notes("C5:16")])
    second = part([C + notes("E5:16"), notes("F5:16")], name="P2")
    assert read(score(first, second)).bars[0].marks.repeat_end


# Ties and slurs ------------------------------------------------------------------------


def test_ties() -> None:
    chorus = play([C + note("C5", 16, tie="start"), note("C5", 16, tie="stop start"),
                   note("C5", 8, tie="stop") + notes("D5:8")])
    assert melody(chorus) == "C5@0+10 D5@10+2"
    assert [n.tied for n in chorus.melody] == [True, False]


def test_a_tie_without_a_stop() -> None:
    assert melody(play([C + note("C5", 16, tie="start"), WHOLE])) == "C5@0+8"
    assert melody(play([C + note("C5", 16, tie="start"), notes("D5:16")])) == "C5@0+4 D5@4+4"


def test_a_tie_without_a_start_joins_neighbours() -> None:
    assert melody(play([C + WHOLE, note("C5", 16, tie="stop")])) == "C5@0+8"
    assert melody(play([C + notes("C5:8 r:8"), note("C5", 16, tie="stop")])) == "C5@0+2 C5@4+4"


def test_ties_compare_sound_not_spelling() -> None:
    assert melody(play([C + note("F#4", 16, tie="start"), note("Gb4", 16, tie="stop")])) == \
        "F#4@0+8"


def test_a_tie_to_a_rest_is_none() -> None:
    assert melody(play([C + note("C5", 8, tie="start") + notes("r:8"), WHOLE])) == \
        "C5@0+2 C5@4+4"


def test_tied_notations_count_where_there_is_no_tie() -> None:
    tied = '<notations><tied type="start"/></notations>'
    assert melody(play([C + note("C5", 16, tied), WHOLE])) == "C5@0+8"
    ringing = '<notations><tied type="let-ring"/></notations>'
    assert melody(play([C + note("C5", 16, ringing), WHOLE])) == "C5@0+4 C5@4+4"


def test_slurs_are_not_ties() -> None:
    start = '<notations><slur type="start"/></notations>'
    stop = '<notations><slur type="stop"/></notations>'
    bars = [C + note("C5", 16, start), note("C5", 16, stop)]
    assert melody(play(bars)) == "C5@0+4 C5@4+4"
    assert warned(read_bars(bars), "bar 2", "slur")
    other = read_bars([C + note("C5", 16, start), note("D5", 16, stop)])
    assert other.warnings == ()


# Tempo and feel ------------------------------------------------------------------------


METRONOME = ("<direction><direction-type><metronome><beat-unit>{unit}</beat-unit>{dot}"
             "<per-minute>{number}</per-minute></metronome></direction-type></direction>")


@pytest.mark.parametrize(("time", "mark", "tempo"), [
    ("4/4", METRONOME.format(unit="quarter", dot="", number="140"), 140),
    ("4/4", METRONOME.format(unit="half", dot="", number="100"), 200),
    ("2/2", METRONOME.format(unit="half", dot="", number="100"), 200),
    ("6/8", METRONOME.format(unit="quarter", dot="<beat-unit-dot/>", number="60"), 60),
    ("4/4", METRONOME.format(unit="quarter", dot="", number="c. 96-100"), 96),
    ("4/4", sound('tempo="88"'), 88), ("12/8", sound('tempo="90"'), 60),
    ("4/4", words("Ballad"), 66), ("4/4", words("Medium Up Swing"), 180),
    ("4/4", words("Fast") + sound('tempo="120"'), 120),
    ("4/4", words("Swing (quarter = 152)"), 152),
    ("4/4", sound('tempo="0"'), 132), ("4/4", sound('tempo="99999"'), 132),
    ("4/4", "", 132), ("3/4", "", 150), ("6/8", "", 84),
])
def test_tempo_in_felt_beats(time: str, mark: str, tempo: int) -> None:
    tune = read_bars([mark + C + note("C5", 4)], first=attributes(time=time))
    assert tune.tempo_bpm == tempo


@pytest.mark.parametrize(("mark", "feel"), [
    ("", "swing"), (words("Medium Swing"), "swing"), (words("Bossa Nova"), "straight"),
    (words("Even 8ths"), "straight"), (words("Latin"), "straight"),
    ("<sound><swing><straight/></swing></sound>", "straight"),
    ("<sound><swing><first>2</first><second>1</second></swing></sound>", "swing"),
    ("<sound><swing><first>1</first><second>1</second></swing></sound>", "straight"),
    (words("Swing") + "<sound><swing><straight/></swing></sound>", "straight"),
])
def test_feel(mark: str, feel: str) -> None:
    assert read_bars([mark + C + WHOLE]).feel == feel


def test_later_marks_are_changes_of_tempo() -> None:
    bars = [C + WHOLE] * 5 + [sound('tempo="60"') + words("Fast") + WHOLE]
    assert read_bars(bars).tempo_bpm == 132


def test_whether_the_tempo_is_marked() -> None:
    assert read_bars([sound('tempo="120"') + C + WHOLE]).tempo_marked
    assert not read_bars([words("Ballad") + C + WHOLE]).tempo_marked


# Title ---------------------------------------------------------------------------------


@pytest.mark.parametrize(("head", "title"), [
    ("<movement-title>A &amp; B</movement-title>", "A & B"),
    ("<work><work-title> Two\n words </work-title></work>", "Two words"),
    ("<work><work-title>W</work-title></work><movement-title>M</movement-title>", "M"),
    ("<credit><credit-type>title</credit-type><credit-words>Big</credit-words></credit>", "Big"),
    ('<credit><credit-words>by N</credit-words></credit><credit><credit-words justify="center">'
     "Big</credit-words></credit>", "Big"),
    ("<movement-title> </movement-title>", "sheet"), ("", "sheet"),
])
def test_title(head: str, title: str) -> None:
    tune = read(score(part([C + WHOLE]), head=head))
    assert (tune.title, tune.source) == (title, "sheet.musicxml")


def test_forward_moves_without_a_rest() -> None:
    assert line(read_bars([C + forward(8) + notes("C5:8")])) == "C5@2+2"
