"""The library as one thing: opened, filled, asked."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import TracebackType

from fillwright.errors import InputError
from fillwright.fills.player import hand_of, level_of
from fillwright.given import given_whole
from fillwright.library.adding import Added, add_folders
from fillwright.library.asking import MOST, Question
from fillwright.library.counting import Counts, counts_of
from fillwright.library.database import connect, default_path, trouble
from fillwright.library.describe import describe_tune
from fillwright.library.filling import Wish, Worked, find_worked, work_sheets
from fillwright.library.finding import (
    Answer,
    FoundGap,
    find_gaps_in,
    gaps_offering,
    read_gaps,
    read_lessons,
    sheets_of,
    sheets_that_match,
    sheets_that_may,
)
from fillwright.library.likeness import like_gap
from fillwright.library.model import WORK, GapFacts
from fillwright.library.processes import FEW, Each, by_processes
from fillwright.library.shelving import player_id
from fillwright.library.teaching import Lesson, Offered
from fillwright.library.working import check_depth, work_out
from fillwright.tune.model import Tune

__all__ = ["Library", "lesson_of"]

Progress = Callable[[int, int], None]
_MOST_PROCESSES = 64
_FEW_TO_WORK = 4
"""Tunes that are worked out here: one takes about as long as a process takes to start."""


_NEAREST = 3
"""Gaps that are looked at for each that is to have a device."""


class Library:
    """Many tunes and their gaps, in one file; by default in the user's data folder.

    apart   nothing is read or worked out in this process, however little there is to do

    Used as a context manager, which closes it. Several processes may add and ask at once. Raises
    InputError where the file cannot be used.
    """

    def __init__(self, path: str | Path | None = None, *, apart: bool = False) -> None:
        if not isinstance(path, str | Path | None):
            raise InputError(f"a library is opened by the name of its file, not by {path!r}")
        self.path = default_path() if path is None else Path(path)
        self._few, self._few_to_work = (0, 0) if apart else (FEW, _FEW_TO_WORK)
        self.connection: sqlite3.Connection = connect(self.path)

    def __enter__(self) -> Library:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None,
                 trace: TracebackType | None) -> None:
        self.close()

    def close(self) -> None:
        self.connection.close()

    def __len__(self) -> int:
        """How many tunes it holds, copies counted."""
        with trouble(self.path):
            return int(self.connection.execute("SELECT count(*) FROM sheets").fetchone()[0])

    def add(self, folders: Iterable[str | Path], *, processes: int = 1, scheduler: str = "",
            progress: Progress | None = None) -> Added:
        """Describe every sheet in and below some folders that is new or has changed, and take out
        what is gone from there.

        processes  how many of this computer work at once
        scheduler  the address of a Dask scheduler, whose workers do it instead
        progress   called with (files done, files in all)

        Raises InputError for a folder that is not there and for a full disk: what was added until
        then stays.
        """
        given_whole(processes, "processes", 1, _MOST_PROCESSES)
        if isinstance(folders, str | Path):
            folders = [folders]
        with trouble(self.path), _workers(processes, scheduler, self._few) as each:
            return add_folders(self.connection, folders, each=each, progress=progress)

    def work_out(self, level: str, hand: str = "medium", *, depth: str = "offered",
                 processes: int = 1, scheduler: str = "", progress: Progress | None = None
                 ) -> Worked:
        """Work out which devices every gap takes for a player, where it is not known yet.

        depth  "may": which may be used; "offered": which are offered, and how hard they are;
               "full": all that would ever be offered. Each includes the ones before it.
        """
        given_whole(processes, "processes", 1, _MOST_PROCESSES)
        level_of(level)
        hand_of(hand)
        check_depth(depth)
        with trouble(self.path), _workers(processes, scheduler, self._few_to_work) as each:
            return work_sheets(self.connection, Wish(level, hand, depth), each=each,
                               progress=progress)

    def work_for(self, question: Question, *, processes: int = 1,
                 progress: Progress | None = None) -> Worked:
        """Work the devices out, to the full, of the tunes that have gaps to answer a question in
        all that is read off the page; where a device is asked for, of those in which it may be
        used."""
        with trouble(self.path), _workers(processes, few=self._few_to_work) as each:
            sheets = frozenset(sheets_that_match(self.connection, question))
            if question.device:
                work_sheets(self.connection, Wish(question.level, question.hand, "may"),
                            each=each, only=sheets)
                sheets &= frozenset(sheets_that_may(self.connection, question))
            return work_sheets(self.connection, Wish(question.level, question.hand, "full"),
                               each=each, progress=progress, only=sheets)

    def like(self, gap: GapFacts, question: Question | None = None, *, fingerprint: str = "",
             working: int = 0, processes: int = 1, progress: Progress | None = None
             ) -> tuple[FoundGap, ...]:
        """The gaps most like one, the nearest first; it need not be on the shelf itself.

        question     of it count the player, how many are wanted, and the device: only where that
                     is offered, the same idea elsewhere
        fingerprint  of the tune it stands in, so that it is not found itself
        working, processes, progress   as in `find`: the nearest gaps' tunes are worked out
        """
        asked = question or Question()
        level, hand, count = asked.level, asked.hand, asked.count
        with trouble(self.path):
            if working:
                near = like_gap(self.connection, gap, count=_NEAREST * count if asked.device
                                else count, fingerprint=fingerprint)
                sheets = sheets_of(self.connection, [key for key, _ in near])[:working]
                with _workers(processes, few=self._few_to_work) as each:
                    work_sheets(self.connection, Wish(level, hand, "offered"), each=each,
                                progress=progress, only=frozenset(sheets))
            player = player_id(self.connection, level, hand) or -1
            among = gaps_offering(self.connection, asked, player) if asked.device else None
            near = like_gap(self.connection, gap, count=count, fingerprint=fingerprint,
                            among=among)
            return read_gaps(self.connection, [key for key, _ in near], player, level)

    def lessons(self, level: str = "intermediate", hand: str = "medium", *,
                gaps: bool = False) -> tuple[Lesson, ...]:
        """Every tune (or gap) that is worked out for a player, with the devices it offers."""
        level_of(level)
        hand_of(hand)
        with trouble(self.path):
            return read_lessons(self.connection, level, hand, gaps=gaps)

    def lacking(self, level: str, hand: str = "medium") -> int:
        """How many tunes, copies not counted, are not worked out for a player."""
        player = player_id(self.connection, level, hand) or -1
        with trouble(self.path):
            return int(self.connection.execute(
                "SELECT count(*) FROM sheets WHERE first AND id NOT IN (SELECT sheet FROM worked "
                "WHERE player = ? AND program = ? AND depth >= 1)", (player, WORK)).fetchone()[0])

    def files_of(self, sheet: int) -> list[tuple[Path, int]]:
        """The files that hold a tune, with its number there, 0 where it is the only one."""
        with trouble(self.path):
            return [(Path(os.fsdecode(path)), number) for path, number in self.connection.execute(
                "SELECT path, number FROM files WHERE sheet = ? ORDER BY path", (sheet,))]

    def counts(self, question: Question) -> Counts:
        """How many gaps each further choice would leave of a question."""
        with trouble(self.path):
            return counts_of(self.connection, question)

    def find(self, question: Question, *, working: int = 0, processes: int = 1,
             progress: Progress | None = None) -> Answer:
        """The gaps that answer a question.

        working   how many tunes may be worked out first, where those that are listed are not, or
                  too few are; 0 answers at once from what is known
        processes, progress   as in `work_out`
        """
        if not isinstance(question, Question):
            raise InputError(f"the library is asked a Question, not {question!r}")
        given_whole(working, "tunes that may be worked out", 0, MOST)
        given_whole(processes, "processes", 1, _MOST_PROCESSES)
        with trouble(self.path):
            if not working:
                return find_gaps_in(self.connection, question)
            with _workers(processes, few=self._few_to_work) as each:
                return find_worked(self.connection, question, working, each=each,
                                   progress=progress)


@contextmanager
def _workers(processes: int, scheduler: str = "", few: int = FEW) -> Iterator[Each]:
    """Who does the work: processes of this computer, or a cluster."""
    if not scheduler:
        yield by_processes(processes, few)
        return
    from fillwright.library.cluster import by_cluster

    with by_cluster(scheduler) as each:
        yield each


def lesson_of(tune: Tune, level: str, hand: str = "medium") -> Lesson:
    """A tune with the devices it offers to a player, worked out now. Raises InputError."""
    work = work_out(tune, level, hand, "offered")
    bars = {gap.number: gap.bar for gap in describe_tune(tune, "").gaps}
    devices: dict[str, Offered] = {}
    for difficulty, number, offer in sorted(
            ((offer.difficulty, gap.number, offer) for gap in work.gaps for offer in gap.offers),
            key=lambda one: one[:2]):
        devices.setdefault(offer.name, Offered(difficulty, offer.family, bars[number], number))
    return Lesson(tune.title, tune.title, devices)
