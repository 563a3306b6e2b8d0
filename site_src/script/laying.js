// When each sonority was played: keys that begin together are gathered into strokes, and strokes are laid over the
// sonorities by time and by what their figures allow. It may be asked again while the take goes on: what lies
// behind is kept. Costs are negative logarithms of chances. Knows nothing of the page.

const FINGERS = 0.042; // seconds: by how much the keys of a stroke differ (standard deviation)
const STEADY = 0.03; // seconds: the same of two strokes
const WANDER = 0.1; // share of the time between two strokes by which the speed may differ
const ROLL = 0.32; // seconds from the first to the last key of a stroke, at the most
const MOST_KEYS = 8; // of a stroke
const OFF_LINE = 0.5; // seconds: by how much the first stroke differs from the line
const WINDOW = 3; // seconds from the line beyond which nothing is looked for
const SKIPPED = 3; // keys between two strokes that are passed over as graces
const GRACE = 4.5; // what it costs to pass over one
const STRUCK_BEFORE = 5; // what it costs that nothing sounds at a sonority
const HELD_ON = 0.7; // what it costs that nothing is struck
const HELD_MOST = 8; // sonorities in a row at which nothing is struck
const FOREIGN = 2; // what a key costs that is foreign to a figure
const UNSOUNDED = 1.5; // what it costs that a figure is not sounded
const LACKING = 0.8; // what a key costs that is lacking
const SPARE = 2; // what a key costs that is too many
const ON_LINE = 1.2; // what it costs that a voice stands on the line's own key
const NO_LINE = 3; // what it costs that the line is lacking where it is played as well
const OVERLAP = 0.15; // seconds by which a key may outlast the stroke that follows it
const OVERLAP_SHARE = 0.35; // and of the sonority
const SETTLED = 0.6; // seconds after which a stroke is heard as it will be

/** @param {number} deviation */
function logOfNormal(deviation) {
  return Math.log(deviation * Math.sqrt(2 * Math.PI));
}

/** Lays strokes over the sonorities of an exercise. */
class Laying {
  /**
   * @param {Exercise} exercise
   * @param {boolean} line whether the line is played as well
   * @param {number} rate seconds of the verset to one of the hands
   */
  constructor(exercise, line, rate) {
    this.line = line;
    /** @type {PlayedKey[]} */
    this.notes = [];
    this.heard = -Infinity; // until when
    /** @type {Stroke[]} */
    this.strokes = [];
    /** @type {number[][]} by how many keys came before: the strokes that end there */
    this.endingAt = [[]];
    this.places = exercise.events
      .map((event, n) => ({ n, event }))
      .filter(({ event }) => event.upper.length)
      .map(({ n, event }) => ({
        n,
        start: event.start / rate,
        bass: midiOf(event.bass),
        open: openVoices(exercise, n).length,
        standing: standingKeys(exercise, n),
        overlap: Math.min(OVERLAP, (OVERLAP_SHARE * (event.end - event.start)) / rate),
        named: keyClasses(event),
        figures: event.figured ? event.variants.map((variant) => askedClasses(event, variant)) : [],
      }));
    /** by sonority: how many before it ask for keys */
    this.asking = this.places.map((_, e) => this.places.slice(0, e).filter(({ open }) => open).length);
    /** @type {LaidStroke[][]} by sonority and stroke */
    this.best = this.places.map(() => []);
    /** @type {Map<number, number>} */
    this.heldCosts = new Map();
  }

  /**
   * Hear what was played until now.
   * @param {PlayedKey[]} notes in order of their beginning: those of the last time, and new ones
   * @param {number} now
   */
  hear(notes, now) {
    const fresh = this.strokes.findIndex(({ last }) => last > this.heard - SETTLED);
    const kept = fresh < 0 ? this.strokes.length : fresh;
    this.strokes.length = kept;
    for (const row of this.best) row.length = kept;
    const first = kept ? notes.findIndex(({ on }) => on > this.heard - SETTLED) : 0;
    this.notes = notes;
    this.heldCosts.clear();
    this.endingAt = this.endingAt.slice(0, (first < 0 ? notes.length : first) + 1);
    for (let end = this.endingAt.length; end <= notes.length; end++) this.strokesTo(end);
    this.heard = now;
    return this;
  }

  /**
   * All strokes that end with a key.
   * @param {number} end how many keys there are up to it
   */
  strokesTo(end) {
    this.endingAt[end] = [];
    const last = this.notes[end - 1].on;
    for (let from = end - 1; from >= 0 && from >= end - MOST_KEYS; from--) {
      if (last - this.notes[from].on > ROLL) break;
      const keys = this.notes.slice(from, end);
      const at = keys.reduce((sum, { on }) => sum + on, 0) / keys.length;
      const spread = keys.reduce((sum, { on }) => sum + (on - at) ** 2, 0);
      const together = (keys.length - 1) * logOfNormal(FINGERS) + Math.log(keys.length) / 2;
      const cost = spread / (2 * FINGERS ** 2) + together;
      this.endingAt[end].push(this.strokes.length);
      this.strokes.push({ from, end, at, last, cost });
      this.lay(this.strokes.length - 1);
    }
  }

  /**
   * The best way to a stroke, at each sonority that it may be.
   * @param {number} s
   */
  lay(s) {
    const stroke = this.strokes[s];
    this.places.forEach(({ start }, e) => {
      /** @type {LaidStroke} */
      const cell = { cost: Infinity, from: null };
      this.best[e][s] = cell;
      if (Math.abs(stroke.at - start) > WINDOW) return;
      const here = stroke.cost + this.meant(e, this.keysAt(e, stroke.from, stroke.end, stroke.last));
      if (stroke.from <= SKIPPED) {
        const off = (stroke.at - start) ** 2 / (2 * OFF_LINE ** 2) + logOfNormal(OFF_LINE);
        cell.cost = here + off + this.asking[e] * STRUCK_BEFORE + stroke.from * GRACE;
      }
      for (let skipped = 0; skipped <= SKIPPED && skipped <= stroke.from; skipped++) {
        for (const s0 of this.endingAt[stroke.from - skipped]) {
          this.goOn(cell, e, s, s0, here + skipped * GRACE);
        }
      }
    });
  }

  /**
   * Look whether a stroke is better reached from another.
   * @param {LaidStroke} cell
   * @param {number} e
   * @param {number} s
   * @param {number} s0
   * @param {number} here
   */
  goOn(cell, e, s, s0, here) {
    const [from, to] = [this.strokes[s0], this.strokes[s]];
    const played = to.at - from.at;
    for (let e0 = e - 1; e0 >= 0 && this.asking[e] - this.asking[e0] <= 1 + HELD_MOST; e0--) {
      const before = this.best[e0][s0].cost + here;
      if (before >= cell.cost) continue;
      const asked = this.places[e].start - this.places[e0].start;
      const fingers = FINGERS ** 2 / (to.end - to.from) + FINGERS ** 2 / (from.end - from.from);
      const variance = STEADY ** 2 + (WANDER * asked) ** 2 + fingers;
      const timed = (played - asked) ** 2 / (2 * variance) + Math.log(2 * Math.PI * variance) / 2;
      if (before + timed >= cell.cost) continue;
      const cost = before + timed + this.held(e0, e, s0, to);
      if (cost < cell.cost) Object.assign(cell, { cost, from: [e0, s0] });
    }
  }

  /**
   * What it costs that nothing is struck between two sonorities.
   * @param {number} e0
   * @param {number} e
   * @param {number} s0
   * @param {Stroke | null} to the next stroke; null: there is none
   */
  held(e0, e, s0, to) {
    const { at } = this.strokes[s0];
    const from = this.places[e0].start;
    const speed = to ? (to.at - at) / (this.places[e].start - from) : 1;
    let cost = 0;
    for (let k = e0 + 1; k < e; k++) {
      const time = at + speed * (this.places[k].start - from);
      const known = (k * 4096 + this.strokes[s0].end) * 65536 + Math.round(time * 40);
      let each = this.heldCosts.get(known);
      if (each === undefined) {
        const asks = this.places[k].open ? HELD_ON : 0;
        each = asks + this.meant(k, this.keysAt(k, this.strokes[s0].end, this.strokes[s0].end, time));
        this.heldCosts.set(known, each);
      }
      cost += each;
    }
    return cost;
  }

  /**
   * The keys that sound at a sonority: those of a stroke, and those that began before and go on.
   * @param {number} e
   * @param {number} from
   * @param {number} end
   * @param {number} time
   */
  keysAt(e, from, end, time) {
    /** @type {number[]} */
    const keys = [];
    for (let k = end - 1; k >= 0 && k >= end - 24; k--) {
      const { key, off } = this.notes[k];
      if ((k >= from || off > time + this.places[e].overlap) && !keys.includes(key)) keys.push(key);
    }
    return keys;
  }

  /**
   * What speaks against some keys at a sonority.
   * @param {number} e
   * @param {number[]} keys
   */
  meant(e, keys) {
    const { bass, open, standing, named, figures } = this.places[e];
    if (!keys.length) return open ? STRUCK_BEFORE : 0;
    let foreign = 0;
    let line = false;
    let own = 0;
    for (const key of keys) {
      if (!named[key % 12]) foreign++;
      if (key === bass) line = true;
      if (!standing.has(key)) own++;
    }
    const wanted = open + (this.line ? 1 : 0);
    const lacking = Math.max(0, wanted - own);
    const spare = Math.max(0, own - wanted);
    const all = standing.size ? [...keys, ...standing] : keys;
    const sounded =
      !figures.length || figures.some((asked) => asked.every((one) => all.some((key) => key % 12 === one)));
    const lines = this.line ? (line ? 0 : NO_LINE) : line ? ON_LINE : 0;
    const figured = sounded || lacking ? 0 : UNSOUNDED;
    return foreign * FOREIGN + figured + lacking * LACKING + spare * SPARE + lines;
  }

  /** The best way through the whole: its cost, and for each sonority that asks for voices its stroke. */
  way() {
    const { places, strokes, notes } = this;
    const found = places.map(() => /** @type {Stroke | null} */ (null));
    let [least, e, s] = [Infinity, -1, -1];
    for (let k = Math.max(0, notes.length - SKIPPED); k <= notes.length; k++) {
      for (const s0 of this.endingAt[k]) {
        this.best.forEach((row, e0) => {
          const cost = row[s0].cost + (notes.length - k) * GRACE + this.ending(e0, s0);
          if (cost < least) [least, e, s] = [cost, e0, s0];
        });
      }
    }
    for (let at = s; e >= 0;) {
      found[e] = strokes[at];
      [e, at] = this.best[e][at].from ?? [-1, -1];
    }
    return { cost: least, strokes: found };
  }

  /**
   * What it costs that a stroke is the last: what came after it until now was held on.
   * @param {number} e
   * @param {number} s
   */
  ending(e, s) {
    const { at } = this.strokes[s];
    let to = e + 1;
    while (to < this.places.length && at + this.places[to].start - this.places[e].start < this.heard) to++;
    return this.held(e, to, s, null);
  }

  /**
   * When each sonority was played: at its stroke, between its neighbours where nothing was struck; null before the
   * first stroke, and where it is still to come.
   * @param {(Stroke | null)[]} strokes
   */
  times(strokes) {
    const start = (/** @type {number} */ e) => this.places[e].start;
    return strokes.map((stroke, e) => {
      if (stroke) return stroke.last;
      const before = strokes.findLastIndex((each, k) => k < e && each);
      const after = strokes.findIndex((each, k) => k > e && each);
      const [from, to] = [strokes[before]?.at, strokes[after]?.at];
      if (from === undefined) return null;
      const lasts = to === undefined ? 1 : (to - from) / (start(after) - start(before));
      const time = from + lasts * (start(e) - start(before));
      return to === undefined && time >= this.heard ? null : time;
    });
  }
}

/**
 * By class of key, whether a sonority may have it.
 * @param {Sonority} event
 */
function keyClasses({ bass, variants }) {
  const named = Array.from({ length: 12 }, () => false);
  named[modulo(midiOf(bass), 12)] = true;
  for (const { members } of variants) {
    for (const [number, alter] of members) named[modulo(midiOf([bass[0] + number - 1, alter]), 12)] = true;
  }
  return named;
}

/**
 * The classes of keys that a reading of a figure must have.
 * @param {Sonority} event
 * @param {Reading} reading
 */
function askedClasses({ bass }, { members, must }) {
  return members
    .filter(([number]) => must.includes(number))
    .map(([number, alter]) => modulo(midiOf([bass[0] + number - 1, alter]), 12));
}
