// The student's page: plays what is in it, lights what sounds, keeps the ticks. Everything it needs
// is in the page itself; nothing is fetched.

const pack = JSON.parse(document.getElementById("pack").textContent);
const byId = (id) => document.getElementById(id);
const say = (key, values = {}) => pack.words[key].replace(/\{(\w+)\}/g, (_, name) => values[name]);

const AHEAD_SEC = 0.3; // clicks are handed to the sound card so far in advance
const START_SEC = 0.06; // from the call to the first sound
const EDGE_SEC = 0.012; // a round begins and ends softly
const ENCODER_FRAMES = 1105; // what an MP3 begins with where the decoder does not take it away
const CLICK_HZ = [1050, 1500]; // a beat, the first of a bar
const TAP_HZ = 620;
const CLICK_SEC = 0.04;
const KEPT = 4; // slowed sounds

const settings = { speed: 100, again: false, gap: false, counted: true, click: false, left: true, right: true };
let context = null;
let hands = null;
let out = null;
let run = null;
let chosen = pack.scores[0] ?? null; // what the bar plays
const decoded = new Map();
const slowed = new Map();

// --- sound ---------------------------------------------------------------------------------------

function open() {
  if (context) return;
  context = new AudioContext({ latencyHint: "interactive" });
  const limiter = context.createDynamicsCompressor();
  out = context.createGain();
  out.gain.value = 0.7;
  out.connect(limiter).connect(context.destination);
  hands = ["left", "right"].map((hand) => {
    const gain = context.createGain();
    gain.gain.value = settings[hand] ? 1 : 0;
    gain.connect(out);
    return gain;
  });
}

// The recording of a score: one array a hand.
async function heard(score) {
  if (!decoded.has(score.name)) {
    const text = atob(score.sound);
    const bytes = new Uint8Array(text.length);
    for (let i = 0; i < text.length; i += 1) bytes[i] = text.charCodeAt(i);
    const buffer = await context.decodeAudioData(bytes.buffer);
    const frames = Math.round(score.frames / score.rate * buffer.sampleRate);
    const late = buffer.length - frames > 0.02 * buffer.sampleRate
      ? Math.round(ENCODER_FRAMES / score.rate * buffer.sampleRate) : 0;
    decoded.set(score.name, [0, 1].map((number) => buffer.getChannelData(Math.min(number, buffer.numberOfChannels - 1))
      .slice(late, late + frames)));
  }
  return decoded.get(score.name);
}

async function atSpeed(score, speed) {
  const name = `${score.name} ${speed}`;
  if (!slowed.has(name)) {
    const channels = await heard(score);
    if (speed < 1) byId("said").textContent = say("page.slowing");
    slowed.set(name, await stretched(channels, context.sampleRate, score.notes.map((note) => note[0]), speed));
    if (slowed.size > KEPT) slowed.delete(slowed.keys().next().value);
    byId("said").textContent = "";
  }
  return slowed.get(name);
}

// From one second of a score to another, with soft edges where it is to be played in rounds.
function piece(channels, from, to, speed, soft) {
  const [first, last] = [from, to].map((sec) => Math.min(channels[0].length, Math.round(sec / speed * context.sampleRate)));
  const buffer = context.createBuffer(2, Math.max(1, last - first), context.sampleRate);
  const edge = Math.round(EDGE_SEC * context.sampleRate);
  channels.forEach((channel, number) => {
    const samples = channel.slice(first, last);
    if (from > 0) for (let i = 0; i < edge && i < samples.length; i += 1) samples[i] *= i / edge;
    if (soft) for (let i = 0; i < edge && i < samples.length; i += 1) samples[samples.length - 1 - i] *= i / edge;
    buffer.copyToChannel(samples, number);
  });
  return buffer;
}

function tap(start, hertz, loud = 0.35) {
  const source = context.createOscillator();
  const gain = context.createGain();
  source.frequency.value = hertz;
  gain.gain.setValueAtTime(loud, start);
  gain.gain.exponentialRampToValueAtTime(0.001, start + CLICK_SEC);
  source.connect(gain).connect(out);
  source.start(start);
  source.stop(start + CLICK_SEC);
  run?.clicks.add(gain);
  source.onended = () => run?.clicks.delete(gain);
}

// --- playing -------------------------------------------------------------------------------------

async function play(score, from = null) {
  stop();
  chosen = score;
  open();
  const speed = settings.speed / 100;
  const own = { score, speed, clicks: new Set(), next: 0, rounds: 0 };
  [own.from, own.to] = settings.gap ? score.gap : [0, settings.again ? score.length : score.frames / score.rate];
  run = own;
  show();
  try {
    if (context.state === "suspended") await context.resume();
    const channels = await atSpeed(score, speed);
    if (run !== own) return;
    const start = from !== null && from > own.from && from < own.to - 0.05 ? from : own.from;
    const counted = settings.counted && from === null ? countIn(score, start, speed) : 0;
    const source = context.createBufferSource();
    source.buffer = piece(channels, own.from, own.to, speed, settings.again || settings.gap);
    source.loop = settings.again;
    const split = context.createChannelSplitter(2);
    source.connect(split);
    hands.forEach((hand, number) => split.connect(hand, number));
    own.zero = context.currentTime + START_SEC + counted - (start - own.from) / speed;
    source.start(context.currentTime + START_SEC + counted, (start - own.from) / speed);
    source.onended = () => { if (run === own) stop(); };
    own.source = source;
    own.events = eventsOf(score).filter((event) => event.sec >= own.from - 0.001 && event.sec < own.to - 0.02);
    while (own.next < own.events.length && own.events[own.next].sec < start - 0.001) own.next += 1;
    own.timer = setInterval(() => schedule(own), 60);
    schedule(own);
    draw(own);
  } catch (error) {
    if (run === own) stop();
    byId("said").textContent = say("page.no_sound");
    console.error(error);
  }
}

function stop() {
  const own = run;
  if (!own) return;
  run = null;
  clearInterval(own.timer);
  cancelAnimationFrame(own.frame);
  if (own.source) {
    own.source.onended = null;
    own.source.stop();
  }
  for (const gain of own.clicks) {
    gain.gain.cancelScheduledValues(0);
    gain.gain.value = 0;
  }
  light(own.score, []);
  show();
}

// A bar of clicks before it begins; gives its seconds.
function countIn(score, at, speed) {
  const bar = score.bars.findLast(([sec]) => sec <= at + 0.001) ?? score.bars[0];
  const fullest = Math.round(Math.max(...score.bars.map(([, , beats]) => beats)));
  const beat = bar[1] / bar[2] / speed;
  for (let count = 0; count < fullest; count += 1) tap(context.currentTime + START_SEC + count * beat, CLICK_HZ[Number(count === 0)]);
  return fullest * beat;
}

// The beats, and the strokes of a rhythm that is handed out without its notes.
function eventsOf(score) {
  const beats = score.bars.flatMap(([sec, length, count]) => Array.from({ length: Math.ceil(count - 0.001) }, (_, beat) => (
    { sec: sec + (beat * length) / count, hertz: CLICK_HZ[Number(beat === 0)], click: true })));
  return [...beats, ...score.taps.map((sec) => ({ sec, hertz: TAP_HZ, click: false }))].sort((a, b) => a.sec - b.sec);
}

function schedule(own) {
  const round = (own.to - own.from) / own.speed;
  for (;;) {
    if (own.next >= own.events.length) {
      if (!settings.again || !own.source.loop || !own.events.length) return;
      own.rounds += 1;
      own.next = 0;
    }
    const event = own.events[own.next];
    const when = own.zero + own.rounds * round + (event.sec - own.from) / own.speed;
    if (when > context.currentTime + AHEAD_SEC) return;
    if (!event.click || settings.click) tap(Math.max(when, context.currentTime), event.hertz, event.click ? 0.25 : 0.5);
    own.next += 1;
  }
}

function placeOf(own) {
  const gone = (context.currentTime - (context.outputLatency || 0) - own.zero) * own.speed;
  if (gone < 0) return null;
  return own.from + (own.source.loop ? gone % (own.to - own.from) : gone);
}

function draw(own) {
  if (run !== own) return;
  const place = placeOf(own);
  const down = place === null ? [] : own.score.notes.filter(([sec, length]) => sec <= place && place < sec + length);
  const shown = down.map((note) => note.join()).join(" ");
  if (shown !== own.shown) {
    own.shown = shown;
    light(own.score, down);
  }
  own.frame = requestAnimationFrame(() => draw(own));
}

// A note is [sec, length, midi, its number on the staff, its place in quarters].
function light(score, down) {
  const section = document.querySelector(`[data-score="${score.name}"]`);
  for (const element of section.querySelectorAll(".score .on")) element.classList.remove("on");
  for (const [, , , number] of down) {
    if (number === null) continue;
    for (const kind of ["w", "n"]) byId(`${kind}${score.name}-n${number}`)?.classList.add("on");
  }
  section.querySelectorAll(".pictures figure").forEach((figure, index) => {
    const [from, to] = score.pictures[index];
    const keys = new Set(down.filter((note) => note[4] >= from - 1e-6 && note[4] < to - 1e-6).map((note) => String(note[2])));
    figure.classList.toggle("sounding", keys.size > 0);
    for (const element of figure.querySelectorAll("[data-midi]")) element.classList.toggle("on", keys.has(element.dataset.midi));
  });
}

// --- the bar -------------------------------------------------------------------------------------

function show() {
  const playing = run?.score ?? null;
  for (const button of document.querySelectorAll("button.play")) {
    const score = button.id === "stop" ? chosen?.name : button.dataset.play;
    const running = playing !== null && playing.name === score;
    button.classList.toggle("running", running);
    button.querySelector(".word").textContent = say(running ? "page.stop" : "page.play")
      + (button.id === "stop" && chosen ? ` ${chosen.item}` : "");
  }
  const tempo = Math.round((chosen?.tempo ?? 0) * settings.speed / 100);
  byId("pace").textContent = say("page.pace", { percent: settings.speed, tempo });
  for (const name of ["again", "gap", "counted", "click", "left", "right"]) byId(name).setAttribute("aria-pressed", String(settings[name]));
}

// What changes where or how fast it is played takes it up anew, at the same place if it can.
function anew(fromPlace) {
  if (run) play(run.score, fromPlace && run.source ? placeOf(run) : null);
}

function listen() {
  document.addEventListener("click", (event) => {
    const button = event.target.closest("button.play");
    if (!button) return;
    const score = button.id === "stop" ? chosen : pack.scores.find((one) => one.name === button.dataset.play);
    if (!score) return;
    if (run?.score === score) stop();
    else play(score);
  });
  for (const name of ["again", "gap", "counted", "click", "left", "right"]) {
    byId(name).addEventListener("click", () => {
      settings[name] = !settings[name];
      show();
      if (name === "again" || name === "gap") anew(name === "again");
      if (name === "left" || name === "right") hands?.[Number(name === "right")].gain.setTargetAtTime(Number(settings[name]), context.currentTime, 0.01);
    });
  }
  byId("speed").addEventListener("input", () => {
    settings.speed = Number(byId("speed").value);
    show();
  });
  byId("speed").addEventListener("change", () => anew(true));
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape") stop();
    if (event.key !== " " || event.target.closest("button, input, summary, a, select, textarea")) return;
    event.preventDefault();
    if (run) stop();
    else if (chosen) play(chosen);
  });
}

// --- the ticks -----------------------------------------------------------------------------------

const ticks = new Set();
let keeps = true;

function remember() {
  try {
    localStorage.setItem(pack.key, JSON.stringify([...ticks]));
  } catch {
    keeps = false;
    byId("said").textContent = say("page.keeps_not");
  }
}

function recall() {
  try {
    const kept = JSON.parse(localStorage.getItem(pack.key) ?? "[]");
    if (Array.isArray(kept)) for (const number of kept) ticks.add(String(number));
  } catch {
    keeps = false;
  }
}

function showTicks() {
  const boxes = [...document.querySelectorAll("[data-tick]")];
  for (const box of boxes) {
    box.checked = ticks.has(box.dataset.tick);
    document.querySelector(`[data-link="${box.dataset.tick}"]`).classList.toggle("done", box.checked);
  }
  byId("progress").textContent = say("page.done", { done: boxes.filter((box) => box.checked).length, count: boxes.length });
}

function keepTicks() {
  recall();
  showTicks();
  for (const box of document.querySelectorAll("[data-tick]")) {
    box.addEventListener("change", () => {
      if (box.checked) ticks.add(box.dataset.tick);
      else ticks.delete(box.dataset.tick);
      remember();
      showTicks();
    });
  }
  document.documentElement.dataset.keeps = String(keeps);
}

byId("bar").hidden = false;
keepTicks();
listen();
show();
