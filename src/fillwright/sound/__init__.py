"""Arrangement to performance, MIDI and audio."""

from fillwright.sound.audio import render_sound
from fillwright.sound.midi import to_midi
from fillwright.sound.perform import perform

__all__ = ["perform", "render_sound", "to_midi"]
