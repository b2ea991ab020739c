"""Arrangement to performance, MIDI and audio."""

from fillwright.sound.audio import one_hand, render_sound, to_flac, to_mp3
from fillwright.sound.loudness import Loudness, loudness_lufs
from fillwright.sound.midi import to_midi
from fillwright.sound.perform import perform

__all__ = ["Loudness", "loudness_lufs", "one_hand", "perform", "render_sound", "to_flac", "to_midi",
           "to_mp3"]
