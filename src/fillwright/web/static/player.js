// Plays what the server has worked out in seconds, on sampled piano keys.
//
// A score is {notes: [{sec, len, midi, loud, index, at, part}], pedals: [[down, up]],
// bars: [{sec, len, beats}], length}. A part (melody, left, right) can be silenced, a click and
// a bar counted in can be added; all of it while it plays.

import { get } from "./api.js";

const AHEAD_SEC = 0.35; // how far notes are handed to the sound card in advance
const START_SEC = 0.02; // from the call to the first sound
const LANES = 2; // keys that are fetched at once
const RELEASE_SEC = 0.09; // a damper's time constant
const RECORDED_LOUDNESS = 88;
const PARTS = ["melody", "right", "left", "click"];
const CLICK_HZ = [1050, 1500]; // a beat, the first of a bar
const CLICK_SEC = 0.04;

class Player {
  #context = null;
  #out = null;
  #samples = new Map();
  #keys = [];
  #loading = null;
  #run = null;
  #parts = new Map();
  #silent = new Set(["click"]);

  // Fetch and decode the keys; playing waits for it.
  load() {
    this.#loading ??= this.#load().catch((error) => {
      this.#loading = null;
      throw error;
    });
    return this.#loading;
  }

  #open() {
    this.#context = new AudioContext({ latencyHint: "interactive" });
    const limiter = this.#context.createDynamicsCompressor();
    this.#out = this.#context.createGain();
    this.#out.gain.value = 0.5;
    this.#out.connect(limiter).connect(this.#context.destination);
    for (const part of PARTS) {
      const gain = this.#context.createGain();
      gain.gain.value = this.#silent.has(part) ? 0 : 1;
      gain.connect(this.#out);
      this.#parts.set(part, gain);
    }
  }

  async #load() {
    if (!this.#context) this.#open();
    this.#keys = (await get("/api/piano")).keys;
    const left = [...this.#keys].sort((a, b) => Math.abs(a - 60) - Math.abs(b - 60));
    // A browser has six connections to a server; what is looked at must not wait for the piano.
    await Promise.all(Array.from({ length: LANES }, async () => {
      for (let key = left.shift(); key !== undefined; key = left.shift()) {
        const answer = await fetch(`/api/piano/${key}`);
        if (!answer.ok) throw new Error("The piano could not be loaded.");
        this.#samples.set(key, await this.#context.decodeAudioData(await answer.arrayBuffer()));
      }
    }));
    document.documentElement.dataset.piano = "ready";
  }

  // Another piano was chosen: its keys are fetched when the next sound is made.
  change() {
    this.stop();
    this.#loading = null;
    delete document.documentElement.dataset.piano;
    return this.load();
  }

  get playing() {
    return this.#run !== null;
  }

  // Where it is in the score, in seconds; null where nothing sounds yet.
  get place() {
    const run = this.#run;
    return run?.zero === undefined ? null : Math.max(run.first, this.#place(run));
  }

  // Where in the score a listener was at a time of `performance.now()`: sound comes out later than
  // it is handed over. null where nothing sounds.
  placeAt(ms) {
    const run = this.#run;
    if (run?.zero === undefined) return null;
    const late = this.#context.baseLatency + (this.#context.outputLatency || 0);
    return this.#place(run) - (late + (performance.now() - ms) / 1000) * run.speed;
  }

  // Whether a part is heard, now and from now on.
  setHeard(part, heard) {
    if (heard) this.#silent.delete(part);
    else this.#silent.add(part);
    this.#parts.get(part)?.gain.setTargetAtTime(heard ? 1 : 0, this.#context.currentTime, 0.01);
  }

  // options: speed (1 = the tempo), loop ([from, to] in seconds, or true), from (seconds),
  // countIn (a bar of clicks before), onnotes(indices that are down, notes), onplace(seconds),
  // onend()
  async play(score, options = {}) {
    this.stop();
    const run = {
      score, speed: options.speed ?? 1, loop: null, options, voices: new Set(), next: 0,
      from: options.from ?? 0, to: score.length, shown: "", down: [],
    };
    if (options.loop) {
      [run.from, run.to] = options.loop === true ? [0, score.length] : options.loop;
      run.loop = true;
    }
    const start = Math.max(run.from, Math.min(options.from ?? run.from, run.to - 0.05));
    this.#run = run;
    run.notes = [...score.notes].sort((a, b) => a.sec - b.sec);
    run.ends = run.notes.map((note) => soundingEnd(note, score.pedals));
    await this.load();
    if (this.#context.state === "suspended") await this.#context.resume();
    if (this.#run !== run) return;
    run.clicks = clicksOf(score);
    const counted = options.countIn ? this.#countIn(run, start) : 0;
    run.first = start;
    run.zero = this.#context.currentTime + START_SEC + counted - (start - run.from) / run.speed; // when `from` sounds
    this.#rewind(run, start);
    this.#schedule(run);
    const late = this.#context.baseLatency + (this.#context.outputLatency || 0);
    performance.mark("first-sound", { detail: { inMs: (START_SEC + late) * 1000 } });
    run.timer = setInterval(() => this.#schedule(run), 60);
    const draw = () => {
      if (this.#run !== run) return;
      this.#show(run);
      run.frame = requestAnimationFrame(draw);
    };
    draw();
  }

  #rewind(run, at = run.from) {
    const next = (list) => {
      const found = list.findIndex((item) => item.sec >= at - 0.001);
      return found < 0 ? list.length : found;
    };
    run.next = next(run.notes);
    run.nextClick = next(run.clicks);
  }

  // A bar of clicks before it begins, in the tempo of the bar it begins in; returns its seconds.
  #countIn(run, at) {
    const bars = run.score.bars ?? [];
    const bar = bars.findLast((entry) => entry.sec <= at + 0.001) ?? bars[0];
    if (!bar) return 0;
    const fullest = Math.round(Math.max(...bars.map((entry) => entry.beats)));
    const beat = bar.len / bar.beats / run.speed;
    for (let count = 0; count < fullest; count += 1) {
      this.#click(run, this.#context.currentTime + START_SEC + count * beat, count === 0, this.#out);
    }
    return fullest * beat;
  }

  #click(run, start, first, to = this.#parts.get("click")) {
    const source = this.#context.createOscillator();
    source.frequency.value = CLICK_HZ[Number(first)];
    const gain = this.#context.createGain();
    gain.gain.setValueAtTime(0.35, start);
    gain.gain.exponentialRampToValueAtTime(0.001, start + CLICK_SEC);
    source.connect(gain).connect(to);
    source.start(start);
    source.stop(start + CLICK_SEC);
    const voice = { source, gain };
    run.voices.add(voice);
    source.onended = () => run.voices.delete(voice);
  }

  stop() {
    const run = this.#run;
    if (!run) return;
    this.#run = null;
    clearInterval(run.timer);
    cancelAnimationFrame(run.frame);
    for (const voice of run.voices) {
      voice.gain.gain.cancelScheduledValues(0);
      voice.gain.gain.setTargetAtTime(0, this.#context.currentTime, 0.02);
      voice.source.stop(this.#context.currentTime + 0.2);
    }
    run.options.onnotes?.([], []);
    run.options.onend?.();
  }

  // Change the tempo while it plays: what is still to come moves.
  setSpeed(speed) {
    const run = this.#run;
    if (!run || run.zero === undefined || run.speed === speed) return;
    const place = this.#place(run);
    run.zero = this.#context.currentTime - (place - run.from) / speed;
    run.speed = speed;
  }

  #place(run) {
    return run.from + (this.#context.currentTime - run.zero) * run.speed;
  }

  #schedule(run) {
    const horizon = this.#context.currentTime + AHEAD_SEC;
    const when = (sec) => run.zero + (sec - run.from) / run.speed;
    for (;;) {
      while (run.nextClick < run.clicks.length && run.clicks[run.nextClick].sec < run.to - 0.001) {
        const click = run.clicks[run.nextClick];
        if (when(click.sec) > horizon) break;
        this.#click(run, Math.max(when(click.sec), this.#context.currentTime), click.first);
        run.nextClick += 1;
      }
      while (run.next < run.notes.length && run.notes[run.next].sec < run.to - 0.001) {
        const note = run.notes[run.next];
        if (when(note.sec) > horizon) return;
        const end = when(Math.min(run.ends[run.next], run.to + 0.5));
        this.#strike(run, note, Math.max(when(note.sec), this.#context.currentTime), end);
        run.next += 1;
      }
      if (!run.loop || run.to - run.from < 0.05) return;
      if (when(run.to) > horizon) return;
      run.zero = when(run.to);
      run.again = true;
      this.#rewind(run);
    }
  }

  #strike(run, note, start, end) {
    const key = this.#keys.reduce((a, b) => (Math.abs(b - note.midi) < Math.abs(a - note.midi) ? b : a));
    const source = this.#context.createBufferSource();
    source.buffer = this.#samples.get(key);
    source.playbackRate.value = 2 ** ((note.midi - key) / 12);
    const gain = this.#context.createGain();
    const loud = note.loud / RECORDED_LOUDNESS;
    gain.gain.value = loud ** 1.7;
    const tone = this.#context.createBiquadFilter(); // soft strokes are darker
    tone.type = "lowpass";
    tone.frequency.value = Math.min(18000, 1200 + 9000 * loud ** 2 + 20 * note.midi);
    gain.gain.setTargetAtTime(0, Math.max(end, start + 0.03), RELEASE_SEC);
    source.connect(tone).connect(gain).connect(this.#parts.get(note.part) ?? this.#out);
    source.start(start);
    source.stop(Math.max(end, start) + 10 * RELEASE_SEC);
    const voice = { source, gain };
    run.voices.add(voice);
    source.onended = () => run.voices.delete(voice);
  }

  #show(run) {
    let place = this.#place(run);
    if (place < run.first && !run.again) return; // it is being counted in
    if (place < run.from && run.loop) place = run.to - (run.from - place); // the old round rings
    if (!run.loop && place > run.to + 0.15) {
      this.stop();
      return;
    }
    const down = run.notes.filter((note) => note.sec <= place && place < note.sec + note.len);
    const shown = down.map((note) => note.index).join(" ");
    if (shown !== run.shown) {
      run.shown = shown;
      run.options.onnotes?.(down.map((note) => note.index), down);
    }
    run.options.onplace?.(place);
  }
}

// The beats of all bars; a bar cut short has fewer.
function clicksOf({ bars = [] }) {
  return bars.flatMap(({ sec, len, beats }) => Array.from({ length: Math.ceil(beats - 0.001) }, (_, beat) => ({
    sec: sec + (beat * len) / beats, first: beat === 0,
  })));
}

function soundingEnd(note, pedals) {
  const up = note.sec + note.len;
  const span = pedals.find(([down, lift]) => down <= up && up < lift && lift > note.sec);
  return span ? span[1] : up;
}

export const player = new Player();
