// A Standard MIDI File (type 0) of what was played, a tenth of a millisecond a tick.

const TICKS = 10000; // of a second: a quarter lasts one at 1,000,000 microseconds

const text = (letters) => [...letters].map((letter) => letter.charCodeAt(0));
const bytes = (value, count) => Array.from({ length: count }, (_, place) => (value >>> (8 * (count - 1 - place))) & 0xff);

// Seven bits a byte, the last without the high bit.
function variable(value) {
  const found = [value & 0x7f];
  for (let rest = value >>> 7; rest; rest >>>= 7) found.unshift((rest & 0x7f) | 0x80);
  return found;
}

// messages: [milliseconds, status, data, data]
export function smf(messages) {
  const ordered = [...messages].sort((a, b) => a[0] - b[0]);
  const zero = ordered[0]?.[0] ?? 0;
  const track = [0, 0xff, 0x51, 3, ...bytes(1000000, 3)];
  let before = 0;
  for (const [ms, ...data] of ordered) {
    const tick = Math.round(((ms - zero) * TICKS) / 1000);
    track.push(...variable(tick - before), ...data);
    before = tick;
  }
  track.push(0, 0xff, 0x2f, 0);
  return new Uint8Array([...text("MThd"), ...bytes(6, 4), ...bytes(0, 2), ...bytes(1, 2), ...bytes(TICKS, 2), ...text("MTrk"), ...bytes(track.length, 4), ...track]);
}
