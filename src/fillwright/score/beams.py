"""Beams by the beat.

Notes shorter than a quarter are beamed inside their beat; in bars of two halves the
eighths of a half are joined where it holds nothing else; a tuplet is beamed by itself.
Rests, and notes of a quarter or more, end a beam. Common practice.
"""

from __future__ import annotations

from collections.abc import Sequence

from fillwright.exact import Fraction
from fillwright.score.metre import Node, beats_of
from fillwright.score.rhythm import Piece

__all__ = ["beam_bar"]


def beam_bar(tree: Node, row: Sequence[tuple[Piece, bool]]) -> list[tuple[str, ...]]:
    """For each piece of a voice (with whether it is a rest) its beams, outermost first.

    The words are those of MusicXML: begin, continue, end, forward hook, backward hook.
    """
    beams: list[tuple[str, ...]] = [()] * len(row)
    beats = beats_of(tree)
    joined = _joined_halves(tree, beats, row)
    group: list[int] = []
    group_key: object = None
    for index, (piece, is_rest) in enumerate([*row, (None, True)]):
        key = None
        if piece is not None and not is_rest and piece.flags:
            key = _place(piece, beats, joined)
        if key is None or key != group_key:
            _write(group, row, beams)
            group = []
        if key is not None:
            group.append(index)
        group_key = key
    return beams


def _place(piece: Piece, beats: Sequence[Node], joined: dict[int, int]) -> object:
    if piece.tuplet is not None:
        return piece.tuplet
    beat = _beat_index(piece.start_quarter, beats)
    return joined.get(beat, beat)


def _beat_index(place: Fraction, beats: Sequence[Node]) -> int:
    return max(index for index, beat in enumerate(beats) if beat.start_quarter <= place)


def _joined_halves(tree: Node, beats: Sequence[Node],
                   row: Sequence[tuple[Piece, bool]]) -> dict[int, int]:
    """Beats to be beamed with the one before: both are two plain eighths, in one half."""
    joined: dict[int, int] = {}
    halves = [part for part in (tree.parts or ())
              if len(part.parts) == 2 and part.length_quarter == 2]
    for half in halves:
        inside = [(piece, is_rest) for piece, is_rest in row
                  if half.start_quarter <= piece.start_quarter < half.end_quarter]
        if len(inside) == 4 and all(not is_rest and piece.note_type == "eighth"
                                    and not piece.dots and piece.tuplet is None
                                    for piece, is_rest in inside):
            first = _beat_index(half.start_quarter, beats)
            joined[first + 1] = first
    return joined


def _write(group: Sequence[int], row: Sequence[tuple[Piece, bool]],
           beams: list[tuple[str, ...]]) -> None:
    if len(group) < 2:
        return
    flags = [row[index][0].flags for index in group]
    for place, index in enumerate(group):
        words = []
        for level in range(1, flags[place] + 1):
            before = place > 0 and flags[place - 1] >= level
            after = place + 1 < len(group) and flags[place + 1] >= level
            if before and after:
                words.append("continue")
            elif before:
                words.append("end")
            elif after:
                words.append("begin")
            else:
                words.append(_hook(place, group, row))
        beams[index] = tuple(words)


def _hook(place: int, group: Sequence[int], row: Sequence[tuple[Piece, bool]]) -> str:
    """A lone short note points to the longer note it completes a beat with."""
    if place == 0:
        return "forward hook"
    if place == len(group) - 1:
        return "backward hook"
    piece = row[group[place]][0]
    origin = row[group[0]][0].start_quarter
    at_start = (piece.start_quarter - origin) % (2 * piece.duration_quarter) == 0
    return "forward hook" if at_start else "backward hook"
