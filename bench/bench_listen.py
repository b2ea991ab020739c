"""How well a recording is heard: our own sound, spoilt in ways that are known.

    python -m bench.bench_listen [--tune NAME] [--level LEVEL] [--processes P] [CONDITION ...]
    python -m bench.bench_listen --margins [CONDITION ...]

A student's take of which everything is known (uneven keys, landings up to 150 ms late) is played
by the program's own piano, recorded as a telephone might, and heard by the ear of the extra
`fillwright[listen]`; where that is not installed, this says so and ends. For each condition: onsets
(F measure, 50 ms, as mir_eval counts them), then what the report says of the recording against the
truth: melody (F measure), landings (median and 95 % of the error in milliseconds), families. The
first line is the same take as MIDI. With `--margins`, onsets alone, for pieces that overlap more
and less.
"""

from __future__ import annotations

import argparse
import io
import sys
import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import soundfile  # type: ignore[import-untyped]
from numpy.typing import NDArray
from tests.demo_arrangements import arranged
from tests.take.perturb import Played, Wish, played

from fillwright import InputError, check_take, perform
from fillwright.sound import to_flac
from fillwright.take import Take
from fillwright.take.recording import (
    MISSING,
    Recording,
    hear_recording,
    joined,
    open_piano_ear,
    piano_ear_is_installed,
    piece_of,
    prepared,
    recording_from_bytes,
    take_of,
    windows_of,
)

Sound = NDArray[np.float32]
WISH = Wish(seed=21, jitter_sec=0.01, late_sec=0.15)
SAME_SEC = 0.05
"""Within which an onset is the same (Bay, Ehmann, Downie, ISMIR 2009; mir_eval's default)."""
SPEECH_SEC = 4.0


# --- what is done to the sound --------------------------------------------------------------------

def normal(sound: Sound) -> Sound:
    return np.asarray(0.7 * sound / np.abs(sound).max(), np.float32)


def room(sound: Sound, rate: int) -> Sound:
    """Half a second of reverberation, the direct sound 3 dB below all of it."""
    from scipy.signal import fftconvolve

    time_ = np.arange(int(0.6 * rate)) / rate
    tail = np.random.default_rng(1).normal(0, 1, len(time_)) * np.exp(-6.9 * time_ / 0.5)
    tail *= np.sqrt(2.0 / (tail ** 2).sum())
    tail[0] = 1.0
    return normal(fftconvolve(sound, tail)[:len(sound)])


def phone(sound: Sound, rate: int) -> Sound:
    """In a room; 120 to 7,000 Hz, clipped softly, noise 38 dB below full scale."""
    from scipy.signal import butter, sosfilt

    heard = sosfilt(butter(2, (120, 7000), "bandpass", fs=rate, output="sos"), room(sound, rate))
    clipped = np.tanh(2.0 * normal(heard)) / 2.0
    noise = np.random.default_rng(2).normal(0, 10 ** (-38 / 20), len(sound))
    return normal(np.asarray(clipped + noise, np.float32))


def detuned(cents: float) -> Callable[[Sound, int], Sound]:
    """The whole piano off pitch. It is played that much faster, and heard back slower."""
    def made(sound: Sound, rate: int) -> Sound:
        import soxr

        return np.asarray(soxr.resample(sound, rate * 2 ** (cents / 1200), rate), np.float32)

    return made


def click(sound: Sound, rate: int) -> Sound:
    """A metronome in the room at 132, as loud as a soft note."""
    found = sound.copy()
    tick = np.sin(2 * np.pi * 1800 * np.arange(int(0.03 * rate)) / rate) * np.exp(
        -np.arange(int(0.03 * rate)) / (0.006 * rate))
    for start in range(0, len(sound) - len(tick), int(rate * 60 / 132)):
        found[start:start + len(tick)] += np.float32(0.25) * tick.astype(np.float32)
    return normal(found)


def speech(sound: Sound, rate: int) -> Sound:
    """Someone speaks before the first note: pulses through three formants that move."""
    from scipy.signal import butter, sosfilt

    random_ = np.random.default_rng(3)
    voice = np.zeros(int(SPEECH_SEC * rate))
    at = 0.2
    while at < SPEECH_SEC - 0.4:
        length = random_.uniform(0.12, 0.25)
        size = int(length * rate)
        pitch = 120 * 2 ** (random_.uniform(-0.2, 0.2)
                            + 0.1 * np.sin(np.linspace(0, 3, size)))
        pulses = np.diff(np.floor(np.cumsum(pitch) / rate), prepend=0.0)
        pulses += random_.normal(0, 0.03, size)
        syllable = sum(sosfilt(butter(1, (0.9 * hz, 1.1 * hz), "bandpass", fs=rate, output="sos"),
                               pulses)
                       for hz in (random_.uniform(300, 800), random_.uniform(900, 2200), 2800))
        start = int(at * rate)
        voice[start:start + size] += syllable * np.hanning(size)
        at += length + random_.uniform(0.03, 0.15)
    return normal(np.concatenate([0.5 * normal(voice.astype(np.float32)), normal(sound)]))


CENTS = {"30 cents flat": -30, "30 cents sharp": 30, "quarter tone flat": -48}
CONDITIONS: dict[str, Callable[[Sound, int], Sound]] = {
    "clean": lambda sound, rate: sound, "phone in a room": phone,
    **{name: detuned(cents) for name, cents in CENTS.items()},
    "click": click, "speech": speech,
    "AAC 64 kbit/s": lambda sound, rate: sound,
}


def aac(sound: Sound, rate: int) -> bytes:
    """As a telephone keeps it; raises ImportError without PyAV."""
    import av

    buffer = io.BytesIO()
    with av.open(buffer, "w", format="mp4") as container:
        stream = container.add_stream("aac", rate=rate)
        stream.bit_rate, stream.layout = 64_000, "mono"
        for start in range(0, len(sound), 1024):
            frame = av.AudioFrame.from_ndarray(
                np.ascontiguousarray(sound[None, start:start + 1024]), "fltp", "mono")
            frame.sample_rate, frame.pts = rate, start
            for packet in stream.encode(frame):
                container.mux(packet)
        for packet in stream.encode(None):
            container.mux(packet)
    return buffer.getvalue()


def spoilt(name: str, sound: Sound, rate: int) -> Recording:
    """The recording of a condition, by way of a file."""
    if name.startswith("AAC"):
        return recording_from_bytes(aac(phone(sound, rate), rate), "memo.m4a")
    buffer = io.BytesIO()
    soundfile.write(buffer, CONDITIONS[name](sound, rate), rate, format="WAV")
    return recording_from_bytes(buffer.getvalue(), "memo.wav")


# --- what is heard --------------------------------------------------------------------------------

def sound_of(known: Played) -> Recording:
    """The take, by the program's own piano, with the pedal of the arrangement."""
    performance = perform(known.arrangement)
    zero = min(note.onset_sec for note in performance.notes)
    notes = tuple(replace(performance.notes[0], onset_sec=zero + stroke.onset_sec,
                          duration_sec=stroke.release_sec - stroke.onset_sec, midi=stroke.midi,
                          velocity=stroke.velocity) for stroke in known.take.strokes)
    return recording_from_bytes(to_flac(replace(performance, notes=notes)), "take.flac")


def matched(take: Take, true: Take, slower: float = 1.0) -> dict[int, int]:
    """Heard event -> true event, nearest first. Second 0 may be another: the shift that most
    strokes agree on is taken. `slower`: times the truth, as the recording plays it."""
    shifts = [mine.onset_sec - slower * one.onset_sec for mine in take.strokes
              for one in true.strokes if mine.midi == one.midi]
    counts, edges = np.histogram(shifts, np.arange(-1, SPEECH_SEC + 2, SAME_SEC / 2))
    near = edges[int(counts.argmax())] + SAME_SEC / 4
    by = float(np.median([shift for shift in shifts if abs(shift - near) < SAME_SEC]))
    pairs = sorted((abs(mine.onset_sec - slower * one.onset_sec - by), mine.event, one.event)
                   for mine in take.strokes for one in true.strokes if mine.midi == one.midi
                   and abs(mine.onset_sec - slower * one.onset_sec - by) <= SAME_SEC)
    found: dict[int, int] = {}
    for _, mine_event, event in pairs:
        if mine_event not in found and event not in found.values():
            found[mine_event] = event
    return found


def f_of(right: int, said: int, true: int) -> float:
    return 2 * right / max(said + true, 1)


def line(name: str, take: Take, known: Played, seconds: float) -> str:
    slower = 2 ** (-CENTS.get(name, 0) / 1200)
    events = matched(take, known.take, slower)
    onsets = f_of(len(events), len(take.strokes), len(known.take.strokes))
    start = f"{name:20}{onsets:8.3f}"
    try:
        report = check_take(take, known.arrangement.chorus)
    except InputError as error:
        return f"{start}   {error.message}"
    said = {(note.note, events.get(note.event)) for note in report.melody
            if note.status == "played" and note.event is not None}
    true = {(note, event) for (_, note), event in known.melody.items()}
    late = [1000 * abs(gap.back_late_sec - slower * known.late_sec[0, gap.gap.number])
            for gap in report.gaps if gap.back_late_sec is not None
            and (0, gap.gap.number) in known.late_sec]
    fills = {fill.gap: fill.family for fill in known.arrangement.fills}
    same = [gap.answer == fills[gap.gap.number] for gap in report.gaps
            if gap.gap.number in fills]
    return (f"{start}{f_of(len(said & true), len(said), len(true)):8.3f}"
            f"{np.median(late or [0]):8.1f}{np.percentile(late or [0], 95):6.0f} ms"
            f"{len(late):4}{sum(same):6}/{len(same)}{seconds:8.1f}")


def margins(known: Played, sound: Recording, names: list[str]) -> None:
    ear = open_piano_ear()
    for name in names:
        recording = prepared(spoilt(name, sound.samples, sound.rate), ear.rate)
        for margin in (1.0, 2.0, 4.0):
            windows = windows_of(len(recording.samples) / recording.rate, ear.window_sec, margin)
            heard = [ear.hear(piece_of(recording, window)) for window in windows]
            take = take_of(recording, windows, heard)
            onsets = f_of(len(matched(take, known.take)), len(take.strokes),
                          len(known.take.strokes))
            print(f"{name:20}{margin:6.1f} s{len(windows):4} pieces{onsets:8.3f}"
                  f"{len(joined(windows, heard)):6} keys", flush=True)


def main() -> None:
    parser = argparse.ArgumentParser(description="How well a recording is heard.")
    parser.add_argument("conditions", nargs="*", metavar="CONDITION", help=", ".join(CONDITIONS))
    parser.add_argument("--tune", default="umbrella")
    parser.add_argument("--level", default="intermediate")
    parser.add_argument("--processes", type=int, default=1)
    parser.add_argument("--margins", action="store_true")
    asked = parser.parse_args()
    if not piano_ear_is_installed():
        print(MISSING, file=sys.stderr)
        return
    names = asked.conditions or list(CONDITIONS)
    known = played(arranged(asked.tune, asked.level), WISH)
    sound = sound_of(known)
    print(f"{sound.length_sec:.1f} s of sound, {len(known.take.strokes)} keys", flush=True)
    if asked.margins:
        margins(known, sound, names)
        return
    print(f"{'recording':20}{'onsets':>8}{'melody':>8}{'landing':>8}{'95 %':>6}{'of':>7}"
          f"{'family':>8}{'s':>8}")
    print(line("as MIDI", known.take, known, 0.0), flush=True)
    for name in names:
        start = time.perf_counter()
        try:
            take = hear_recording(spoilt(name, sound.samples, sound.rate), open_piano_ear,
                                  asked.processes)
        except (ImportError, InputError) as error:
            print(f"{name:20} {error}", flush=True)
            continue
        print(line(name, take, known, time.perf_counter() - start), flush=True)


if __name__ == "__main__":
    main()
