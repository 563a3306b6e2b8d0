// What was played, as a Standard MIDI File (format 0; MIDI 1.0, RP-001): one track, a second is 960 ticks.

const TICKS = 480; // of a quarter note, which lasts half a second
const MIDDLING = 64; // how hard a key is struck; an organ does not tell

/**
 * A number in groups of seven bits, the highest first.
 * @param {number} value
 */
function inSevens(value) {
  const bytes = [value & 0x7f];
  for (let rest = value >> 7; rest; rest >>= 7) bytes.unshift((rest & 0x7f) | 0x80);
  return bytes;
}

/** @param {number} value */
function inFour(value) {
  return [24, 16, 8, 0].map((by) => (value >> by) & 0xff);
}

/**
 * The file of a take.
 * @param {PlayedKey[]} notes
 */
function midiFile(notes) {
  const first = Math.min(...notes.map(({ on }) => on));
  const events = notes
    .flatMap(({ key, on, off }) => [
      { at: on, bytes: [0x90, key, MIDDLING], order: 1 },
      { at: off, bytes: [0x80, key, 0], order: 0 },
    ])
    .map((event) => ({ ...event, tick: Math.round((event.at - first) * 2 * TICKS) }))
    .sort((a, b) => a.tick - b.tick || a.order - b.order);
  let now = 0;
  const track = [0, 0xff, 0x51, 3, 0x07, 0xa1, 0x20]; // half a second to a quarter
  for (const { tick, bytes } of events) {
    track.push(...inSevens(tick - now), ...bytes);
    now = tick;
  }
  track.push(0, 0xff, 0x2f, 0);
  const head = [0x4d, 0x54, 0x68, 0x64, 0, 0, 0, 6, 0, 0, 0, 1, TICKS >> 8, TICKS & 0xff];
  return new Uint8Array([...head, 0x4d, 0x54, 0x72, 0x6b, ...inFour(track.length), ...track]);
}
