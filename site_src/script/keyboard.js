// The organ's keys under the music: what sounds, with the letter of its voice, and keys to touch.

const LOWEST_KEY = 36; // C2, as a MIDI number
const WHITE = { width: 30, height: 92 };
const BLACK = { width: 20, height: 56 };
const IS_BLACK = [1, 3, 6, 8, 10];

/**
 * Where the keys stand, from the lowest: left edge, and whether it is a black one.
 * @param {number} count
 */
function keyPlaces(count) {
  let edge = 0;
  return Array.from({ length: count }, (_, n) => {
    const black = IS_BLACK.includes((LOWEST_KEY + n) % 12);
    const left = black ? edge - BLACK.width / 2 : edge;
    if (!black) edge += WHITE.width;
    return { left, black };
  });
}

/** @param {{ left: number, black: boolean }} place */
function drawKey({ left, black }) {
  const { width, height } = black ? BLACK : WHITE;
  const shape = svgEl("rect", {
    x: left + 0.5,
    y: 0.5,
    width: width - 1,
    height: height - 1,
    rx: 2,
  });
  const letter = svgEl("text", {
    x: left + width / 2,
    y: height - 10,
    "text-anchor": "middle",
  });
  const group = svgEl("g", {
    class: black ? "verset-key-black" : "verset-key-white",
  });
  group.append(shape, letter);
  return { group, letter };
}

/**
 * Place of the frequency that lies nearest to a pitch, as one hears.
 * @param {number[]} hertz
 * @param {number} pitch
 */
function nearestKey(hertz, pitch) {
  const far = hertz.map((each) => Math.abs(Math.log(each / pitch)));
  return far.indexOf(Math.min(...far));
}

/**
 * A player as the keyboard sees it: each key has the letters of the voices that are on it.
 * @param {Player} player
 * @returns {KeysOwner}
 */
function keysOfPlayer(player) {
  const { timeline, transport, silent, voices, marks } = player;
  const initials = voices.map((voice) => player.voiceName(voice).slice(0, 1).toUpperCase());
  return {
    label: player.words.keyboardLabel,
    organ: () => player.organ,
    going: () => transport.going,
    onFrame: (act) => marks.onFrame(act),
    renew: () => marks.show(),
    noSound: () => player.say("noSound"),
    pressed: (key) => player.own?.take(key),
    released: (key) => player.own?.let(key),
    letters: (position) =>
      (timeline.versions[transport.recorded?.of ?? transport.settings.version]?.notes ?? [])
        .filter(({ start, end }) => start <= position + EARLY && end > position + EARLY)
        .filter(({ voice }) => !silent.has(voices[voice]))
        .map(({ hertz, voice }) => [hertz, initials[voice]]),
  };
}

/** A keyboard of keys tuned to these hertz, from the lowest up by semitones. */
class KeysOnScreen {
  /**
   * @param {KeysOwner} owner
   * @param {number[]} hertz
   */
  constructor(owner, hertz) {
    this.owner = owner;
    this.hertz = hertz;
    this.places = keyPlaces(hertz.length);
    this.keys = this.places.map(drawKey);
    const width = WHITE.width * this.places.filter((place) => !place.black).length;
    const size = {
      width,
      height: WHITE.height,
      viewBox: `0 0 ${width} ${WHITE.height}`,
    };
    this.svg = svgEl("svg", {
      ...size,
      role: "img",
      "aria-label": owner.label,
    });
    for (const black of [false, true]) {
      this.svg.append(...this.keys.filter((_, n) => this.places[n].black === black).map((key) => key.group));
    }
    this.element = el("div", { class: "verset-keyboard", hidden: true }, this.svg);
    /** @type {Map<number, { n: number, sound: Sound }>} */
    this.touched = new Map(); // by pointer: what sounds under it
    /** @type {Map<number, number>} */
    this.known = new Map(); // keys by pitch
    /** @type {Map<number, string>} */
    this.lit = new Map(); // by key: the letters on it
    this.listen();
  }

  listen() {
    this.keys.forEach(({ group }, n) => {
      group.addEventListener("pointerdown", (event) => this.down(event, n));
    });
    /** @param {PointerEvent} event */
    this.released = (event) => this.up(event);
    addEventListener("pointerup", this.released);
    addEventListener("pointercancel", this.released);
    this.owner.onFrame((position) => this.show(position));
  }

  /**
   * The key that sounds nearest to a pitch.
   * @param {number} pitch
   */
  keyOf(pitch) {
    const found = this.known.get(pitch) ?? nearestKey(this.hertz, pitch);
    this.known.set(pitch, found);
    return found;
  }

  /**
   * Mark what sounds at a position; bring it into sight where the keyboard is wider than the screen.
   * @param {number} position
   */
  show(position) {
    if (this.element.hidden) return;
    const next = this.lettersAt(position);
    for (const n of new Set([...this.lit.keys(), ...next.keys()])) {
      this.keys[n].group.classList.toggle("verset-key-down", next.has(n));
      this.keys[n].letter.textContent = next.get(n) ?? "";
    }
    this.lit = next;
    if (this.owner.going() && next.size && !this.touched.size) this.see([...next.keys()]);
  }

  /**
   * Keys that are down at a position, with the letters of their voices.
   * @param {number} position
   */
  lettersAt(position) {
    /** @type {Map<number, string>} */
    const found = new Map();
    for (const [hertz, letter] of this.owner.letters(position)) {
      const n = this.keyOf(hertz);
      found.set(n, (found.get(n) ?? "") + letter);
    }
    for (const { n } of this.touched.values()) found.set(n, found.get(n) ?? "");
    return found;
  }

  /** Brings keys into sight, or where they are too far apart their middle. @param {number[]} keys */
  see(keys) {
    const { element, svg } = this;
    const { clientWidth: wide, scrollLeft: from } = element;
    if (svg.clientWidth <= wide) return;
    const edges = keys.map((n) => this.places[n].left);
    const low = Math.min(...edges) - from;
    const high = Math.max(...edges) - from + WHITE.width;
    const by = (low + high - wide) / 2;
    if (high - low > wide ? Math.abs(by) > wide / 3 : low < 0 || high > wide) element.scrollLeft += by;
  }

  /**
   * @param {PointerEvent} event
   * @param {number} n
   */
  down(event, n) {
    event.preventDefault(); // the focus stays where it is, so that a touch can put a note in
    const { owner } = this;
    const organ = owner.organ();
    organ.context.resume().catch(() => owner.noSound());
    const now = organ.context.currentTime;
    this.touched.set(event.pointerId, {
      n,
      sound: organ.note(now + 0.005, now + 60, this.hertz[n]),
    });
    owner.pressed(LOWEST_KEY + n);
    owner.renew();
  }

  /** @param {PointerEvent} event */
  up(event) {
    const found = this.touched.get(event.pointerId);
    if (!found) return;
    this.touched.delete(event.pointerId);
    found.sound.end(this.owner.organ().context.currentTime);
    this.owner.released?.(LOWEST_KEY + found.n);
    this.owner.renew();
  }

  /** @param {boolean} on */
  setShown(on) {
    this.element.hidden = !on;
    if (on) this.owner.renew();
  }

  remove() {
    if (!this.released) return;
    removeEventListener("pointerup", this.released);
    removeEventListener("pointercancel", this.released);
  }
}
