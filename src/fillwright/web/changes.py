"""Changes to a tune: understood, merged with what another page changed meanwhile, saved, told."""

from __future__ import annotations

import asyncio
import json
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from fillwright.edition.decisions import ChordChange, Decisions, Pick, chord_change, read_pick
from fillwright.errors import InputError
from fillwright.exact import Fraction
from fillwright.web.store import Conflict, Record
from fillwright.web.words import Say

if TYPE_CHECKING:
    from fillwright.web.service import Service

__all__ = ["BadChord", "Changes", "Done", "differences", "told"]

_OPEN = Pick("open")
_TRIES = 5
"""So often a change is made on what others have saved meanwhile."""
_NUMBERING = frozenset({"setting choruses", "setting introduction", "setting ending",
                        "setting part"})
"""After these the numbers of the gaps are others."""


class BadChord(InputError):
    """A chord symbol that cannot be read; `position` counts characters from 0."""

    def __init__(self, message: str, position: int) -> None:
        super().__init__(message)
        self.position = position


@dataclass(frozen=True, slots=True)
class Done:
    """A change that is saved.

    lost      gaps whose choice has no place in the form as it is now
    missing   gaps of the phrase that have no such fill
    merged    whether another page had changed something else meanwhile
    """

    record: Record
    lost: tuple[int, ...] = ()
    missing: tuple[int, ...] = ()
    merged: bool = False


@dataclass(frozen=True, slots=True)
class _Next:
    """What a change makes of a tune: its state, what undo calls it, and what it decides."""

    state: Decisions
    what: str
    subjects: frozenset[str]
    missing: tuple[int, ...] = ()


def differences(old: Decisions, new: Decisions) -> frozenset[str]:
    """What was decided otherwise: "gap 5", "setting level", "chord 3 3/2" (bar and place)."""
    before, after = old.value(), new.value()
    found = {f"setting {name}" for name in {*before["settings"], *after["settings"]}
             if before["settings"].get(name) != after["settings"].get(name)}
    found |= {f"gap {gap}" for gap in {*before["picks"], *after["picks"]}
              if before["picks"].get(gap) != after["picks"].get(gap)}
    found |= {f"chord {bar} {onset}" for bar, onset, _ in (
        *(c for c in before["chords"] if c not in after["chords"]),
        *(c for c in after["chords"] if c not in before["chords"]))}
    return frozenset(found)


def described(key: str, **values: object) -> str:
    """What a change was, to be kept with the state it made."""
    return json.dumps([key, {name: str(value)[:80] for name, value in values.items()}])


def told(what: str, say: Say) -> str:
    """The same in words; what an older program kept is words already."""
    try:
        key, values = json.loads(what)
        return say(f"server.undo_{key}", **values)
    except (ValueError, KeyError, TypeError):
        return what


class Changes:
    def __init__(self, service: Service) -> None:
        self._service = service

    async def change(self, key: str, version: int, change: Any) -> Done:
        """Save a change that was made from `version`.

        Where another page has changed something else since, both hold. Raises InputError,
        `BadChord`, `Missing`; `Conflict` where both decided the same thing.
        """
        store = self._service.store
        for _ in range(_TRIES):
            record = await asyncio.to_thread(store.get, key)
            made = await self._made(record, change)
            if record.version != version:
                since = await asyncio.to_thread(store.touched_since, key, version)
                both = _both(since, made.subjects | differences(record.state, made.state))
                if both is not None:
                    raise Conflict(record.version, both)
            try:
                return await self._save(record, made, merged=record.version != version)
            except Conflict:
                continue  # somebody was faster just now
        raise Conflict(record.version)

    async def _save(self, record: Record, made: _Next, merged: bool) -> Done:
        service = self._service
        state = made.state
        lost: tuple[int, ...] = ()
        if state.chords != record.state.chords or (
                state.options, state.part) != (record.state.options, record.state.part):
            # What cannot be arranged is not saved.
            after = await service.answer(service.ask(replace(record, state=state)), "overview")
            before = await service.answer(service.ask(record), "overview")
            state, lost = _renumbered(state, before["gaps"], after["gaps"])
        saved = await asyncio.to_thread(
            service.store.put, record.id, record.version, state, made.what,
            differences(record.state, state))
        self._tell(saved)
        return Done(saved, lost, made.missing, merged)

    async def step(self, key: str, version: int, by: int) -> Record:
        """Undo (-1) or redo (+1). Raises `Missing`, `Conflict`."""
        record = await asyncio.to_thread(self._service.store.step, key, version, by, differences)
        self._tell(record)
        return record

    def _tell(self, record: Record) -> None:
        self._service.events.publish(record.id, {"version": record.version})
        self._service.events.publish("", {"shelf": True})

    async def _made(self, record: Record, change: Any) -> _Next:
        if not isinstance(change, dict) or len(change) != 1:
            raise InputError("a change is an object with one entry")
        kind, value = next(iter(change.items()))
        makers = {"settings": self._settings, "chord": self._chord, "pick": self._pick,
                  "unpick": self._unpick, "again": self._again, "lock": self._lock,
                  "everywhere": self._everywhere,
                  "empty": self._empty}
        if kind not in makers:
            raise InputError("there is no such change")
        made = await makers[kind](record, value)
        chosen = self._service.chosen(record)
        if chosen is not None and kind in ("pick", "unpick", "chord") and (
                made.state.options == record.state.options):
            # What has been heard in the other gaps stays.
            made = replace(made, state=made.state.keeping(chosen[0]))
        return made

    async def _settings(self, record: Record, value: Any) -> _Next:
        state = record.state.with_settings(value)
        names = sorted(map(str, value))
        return _Next(state, described("settings", names=", ".join(names)),
                     frozenset(f"setting {name}" for name in names))

    async def _pick(self, record: Record, value: Any) -> _Next:
        if not isinstance(value, dict):
            raise InputError("there is no such change")
        service = self._service
        gap, pick = _gap_number(value.get("gap")), read_pick(value)
        if pick != _OPEN:
            await service.answer(service.ask(record), "check", gap, pick)
        else:
            await self._check_gap(record, gap)
        return _Next(record.state.with_pick(gap, pick), described("pick", gap=gap),
                     frozenset({f"gap {gap}"}))

    async def _unpick(self, record: Record, value: Any) -> _Next:
        gap = _gap_number(value)
        return _Next(record.state.with_pick(gap, None), described("unpick", gap=gap),
                     frozenset({f"gap {gap}"}))

    async def _again(self, record: Record, value: Any) -> _Next:
        """The program chooses anew: for all that is not decided (true), or for one gap."""
        if value is True:
            return _Next(replace(record.state, rest=None), described("again_all"),
                         frozenset({"rest"}))
        gap = _gap_number(value.get("gap") if isinstance(value, dict) else None)
        await self._check_gap(record, gap)
        state = await self._worked("again", record, gap)
        return _Next(state, described("again", gap=gap), frozenset({f"gap {gap}"}))

    async def _lock(self, record: Record, value: Any) -> _Next:
        gap = _gap_number(value)
        await self._check_gap(record, gap)
        state = await self._worked("lock", record, gap)
        return _Next(state, described("lock", gap=gap), frozenset({f"gap {gap}"}))

    async def _empty(self, record: Record, value: Any) -> _Next:
        """No fill in any gap that is not decided."""
        if value is not True:
            raise InputError("there is no such change")
        gaps = (await self._service.answer(self._service.ask(record), "overview"))["gaps"]
        state = record.state
        free = set(range(1, len(gaps) + 1)) - {gap for gap, _ in state.picks}
        for gap in sorted(free):
            state = state.with_pick(gap, _OPEN)
        return _Next(state, described("empty"), frozenset(f"gap {gap}" for gap in free))

    async def _everywhere(self, record: Record, value: Any) -> _Next:
        if not isinstance(value, dict) or not isinstance(value.get("how"), str):
            raise InputError("where a phrase comes again it is same or varied")
        gap = _gap_number(value.get("gap"))
        await self._check_gap(record, gap)
        state, missing = await self._worked("everywhere", record, gap, value["how"])
        return _Next(state, described(f"everywhere_{value['how']}", gap=gap),
                     differences(record.state, state) | {f"gap {gap}"}, tuple(missing))

    async def _worked(self, task: str, record: Record, *arguments: Any) -> Any:
        """By the worker, from what is kept where that is known: a whole chorus is not made for
        it then."""
        chosen = self._service.chosen(record)
        state = record.state if chosen is None else record.state.keeping(chosen[0])
        return await self._service.longwork.decide(self._service.ask(record), task, state,
                                                   *arguments)

    async def _check_gap(self, record: Record, gap: int) -> None:
        service = self._service
        if gap > len((await service.answer(service.ask(record), "overview"))["gaps"]):
            raise InputError(f"there is no gap {gap}")

    # --- chords -------------------------------------------------------------------------------

    async def _chord(self, record: Record, value: Any) -> _Next:
        found = await self._chord_change(record, value)
        state, what = record.state, described("chord", chord=found.text)
        if value.get("everywhere") is True:
            service = self._service
            places = await service.answer(service.ask(record), "equal_chords", found.bar,
                                          str(found.onset_quarter))
            for bar, onset in places:
                state = state.with_chord(replace(found, bar=bar, onset_quarter=Fraction(onset)))
            what = described("chord_everywhere", chord=found.text)
        elif value.get("from") is not None:
            state = state.with_chord(await self._chord_change(record, _place(value["from"])))
            what = described("chord_moved", chord=found.text)
        elif not found.text:
            what = described("chord_gone")
        state = state.with_chord(found)
        return _Next(state, what, frozenset(
            {f"chord {found.bar} {found.onset_quarter}"}))

    async def _chord_change(self, record: Record, value: Any) -> ChordChange:
        service = self._service
        if not isinstance(value, dict):
            raise InputError("a chord is an object")
        text = value.get("text")
        if not isinstance(text, str) or len(text) > 60:
            raise InputError("a chord symbol has at most 60 characters")
        if text.strip():
            found = await service.answer(service.ask(record), "chord", text)
            if not found["ok"]:
                raise BadChord(found["message"], found["position"])
            text = found["text"]
        change = chord_change(value.get("bar"), value.get("onset"), text)
        bars = (await service.answer(service.ask(record), "overview"))["bars"]
        lengths = {bar["bar"]: Fraction(bar["length_quarter"]) for bar in bars}
        if change.bar not in lengths:
            raise InputError("there is no such bar")
        if change.onset_quarter >= lengths[change.bar]:
            raise InputError("the bar is not that long")
        return change


def _both(since: frozenset[str] | None, mine: frozenset[str]) -> str | None:
    """What two pages decided: "gap 5"; "" where it is not known; None for nothing."""
    if since is None:
        return ""
    if any(subject.startswith("gap ") for subject in mine) and since & _NUMBERING:
        return min(since & _NUMBERING)
    if any(subject.startswith("gap ") for subject in since) and mine & _NUMBERING:
        return min(mine & _NUMBERING)
    return min(since & mine, default=None)


def _renumbered(state: Decisions, before: list[dict[str, Any]], after: list[dict[str, Any]]
                ) -> tuple[Decisions, tuple[int, ...]]:
    """Choices stay at their place on the sheet when bars are added before it."""
    there = {(gap["bar"], gap["pass"], gap["beat"]): gap["number"] for gap in after}
    numbers = {gap["number"]: there[place] for gap in before
               if (place := (gap["bar"], gap["pass"], gap["beat"])) in there}
    lost = tuple(gap for gap, _ in state.picks if gap not in numbers)
    return state.renumbered(numbers), lost


def _place(value: Any) -> Mapping[str, Any]:
    """Where a chord is moved from: there is none there afterwards."""
    if not isinstance(value, dict):
        raise InputError("a chord is moved from a bar and a place in it")
    return {**value, "text": ""}


def _gap_number(value: Any) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value < 100_000:
        raise InputError("a choice belongs to the number of a gap")
    return value
