// What the page shows of the sound: sounding notes, the bar we are in, bars to repeat, silent voices.

const calm = matchMedia("(prefers-reduced-motion: reduce)");
const FRAME = 0.008; // a mark set now is seen about half a frame later

class Marks {
  /**
   * @param {Music} music
   * @param {Timeline} timeline
   * @param {Transport} transport
   */
  constructor(music, timeline, transport) {
    this.music = music;
    this.timeline = timeline;
    this.transport = transport;
    /** @type {Set<string>} */
    this.lit = new Set();
    this.bar = -1; // the one we are in
    this.counting = false;
    this.follow = false;
    this.frame = 0;
    /** @type {((bar: number) => void)[]} */
    this.barListeners = [];
    /** @type {((position: number) => void)[]} */
    this.frameListeners = [];
    transport.listen(() => {
      if (transport.going && !this.frame) this.run();
      else if (!transport.going) this.show();
    });
  }

  /**
   * Told of a new bar, and of the end of the count before the first one.
   * @param {(bar: number) => void} listener
   */
  onBar(listener) {
    this.barListeners.push(listener);
  }

  /**
   * Told of the position at the ear, at each frame while the music goes.
   * @param {(position: number) => void} listener
   */
  onFrame(listener) {
    this.frameListeners.push(listener);
  }

  run() {
    this.show();
    this.frame = this.transport.going ? requestAnimationFrame(() => this.run()) : 0;
  }

  show() {
    const { music, timeline, transport } = this;
    const position = transport.position(FRAME);
    const { recorded } = transport;
    const follows = !recorded || recorded.follows(timeline.bar(position));
    const versions = follows ? music.shown(transport.settings.version) : [];
    this.lightNotes(versions.flatMap((version) => timeline.sounding(version, position)));
    this.frameBar(timeline.bar(position));
    for (const listener of this.frameListeners) listener(position);
  }

  /** @param {string[]} ids */
  lightNotes(ids) {
    const next = new Set(ids);
    for (const id of new Set([...this.lit, ...next])) {
      if (this.lit.has(id) === next.has(id)) continue;
      for (const note of this.music.notes.get(id) ?? []) note.classList.toggle("verset-now", next.has(id));
    }
    this.lit = next;
  }

  /** @param {number} number */
  frameBar(number) {
    const { counting, going } = this.transport;
    if (number === this.bar && counting === this.counting) return;
    this.bar = number;
    this.counting = counting;
    for (const bar of this.music.bars) bar.measure.classList.toggle("verset-here", bar.number === number);
    if (this.follow && going) this.toMusic();
    for (const listener of this.barListeners) listener(number);
  }

  /** Bring the music of this moment into sight. */
  toMusic() {
    const bar = this.music.bars.find((each) => each.number === this.bar && this.music.seen(each));
    if (!bar || bar.system.svg.closest("dialog")) return;
    const box = bar.system.svg.getBoundingClientRect();
    if (box.top < innerHeight * 0.15 || box.bottom > innerHeight * 0.75) {
      bar.system.svg.scrollIntoView({
        block: "center",
        behavior: calm.matches ? "auto" : "smooth",
      });
    }
  }

  /** @param {boolean} on */
  setFollow(on) {
    this.follow = on;
    if (on && this.transport.going) this.toMusic();
  }

  /** @param {BarsToRepeat | null} bars */
  repeat(bars) {
    for (const bar of this.music.bars) {
      const inside = bars !== null && bar.number >= bars[0] && bar.number <= bars[1];
      bar.measure.classList.toggle("verset-repeated", inside);
      bar.measure.classList.toggle("verset-repeat-first", inside && bar.number === bars[0]);
      bar.measure.classList.toggle("verset-repeat-last", inside && bar.number === bars[1]);
    }
  }

  /** @param {Set<string>} voices */
  silent(voices) {
    for (const [note, voice] of this.music.voiceOf) note.classList.toggle("verset-silent", voices.has(voice));
  }
}
