// Plays what the server has worked out in seconds, on sampled piano keys.
//
// A score is {notes: [{sec, len, midi, loud, index, at}], pedals: [[down, up]], bars, length}.

import { get } from "./api.js";

const AHEAD_SEC = 0.35; // how far notes are handed to the sound card in advance
const START_SEC = 0.02; // from the call to the first sound
const RELEASE_SEC = 0.09; // a damper's time constant
const RECORDED_LOUDNESS = 88;

class Player {
  #context = null;
  #out = null;
  #samples = new Map();
  #keys = [];
  #loading = null;
  #run = null;

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
  }

  async #load() {
    if (!this.#context) this.#open();
    this.#keys = (await get("/api/piano")).keys;
    const middle = [...this.#keys].sort((a, b) => Math.abs(a - 60) - Math.abs(b - 60));
    await Promise.all(middle.map(async (key) => {
      const answer = await fetch(`/api/piano/${key}`);
      if (!answer.ok) throw new Error("The piano could not be loaded.");
      this.#samples.set(key, await this.#context.decodeAudioData(await answer.arrayBuffer()));
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

  // options: speed (1 = the tempo), loop ([from, to] in seconds, or true), from (seconds),
  // onnotes(indices that are down, notes), onplace(seconds), onend()
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
    this.#run = run;
    run.notes = [...score.notes].sort((a, b) => a.sec - b.sec);
    run.ends = run.notes.map((note) => soundingEnd(note, score.pedals));
    await this.load();
    if (this.#context.state === "suspended") await this.#context.resume();
    if (this.#run !== run) return;
    run.zero = this.#context.currentTime + START_SEC; // when `from` sounds
    run.next = run.notes.findIndex((note) => note.sec >= run.from - 0.001);
    if (run.next < 0) run.next = run.notes.length;
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
    for (;;) {
      while (run.next < run.notes.length && run.notes[run.next].sec < run.to - 0.001) {
        const note = run.notes[run.next];
        const start = run.zero + (note.sec - run.from) / run.speed;
        if (start > horizon) return;
        const end = run.zero + (Math.min(run.ends[run.next], run.to + 0.5) - run.from) / run.speed;
        this.#strike(run, note, Math.max(start, this.#context.currentTime), end);
        run.next += 1;
      }
      if (!run.loop) return;
      const again = run.zero + (run.to - run.from) / run.speed;
      if (again > horizon) return;
      run.zero = again;
      run.next = run.notes.findIndex((note) => note.sec >= run.from - 0.001);
      if (run.next < 0 || run.to - run.from < 0.05) return;
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
    source.connect(tone).connect(gain).connect(this.#out);
    source.start(start);
    source.stop(Math.max(end, start) + 10 * RELEASE_SEC);
    const voice = { source, gain };
    run.voices.add(voice);
    source.onended = () => run.voices.delete(voice);
  }

  #show(run) {
    let place = this.#place(run);
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

function soundingEnd(note, pedals) {
  const up = note.sec + note.len;
  const span = pedals.find(([down, lift]) => down <= up && up < lift && lift > note.sec);
  return span ? span[1] : up;
}

export const player = new Player();
