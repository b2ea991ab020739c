"""A performance as a Standard MIDI File.

Format 1: a conductor track (title, tempo, meters, keys, and the chord symbols as markers, for
Standard MIDI Files have no chord event), one track for each hand, and a click track if asked
for. Both hands play on the first channel and carry the same pedal, so that each track is
complete by itself. Bars lie where a sequencer expects them: swing is in the notes, the tempo
is steady, and a pickup or a short bar has a meter of its own length.
"""

from __future__ import annotations

import io
from typing import Any

from fillwright.exact import Fraction
from fillwright.sound.model import Performance, PlayedBar
from fillwright.theory.key import Key

__all__ = ["TICKS_PER_QUARTER", "count_in_quarter", "played_events", "to_midi"]

TICKS_PER_QUARTER = 960
_PIANO_CHANNEL = 0
_CLICK_CHANNEL = 9          # percussion in General MIDI
_PEDAL, _VOLUME, _REVERB, _CHORUS = 64, 7, 91, 93
_CLICK_SEC = 0.05

# General MIDI percussion keys, with quiet velocities.
_COUNT_KEY, _COUNT_VELOCITY = 37, 44        # side stick
_BACKBEAT_KEY, _BACKBEAT_VELOCITY = 44, 38  # pedal hi-hat

# Events at the same tick: signs, pedal up, keys up, keys down, pedal down.
_ORDER = {"meta": 0, "pedal up": 1, "note_off": 2, "note_on": 3, "pedal down": 4}

_Event = tuple[int, int, int, Any]


def to_midi(performance: Performance, click: bool = False) -> bytes:
    """A Standard MIDI File with one note-on for each played note.

    `click` adds a quiet count-in of one bar (and the silent part of a pickup's bar) and a soft
    click on the second and fourth beat; in other meters on every even beat.
    """
    import mido  # type: ignore[import-untyped]

    shift = count_in_quarter(performance) if click else Fraction(0)
    clock = _Clock(performance.seconds_per_quarter, shift)
    end = clock.ticks(max(performance.length_sec, performance.sounding_end_sec))
    tracks = [_conductor(performance, clock, shift, mido)]
    tracks += [_hand(performance, hand, clock, (), mido) for hand in ("right", "left")]
    if click:
        tracks.append(_clicks(performance, clock, shift, mido))
    file = mido.MidiFile(type=1, ticks_per_beat=TICKS_PER_QUARTER, charset="utf-8")
    for name, events in zip(("", "Right hand", "Left hand", "Click"), tracks, strict=False):
        file.tracks.append(_track(name or performance.title, events, end, mido))
    buffer = io.BytesIO()
    file.save(file=buffer)
    return buffer.getvalue()


def played_events(performance: Performance, click: bool) -> tuple[list[tuple[float, Any]], float]:
    """What a synthesizer is told: (seconds, MIDI message) in order, and when it ends. Both hands
    are on one channel, which has full volume and little reverberation."""
    import mido

    shift = count_in_quarter(performance) if click else Fraction(0)
    clock = _Clock(performance.seconds_per_quarter, shift)
    setup = ((_VOLUME, 127), (_REVERB, 16), (_CHORUS, 0))
    events = [*_hand(performance, "right", clock, setup, mido),
              *_hand(performance, "left", clock, (), mido)]
    if click:
        events += _clicks(performance, clock, shift, mido)
    end = clock.ticks(max(performance.length_sec, performance.sounding_end_sec))
    return ([(clock.seconds(tick), message) for tick, _, _, message in
             sorted(events, key=lambda event: event[:3])], clock.seconds(end))


def count_in_quarter(performance: Performance) -> Fraction:
    """How long the count-in lasts, in quarter notes: a bar, and what a pickup lacks."""
    if not performance.bars:
        return Fraction(0)
    first = performance.bars[0]
    length = first.meter.length_quarter
    lacking = length - first.length_quarter if first.is_pickup else Fraction(0)
    return length + max(lacking, Fraction(0))


def _tempo(seconds_per_quarter: float) -> int:
    """Microseconds, as a file names the tempo."""
    return round(seconds_per_quarter * 1_000_000)


class _Clock:
    def __init__(self, seconds_per_quarter: float, shift: Fraction) -> None:
        self._per_sec = TICKS_PER_QUARTER / seconds_per_quarter
        self._tempo = _tempo(seconds_per_quarter)
        self._shift = int(shift * TICKS_PER_QUARTER)

    def ticks(self, sec: float) -> int:
        return self._shift + round(sec * self._per_sec)

    def seconds(self, tick: int) -> float:
        """From the beginning of the file, at the tempo that it names."""
        return tick * self._tempo / (TICKS_PER_QUARTER * 1_000_000)


def _track(name: str, events: list[_Event], end_tick: int, mido: Any) -> Any:
    track = mido.MidiTrack([mido.MetaMessage("track_name", name=name, time=0)])
    now = 0
    for tick, _, _, message in sorted(events, key=lambda event: event[:3]):
        track.append(message.copy(time=tick - now))
        now = tick
    track.append(mido.MetaMessage("end_of_track", time=max(end_tick, now) - now))
    return track


def _conductor(performance: Performance, clock: _Clock, shift: Fraction,
               mido: Any) -> list[_Event]:
    messages = [(0, mido.MetaMessage("set_tempo",
                                     tempo=_tempo(performance.seconds_per_quarter)))]
    signature: tuple[int, int] | None = None
    key: Key | None = None
    bars = performance.bars
    for place, bar in enumerate(bars):
        tick = clock.ticks(bar.onset_sec)
        length = bar.length_quarter
        if place == 0 and shift:
            tick, length = 0, bar.meter.length_quarter  # counted in: whole bars from zero on
        wanted = _signature(bar, length)
        if wanted != signature:
            signature = wanted
            clocks = int(24 * bar.meter.beat_quarter)
            messages.append((tick, mido.MetaMessage(
                "time_signature", numerator=wanted[0], denominator=wanted[1],
                clocks_per_click=clocks, notated_32nd_notes_per_beat=8)))
        if bar.key != key:
            key = bar.key
            messages.append((tick, mido.MetaMessage("key_signature", key=_key_name(key))))
    messages += [(clock.ticks(marker.onset_sec), mido.MetaMessage("marker", text=marker.text))
                 for marker in performance.markers]
    return [(tick, _ORDER["meta"], place, message)
            for place, (tick, message) in enumerate(messages)]


def _signature(bar: PlayedBar, length_quarter: Fraction) -> tuple[int, int]:
    """The bar's own meter, or one of its real length where that differs."""
    meter = bar.meter
    if length_quarter == meter.length_quarter:
        return meter.beats, meter.beat_type
    whole = length_quarter / 4
    unit = max(whole.denominator, 4)
    beats = int(whole * unit)
    if unit & (unit - 1) or not 1 <= beats <= 255:
        return meter.beats, meter.beat_type
    return beats, unit


def _key_name(key: Key) -> str:
    return f"{key.tonic}{'m' if key.mode == 'minor' else ''}"


def _hand(performance: Performance, hand: str, clock: _Clock,
          setup: tuple[tuple[int, int], ...], mido: Any) -> list[_Event]:
    events: list[_Event] = [
        (0, _ORDER["meta"], 0, mido.Message("program_change", channel=_PIANO_CHANNEL, program=0))]
    events += [(0, _ORDER["meta"], 1 + place, _control(control, value, mido))
               for place, (control, value) in enumerate(setup)]
    for note in performance.notes:
        if note.hand != hand:
            continue
        on = clock.ticks(note.onset_sec)
        off = max(clock.ticks(note.release_sec), on + 1)
        events.append((on, _ORDER["note_on"], note.midi, mido.Message(
            "note_on", channel=_PIANO_CHANNEL, note=note.midi, velocity=note.velocity)))
        events.append((off, _ORDER["note_off"], note.midi, mido.Message(
            "note_off", channel=_PIANO_CHANNEL, note=note.midi, velocity=64)))
    for pedal in performance.pedals:
        kind = "pedal down" if pedal.down else "pedal up"
        events.append((clock.ticks(pedal.onset_sec), _ORDER[kind], 0,
                       _control(_PEDAL, 127 if pedal.down else 0, mido)))
    return events


def _control(control: int, value: int, mido: Any) -> Any:
    return mido.Message("control_change", channel=_PIANO_CHANNEL, control=control, value=value)


def _clicks(performance: Performance, clock: _Clock, shift: Fraction, mido: Any) -> list[_Event]:
    length = round(_CLICK_SEC / performance.seconds_per_quarter * TICKS_PER_QUARTER)
    events: list[_Event] = []

    def add(tick: int, key: int, velocity: int) -> None:
        events.append((tick, _ORDER["note_on"], key, mido.Message(
            "note_on", channel=_CLICK_CHANNEL, note=key, velocity=velocity)))
        events.append((tick + length, _ORDER["note_off"], key, mido.Message(
            "note_off", channel=_CLICK_CHANNEL, note=key, velocity=64)))

    beat_ticks = int(performance.bars[0].meter.beat_quarter * TICKS_PER_QUARTER) \
        if performance.bars else TICKS_PER_QUARTER
    for tick in range(0, int(shift * TICKS_PER_QUARTER), beat_ticks):
        add(tick, _COUNT_KEY, _COUNT_VELOCITY)
    for bar in performance.bars:
        start = clock.ticks(bar.onset_sec)
        for beat in _even_beats(bar):
            add(start + int(beat * TICKS_PER_QUARTER), _BACKBEAT_KEY, _BACKBEAT_VELOCITY)
    return events


def _even_beats(bar: PlayedBar) -> list[Fraction]:
    """Quarters from the bar's start to its second, fourth … beat; the first where there is
    but one, or where the beats are uneven."""
    beat = bar.meter.beat_quarter
    count = bar.meter.length_quarter / beat
    missing = bar.meter.length_quarter - bar.length_quarter if bar.is_pickup else Fraction(0)
    if count < 2 or count.denominator != 1:
        return [] if bar.is_pickup else [Fraction(0)]
    places = [number * beat - missing for number in range(1, int(count), 2)]
    return [place for place in places if 0 <= place < bar.length_quarter]
