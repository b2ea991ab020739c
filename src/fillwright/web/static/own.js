// A teacher's own notes in an idea: notes of it moved, lengthened or left out, others added.
//
// The fill's notes are counted as the server counts them; places are quarters of the chorus,
// lengths and the places of added notes (from the gap's beginning) exact fractions as text. Keys of
// added notes are half steps above the gap's melody note, so that they move with it.

import { exact, number } from "./dom.js";

const FARTHEST = 24; // half steps from where the fill has a note

export class Own {
  // octaves: how far the melody is played above the sheet
  constructor(fill, gap, pick = {}, octaves = 0) {
    this.fill = fill;
    this.base = pick.own ?? null; // a fill of the teacher's own
    const melody = gap.held ?? gap.landing;
    this.anchor = melody ? melody.midi - 12 * octaves : 60;
    this.start = number(gap.onset_quarter);
    this.beat = number(gap.duration_quarter) / number(gap.beats);
    this.moves = new Map(pick.moves ?? []);
    this.lengths = new Map(pick.lengths ?? []);
    this.added = (pick.added ?? []).map((note) => [...note]);
  }

  get changed() {
    return this.moves.size + this.lengths.size + this.added.length > 0;
  }

  get pick() {
    const sorted = (map) => [...map].sort((a, b) => a[0] - b[0]);
    const value = { fill: this.fill.id, moves: sorted(this.moves) };
    if (this.lengths.size) value.lengths = sorted(this.lengths);
    if (this.added.length) value.added = this.added;
    if (this.base) value.own = this.base;
    return value;
  }

  // The notes as they are now: {own: index of the fill's note, or its place in `added` as -1 - n}.
  get notes() {
    const kept = this.fill.notes.flatMap((note, index) => {
      const by = this.moves.has(index) ? this.moves.get(index) : 0;
      return by === null ? [] : [{ own: index, midi: note.midi + by, hand: note.hand, at: number(note.onset_quarter), length: this.lengths.get(index) ?? note.duration_quarter }];
    });
    const more = this.added.map(([at, above, length, hand], place) => ({ own: -1 - place, midi: this.anchor + above, hand, at: this.start + number(at), length }));
    return [...kept, ...more].sort((a, b) => a.at - b.at || a.midi - b.midi);
  }

  move(own, by) {
    if (own < 0) {
      const note = this.added[-1 - own];
      note[1] = Math.max(21, Math.min(108, this.anchor + note[1] + by)) - this.anchor;
      return;
    }
    const next = Math.max(-FARTHEST, Math.min(FARTHEST, (this.moves.get(own) ?? 0) + by));
    if (next) this.moves.set(own, next);
    else this.moves.delete(own);
  }

  remove(own) {
    if (own < 0) this.added.splice(-1 - own, 1);
    else {
      this.moves.set(own, null);
      this.lengths.delete(own);
    }
  }

  // Longer or shorter by half a beat; at least that long.
  stretch(own, by) {
    const step = this.beat / 2;
    const now = number(this.notes.find((note) => note.own === own).length);
    const next = Math.max(step, (Math.round(now / step) + by) * step);
    if (own < 0) this.added[-1 - own][2] = exact(next);
    else if (exact(next) === this.fill.notes[own].duration_quarter) this.lengths.delete(own);
    else this.lengths.set(own, exact(next));
  }

  // A note at a place in quarters of the chorus; returns which it is.
  add(at, midi, hand) {
    const length = exact(this.beat / 2);
    this.added.push([exact(Math.max(0, at - this.start)), midi - this.anchor, length, hand]);
    return -this.added.length;
  }

  // The notes of another choice of the same fill.
  load({ moves = [], lengths = [], added = [] }) {
    this.moves = new Map(moves);
    this.lengths = new Map(lengths);
    this.added = added.map((note) => [...note]);
  }

  clear() {
    this.moves.clear();
    this.lengths.clear();
    this.added.length = 0;
  }
}
