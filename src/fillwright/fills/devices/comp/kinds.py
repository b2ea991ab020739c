"""Which kinds of voicing a hand looks for, by the group a texture names."""

from __future__ import annotations

from types import MappingProxyType

__all__ = ["CHROMATIC", "LEFT_KINDS", "RIGHT_KINDS"]

LEFT_KINDS = MappingProxyType({
    # family: kinds of left-hand voicing, best first
    "root": ("root", "bass", "octave"),
    "two-note shell": ("shell 1-7", "shell 1-6", "shell 1-3", "shell 1-4", "shell 1-2",
                       "root and fifth"),
    "shell": ("shell 1-3-7", "shell 1-3-6", "shell 1-3-5-7", "shell 1-3-5-6", "shell 1-5-6",
              "shell 1-4-7", "shell 1-2-7", "triad", "root, fifth, octave"),
    "open": ("root and fifth", "shell 1-7", "shell 1-6", "tenth", "spread 1-5-10",
             "spread 1-7-10"),
    "tenth": ("tenth", "spread 1-5-10", "spread 1-7-10"),
    "under line": ("shell 1-7", "shell 1-6", "shell 1-3", "root and fifth", "tenth", "root"),
    "broken": ("shell 1-3-7", "shell 1-3-6", "triad", "shell 1-4-7", "shell 1-2-7"),
    "broken tenth": ("spread 1-7-10", "spread 1-5-10"),
    "low fifth": ("low fifth",),
    "low root": ("root", "bass", "octave"),
    "pedal": ("pedal point",),
    "last root": ("root", "bass"),
    "guides": ("guide tones", "third and fifth", "guide tones and fifth"),
    "rootless": ("rootless, third at the bottom", "rootless, seventh at the bottom",
                 "rootless, sixth at the bottom", "third at the bottom",
                 "seventh at the bottom", "fifth at the bottom", "root position",
                 "tension on top"),
    "three-note rootless": ("three-note rootless", "third at the bottom",
                            "seventh at the bottom", "fifth at the bottom", "root position"),
})

RIGHT_KINDS = MappingProxyType({
    "one": ("single tone",),
    "guides": ("guide tones", "third and fifth", "root and fifth"),
    "two": ("guide tones", "two notes", "third and fifth", "root and fifth"),
    "three": ("guide tones and a colour", "close", "upper triad", "triad"),
    "four": ("rootless, third at the bottom", "rootless, seventh at the bottom",
             "rootless, sixth at the bottom", "third at the bottom", "seventh at the bottom",
             "fifth at the bottom", "root position", "close"),
    "whole": ("four tones",),
    "fourths": ("fourths",),
    "upper": ("upper structure", "upper triad"),
    "octave": ("octave with inner notes",),
    "cluster": ("cluster",),
    "drop 2": ("drop 2",),
    "locked": ("locked hands",),
    "spread": ("spread",),
    "moving": ("single tone", "guide tones", "two notes", "third and fifth", "root and fifth"),
    "bell": ("single tone",),
    "melody on top": ("rootless, third at the bottom", "rootless, seventh at the bottom",
                      "rootless, sixth at the bottom", "third at the bottom",
                      "seventh at the bottom", "fifth at the bottom", "root position", "close",
                      "drop 2"),
})

CHROMATIC = ("fourths", "upper", "cluster")
"""Groups of `RIGHT_KINDS` that are out of style in a song of plain triads."""
