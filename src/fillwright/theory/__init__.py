"""Harmony outside time: pitches, chord symbols, scales, keys.

Nothing here knows of beats, bars or hands.
"""
