"""How much eighths swing at a tempo, and how late a line sits on the beat.

Two numbers make the feel, both by tempo and both from counts over recorded solos:

*   The **line ratio**: long to short of two eighths as a soloist plays them, from note to
    note. Fitted here to the medians of 20,878 pairs in the Weimar Jazz Database (Pfleiderer
    et al., *Inside the Jazzomat*, Schott Campus 2017): 1.37 at 100 to 120 a minute, about 1.3
    up to 200, 1.21 at 230, 1.13 at 280, 1.09 above 300. Their mean, 1.31, is the 1.3:1 that
    Corcoran & Frieler, Music Perception 38(4), 2021, report. Never one fixed 2:1.
*   The **lateness** of a soloist's on-beat notes, off-beats being in time: means over 54,841
    notes of the same data (34, 30, 23, 17, 10, 5 ms from slow to fast); Nelias et al.,
    Communications Physics 5, 2022, find 30 ms at about 150 a minute and that listeners hear
    it as swinging; Friberg & Sundström, Music Perception 19(3), 2002, that soloists' off-beats
    are synchronous with the ride cymbal while their downbeats are late.

Together they place the off-beat of the steady hands: the line's own long note plus the
lateness, measured from the beat. That gives 1.7 at 120, 1.6 at 200, 1.4 at 240 a minute,
between the soloists' and the drummers' linear fits of Friberg & Sundström, and within 0.2 of
the medians of 26,437 pairs of the same database measured against the annotated beat.

No random jitter: Datseris et al., Scientific Reports 9:19824, 2019, found performances on the
swing grid rated slightly higher than jittered ones.
"""

from __future__ import annotations

from bisect import bisect_right

__all__ = ["SHORTEST_EIGHTH_SEC", "grid_ratio", "lateness_sec", "line_ratio", "offbeat_place"]

# Line ratio = LINE_AT_ZERO - LINE_SLOPE * quarters a minute, not below 1. Within 0.05 of every
# median from 100 to 400 a minute named above.
LINE_AT_ZERO = 1.5
LINE_SLOPE = 0.0012

# (quarters a minute, milliseconds): the counted means at the middle of their tempo classes.
LATENESS_MS: tuple[tuple[float, float], ...] = (
    (80, 34), (120, 30), (160, 23), (200, 17), (240, 10), (280, 5))
# Nelias et al. 2022: about 9 % of a beat at most; the counted means never exceed 6 %.
LATENESS_SHARE = 0.06

# The latest place of the steady off-beat, as a share of the beat: a ratio of 1.7, the upper end
# of what soloists play at any tempo (per-solo medians, 95th percentile 1.74).
LATEST_OFFBEAT = 0.63

# Below this tempo the off-beat keeps its place: ballads swing gently, with the line's ratio
# under 1.5 (counted median there 1.32), not with the 3.5:1 of a drummer's ride cymbal.
SLOWEST = 120.0

# Friberg & Sundström 2002: the short note is about 100 ms at medium and fast tempi; nothing
# shorter than this is made by swing.
SHORTEST_EIGHTH_SEC = 0.08


def lateness_sec(quarters_per_minute: float) -> float:
    """How late an on-beat note of a swung line is, in seconds.

    >>> round(1000 * lateness_sec(120)), round(1000 * lateness_sec(300))
    (30, 5)
    """
    tempi = [tempo for tempo, _ in LATENESS_MS]
    place = bisect_right(tempi, quarters_per_minute)
    if place == 0:
        late_ms = LATENESS_MS[0][1]
    elif place == len(tempi):
        late_ms = LATENESS_MS[-1][1]
    else:
        (left, high), (right, low) = LATENESS_MS[place - 1:place + 1]
        late_ms = high + (low - high) * (quarters_per_minute - left) / (right - left)
    return min(late_ms / 1000, LATENESS_SHARE * 60 / quarters_per_minute)


def offbeat_place(quarters_per_minute: float) -> float:
    """Where the steady off-beat falls, as a share of the beat: 0.5 is straight.

    >>> round(offbeat_place(120), 2), round(offbeat_place(240), 2), offbeat_place(420)
    (0.63, 0.59, 0.5)
    """
    if quarters_per_minute < SLOWEST:
        return offbeat_place(SLOWEST)
    beat_sec = 60 / quarters_per_minute
    line = max(1.0, LINE_AT_ZERO - LINE_SLOPE * quarters_per_minute)
    place = line / (1 + line)
    if line > 1:
        place += lateness_sec(quarters_per_minute) / beat_sec
    return max(0.5, min(place, LATEST_OFFBEAT, 1 - SHORTEST_EIGHTH_SEC / beat_sec))


def grid_ratio(quarters_per_minute: float) -> float:
    """Long to short of two eighths in the steady hands.

    >>> [round(grid_ratio(tempo), 1) for tempo in (60, 120, 200, 240, 300)]
    [1.7, 1.7, 1.6, 1.4, 1.3]
    """
    place = offbeat_place(quarters_per_minute)
    return place / (1 - place)


def line_ratio(quarters_per_minute: float) -> float:
    """Long to short of two eighths in a line, whose on-beat notes are late.

    >>> [round(line_ratio(tempo), 2) for tempo in (60, 120, 200, 240, 300)]
    [1.48, 1.33, 1.26, 1.21, 1.14]
    """
    beat_sec = 60 / quarters_per_minute
    late = lateness_sec(quarters_per_minute) / beat_sec
    place = offbeat_place(quarters_per_minute)
    return max(1.0, (place - late) / (1 - place + late))
