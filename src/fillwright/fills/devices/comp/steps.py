"""What it costs to go from a voicing to the next: how the voices move."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
import numpy.typing as npt

from fillwright.fills.devices.comp.states import WEIGHTS, States
from fillwright.fills.devices.comp.texture import Motion, Place
from fillwright.lattice import FORBIDDEN, Costs
from fillwright.memory import SEARCHES

__all__ = ["Gait", "guides_leap", "leading_on", "left_steps", "right_steps"]


def _moved(a: States, b: States) -> npt.NDArray[np.int64]:
    """Semitones moved, shape (states, next states, 5): voices matched from the top, those
    beyond the larger chord's number not counted."""
    each: npt.NDArray[np.int64] = np.abs(a.keys[:, None, :] - b.keys[None, :, :])
    voices = np.maximum(a.counts[:, None], b.counts[None, :])
    each[np.arange(5)[None, None, :] >= voices[:, :, None]] = 0
    return each


def leading_on(terms: Costs, a: States, b: States, same: bool) -> Costs:
    """With what it costs that an altered dominant goes back to the plain colour, instead of
    on to its tonic; `same` where the chord stays."""
    if not same or not a.altered.any():
        return terms
    undone = WEIGHTS["altered undone"] * (a.altered[:, None] & ~b.altered[None, :])
    return {**terms, "altered undone": undone}


@SEARCHES.keep
def left_steps(a: States, b: States, chords: bool, slow: bool) -> Costs:
    """From stroke to stroke of the left hand; `chords` where it plays rootless chords."""
    each = _moved(a, b)
    moved = each.sum(axis=2)
    thick = (a.counts > 1)[:, None]
    again = (moved == 0) & thick
    held = WEIGHTS["struck while held"] * slow
    turned = WEIGHTS["turned over"] * _turned(a, b)
    if chords:
        return {"voice leading": _voice_leading_cost(moved), "says less": _says_less(a, b),
                "turned over": turned,
                "same chord again": (WEIGHTS["same chord again"] + held) * again}
    both = thick & (b.counts > 1)[None, :]
    return {"bass line": WEIGHTS["bass line"] * (moved // 4), "says less": _says_less(a, b),
            "turned over": turned,
            "top line": np.where(both, np.maximum(each[:, :, 0] - 4, 0), 0),
            "same chord again": held * again}


@SEARCHES.keep
def guides_leap(a: States, b: States) -> npt.NDArray[np.int64]:
    """Semitones beyond a step that the keys above the bass have to the nearest ones of the
    other chord: over a root that goes by fourths, third and seventh change places by step, and
    a shell is not carried up as a block."""
    place = np.arange(5)
    real = [place[None, :] < s.counts[:, None] - 1 for s in (a, b)]
    apart = np.abs(a.keys[:, None, :, None] - b.keys[None, :, None, :])
    none = 1 << 20
    apart = np.where(real[0][:, None, :, None] & real[1][None, :, None, :], apart, none)
    leaps: npt.NDArray[np.int64] = np.zeros((len(a), len(b)), dtype=np.int64)
    for axis in (2, 3):
        nearest = apart.min(axis=axis)
        leaps += np.where(nearest < none, np.maximum(nearest - 2, 0), 0).sum(axis=2)
    return WEIGHTS["guides leap"] * leaps


def _says_less(a: States, b: States) -> npt.NDArray[np.int64]:
    """A chord struck again without some of its keys."""
    inside = (b.keys[None, :, :, None] == a.keys[:, None, None, :]).any(axis=3).all(axis=2)
    less = inside & (b.counts[None, :] < a.counts[:, None]) & (b.counts > 1)[None, :]
    return np.where(less, WEIGHTS["says less"], 0)


def _turned(a: States, b: States) -> npt.NDArray[np.int64]:
    """1 where the tones of a chord come again in another order or octave: a key that goes an
    octave is no voice leading."""
    tones = [np.bitwise_or.reduce(1 << s.keys % 12, axis=1) for s in (a, b)]
    alike = (tones[0][:, None] == tones[1][None, :]) & (a.counts > 1)[:, None] & (
        a.counts[:, None] == b.counts[None, :])
    turned: npt.NDArray[np.int64] = (
        alike & (a.keys[:, None, :] != b.keys[None, :, :]).any(axis=2)).astype(np.int64)
    return turned


def _voice_leading_cost(moved: npt.NDArray[np.int64]) -> npt.NDArray[np.int64]:
    """Half a point a semitone, dear beyond six in all: that is what the worked II-V-I forms
    move at most (Levine ch. 7; counted)."""
    cost: npt.NDArray[np.int64] = moved // 2 + 8 * np.maximum(moved - 6, 0)
    return WEIGHTS["voice leading"] * cost


class Gait(NamedTuple):
    """What the steps of a right hand depend on besides the keys: how a texture moves, where it
    lies, how many voices move in it, whether the level minds what stands still, the tempo, and
    which way a line of chords goes (1 up, -1 down, 0 where it is free)."""

    motion: Motion
    place: Place
    voices: int
    strict: bool
    slow: bool
    way: int = 0


@SEARCHES.keep
def right_steps(a: States, b: States, gait: Gait, same: bool) -> Costs:
    """From hit to hit of the right hand (of both in "both"); `same` where the chord stays."""
    each = _moved(a, b)
    moved = each.sum(axis=2)
    top = each[:, :, 0]
    if gait.motion == "planed":
        shifts = b.keys[None, :, :] - a.keys[:, None, :]
        parallel = (each.max(axis=2) <= 3) & ((shifts > 0).all(axis=2) | (shifts < 0).all(axis=2))
        return {"planed": np.where(parallel, moved // 3, FORBIDDEN)}
    if gait.motion == "thirds" and same:
        shifts = b.keys[None, :, :2] - a.keys[:, None, :2]
        walks = (shifts >= 3).all(axis=2) & (shifts <= 4).all(axis=2)
        walks |= (shifts <= -3).all(axis=2) & (shifts >= -4).all(axis=2)
        walks &= _in_thirds(a)[:, None] & _in_thirds(b)[None, :]
        return {"thirds": np.where(walks, 0, FORBIDDEN)}
    if gait.motion == "diminished" and same:
        shifts = b.keys[None, :, :4] - a.keys[:, None, :4]
        turns = ((shifts >= 2) & (shifts <= 4)).all(axis=2)
        turns |= ((shifts <= -2) & (shifts >= -4)).all(axis=2)
        return {"inversions": np.where(turns, 0, FORBIDDEN)}
    if gait.voices and same:
        allowed = (((each > 0).sum(axis=2) == gait.voices) & (each.max(axis=2) <= 2)
                   & (a.counts[:, None] == b.counts[None, :]))
        return {"inner line": np.where(allowed, 2 * (top > 0) + (moved - gait.voices), FORBIDDEN)}
    if gait.motion == "locked":  # a line of its own: the other voices go with the top
        back = gait.way * (b.keys[None, :, 0] - a.keys[:, None, 0]) < 0
        return {"top line": WEIGHTS["leap"] * np.maximum(top - 4, 0)
                + WEIGHTS["turns back"] * (back | (top == 0)), "voice leading": moved // 8}
    if gait.place in ("rising", "falling"):
        lift = a.keys[:, None, 0] - b.keys[None, :, 0]
        if gait.place == "rising":
            lift = -lift
        return {"register": np.where(lift < 3, FORBIDDEN, 0)
                + WEIGHTS["leap"] * np.maximum(lift - 9, 0)}
    if gait.motion == "leading":  # step by step one way, to the landing
        shift = gait.way * (b.keys[None, :, 0] - a.keys[:, None, 0])
        steps = (shift == 1) | (shift == 2)
        return {"leading": np.where(steps, 0, FORBIDDEN),
                "voice leading": WEIGHTS["voice leading"] * (moved - top) // 2}
    still = WEIGHTS["standing top"] if gait.strict else 0
    costs = {"voice leading": _voice_leading_cost(moved),
             "top line": WEIGHTS["leap"] * np.maximum(top - 4, 0) + still * (top == 0)}
    if gait.motion == "inversions" and same:
        bottom = np.abs(a.keys[:, None, -1] - b.keys[None, :, -1])
        costs["inversions"] = np.where((bottom == 0) | (top == 0), 4, 0)
        costs["voice leading"] = WEIGHTS["voice leading"] * moved // 4
    alone = (a.counts == 1)[:, None] & (b.counts == 1)[None, :]
    costs["lone leap"] = WEIGHTS["lone leap"] * np.where(alone, np.maximum(top - 4, 0), 0)
    if same:
        pairs = (a.counts == 2)[:, None] & (b.counts == 2)[None, :]
        costs["lower leap"] = WEIGHTS["lower leap"] * np.where(
            pairs, np.maximum(each[:, :, 1] - 4, 0), 0)
    again = WEIGHTS["same chord again"] // (1 if gait.strict else 3)
    costs["says less"] = _says_less(a, b)
    if gait.slow:
        again += WEIGHTS["struck while held"]
        if same:  # the other inversion, another register
            costs["voice leading"] = WEIGHTS["voice leading"] * moved // 2
    costs["same chord again"] = again * (moved == 0)
    return costs


def _in_thirds(states: States) -> npt.NDArray[np.bool_]:
    """Which states are two keys a third or a sixth apart."""
    pair: npt.NDArray[np.bool_] = (states.counts == 2) & np.isin(
        states.keys[:, 0] - states.keys[:, 1], (3, 4, 8, 9))
    return pair
