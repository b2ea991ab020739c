// Slower at the same pitch: waveform similarity overlap-add (Verhelst & Roelands, ICASSP 1993), with
// the strokes left as they are. The places of the strokes are known, so around each of them the
// sound goes on at its own pace, and only what rings between them is drawn out.

const HOP_SEC = 0.03; // a frame has two hops
const SEEK_SEC = 0.012; // how far a frame may move to go on like the one before
const BEFORE_SEC = 0.03; // of a stroke at its own pace, and after it
const AFTER_SEC = 0.05;
const APART_SEC = 0.04; // strokes nearer than this are one
const COARSE = 8; // frames are compared at every eighth sample first
const PATIENCE_MS = 24; // how long it works before the page may draw

// Where the sound for a place of the slower one comes from: corners [out, in] in seconds. Between two
// corners of one pace the pace is 1 ("own").
function paces(strokes, length, speed) {
  const places = [0, ...strokes, length].sort((a, b) => a - b)
    .filter((place, index, all) => index === 0 || place - all[index - 1] >= APART_SEC || place === length);
  const corners = [];
  places.forEach((place, index) => {
    const out = place / speed;
    const room = (other) => Math.abs((other ?? place) - place);
    const before = Math.min(BEFORE_SEC, 0.3 * room(places[index - 1]));
    const after = Math.min(AFTER_SEC, 0.4 * room(places[index + 1]));
    if (before) corners.push([out - before, place - before]);
    corners.push([out, place]);
    if (after) corners.push([out + after, place + after]);
  });
  return corners;
}

// `channels`: arrays of samples of one length; strokes in seconds. Gives arrays as much longer.
async function stretched(channels, rate, strokes, speed) {
  const length = channels[0].length;
  if (speed === 1) return channels.map((channel) => channel.slice());
  const hop = Math.round(HOP_SEC * rate);
  const seek = Math.round(SEEK_SEC * rate);
  const total = Math.floor(length / speed);
  const corners = paces(strokes, length / rate, speed);
  const mono = new Float32Array(length);
  for (const channel of channels) for (let i = 0; i < length; i += 1) mono[i] += channel[i];
  const out = channels.map(() => new Float32Array(total));
  const shape = Float32Array.from({ length: 2 * hop }, (_, i) => 0.5 - 0.5 * Math.cos((Math.PI * (i + 0.5)) / hop));
  let corner = 0;
  let last = 0; // where the frame before was taken from
  let drawn = performance.now();
  for (let centre = 0; centre < total + hop; centre += hop) {
    const at = centre / rate;
    while (corner + 2 < corners.length && corners[corner + 1][0] <= at) corner += 1;
    const [fromOut, fromIn] = corners[corner];
    const [toOut, toIn] = corners[corner + 1];
    const pace = toOut > fromOut ? (toIn - fromIn) / (toOut - fromOut) : 1;
    let source = Math.round((fromIn + (at - fromOut) * pace) * rate) - hop;
    if (pace < 0.999 && centre) source = likest(mono, last + hop, source, hop, seek);
    const target = centre - hop;
    for (let i = Math.max(0, -target, -source); i < 2 * hop && target + i < total && source + i < length; i += 1) {
      channels.forEach((channel, number) => { out[number][target + i] += shape[i] * channel[source + i]; });
    }
    last = source;
    if (performance.now() - drawn > PATIENCE_MS) {
      await new Promise((done) => { setTimeout(done); });
      drawn = performance.now();
    }
  }
  return out;
}

// The place near `wanted` whose sound goes on most like that at `next`.
function likest(mono, next, wanted, hop, seek) {
  const search = (middle, reach, step) => {
    let best = middle;
    let most = -Infinity;
    for (let place = Math.max(0, middle - reach); place <= middle + reach; place += step) {
      let product = 0;
      let power = 1e-9;
      for (let i = 0; i < hop && place + i < mono.length && next + i < mono.length; i += step) {
        product += mono[next + i] * mono[place + i];
        power += mono[place + i] ** 2;
      }
      const like = product / Math.sqrt(power);
      if (like > most) [most, best] = [like, place];
    }
    return best;
  };
  if (next < 0 || next + hop >= mono.length) return wanted;
  return search(search(wanted, seek, COARSE), COARSE - 1, 1);
}
