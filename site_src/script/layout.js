// Where the moments of an exercise stand: room by value, systems as wide as the page allows, broken at bar
// lines.

const CLEF_ROOM = 14; // from the edge to the clef, and from the signature or metre to the first note
const SIGN_ROOM = 13; // before a note with an accidental
const EVENT_ROOM = 46; // a sonority is never narrower: it is touched with fingers
const WIDEST_STRETCH = 1.9;
const WIDEST_LAST = 1.25; // of a short last system

/**
 * Room that a length takes, in pixels.
 * @param {number} length
 */
function roomOf(length) {
  return 20 + 19 * Math.log2(1 + 2 * length);
}

/**
 * A bar with its moments and the room after each.
 * @param {Exercise} exercise
 * @param {ExerciseBar} bar
 * @param {Set<number>} times
 * @param {Set<number>} signed
 * @returns {RoomyBar}
 */
function roomyBar({ events }, [number, onset, length], times, signed) {
  const end = onset + length;
  const last = events[events.length - 1];
  const own = [...times].filter((time) => time >= onset && time < end).sort((a, b) => a - b);
  const gaps = own.map((time, k) => {
    const next = own[k + 1] ?? Math.min(end, last.at + last.length);
    return roomOf(next - time) + (signed.has(own[k + 1]) ? SIGN_ROOM : 0);
  });
  for (const event of events.filter((each) => each.at >= onset && each.at < end)) {
    const inside = own.flatMap((time, k) => (time >= event.at && time < event.at + event.length ? [k] : []));
    const least = EVENT_ROOM / inside.reduce((sum, k) => sum + gaps[k], 0);
    if (least > 1) for (const k of inside) gaps[k] *= least;
  }
  const before = CLEF_ROOM + (signed.has(own[0]) ? SIGN_ROOM : 0);
  return {
    number,
    onset,
    end,
    times: own,
    gaps,
    before,
    natural: gaps.reduce((a, b) => a + b, before),
  };
}

/**
 * Systems of an exercise, as wide as `width` at most. `times` are all moments at which something is drawn,
 * `signed` those with an accidental before them, `head` how wide clef, signature and metre are on the first
 * system and on the others.
 * @param {Exercise} exercise
 * @param {Set<number>} times
 * @param {Set<number>} signed
 * @param {(first: boolean) => number} head
 * @param {number} width
 */
function layOut(exercise, times, signed, head, width) {
  /** @type {OpenSystem[]} */
  const systems = [];
  for (const each of exercise.bars) {
    const bar = roomyBar(exercise, each, times, signed);
    if (!bar.times.length) continue;
    const last = systems.at(-1);
    if (last && last.head + last.natural + bar.natural <= width) {
      last.bars.push(bar);
      last.natural += bar.natural;
    } else
      systems.push({
        bars: [bar],
        natural: bar.natural,
        head: head(systems.length === 0),
      });
  }
  return systems.map((system, k) => placed(system, width, k === systems.length - 1));
}

/**
 * Give the moments of a system their places; it fills the width, unless it is a short last one.
 * @param {OpenSystem} system
 * @param {number} width
 * @param {boolean} last
 * @returns {PlacedSystem}
 */
function placed(system, width, last) {
  const fill = (width - system.head) / system.natural;
  const stretch = Math.min(fill, fill > 1 && last ? WIDEST_LAST : WIDEST_STRETCH);
  const x = new Map();
  const ends = [];
  let at = system.head;
  for (const bar of system.bars) {
    at += bar.before;
    bar.times.forEach((time, k) => {
      x.set(time, at);
      at += bar.gaps[k] * stretch + (bar.before * (stretch - 1)) / bar.times.length;
    });
    ends.push(at);
  }
  return { ...system, x, ends, width: Math.ceil(at) + 1, foot: 0, height: 0 };
}
