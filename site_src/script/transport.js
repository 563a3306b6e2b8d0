// Going and stopping. The clock of the sound is the only clock: notes are planned on it a little ahead, and
// what the page marks is read from it, so that eye and ear cannot drift apart.

const AHEAD = 0.3; // seconds planned ahead while the page is seen
const AHEAD_HIDDEN = 2.5; // timers of hidden pages run about once a second
const LEAD = 0.08; // from the touch to the first sound
const PATIENCE = 1500; // milliseconds that recorded pipes are waited for
const BRIEFEST = 0.03; // of what is left of a note, worth a sound

/**
 * A transport over a timeline. `organ()` gives the sounding side (made at the first go).
 * `span` is the stretch of the verset on this page, in seconds.
 */
class Transport {
  /**
   * @param {Timeline} timeline
   * @param {() => Organ} organ
   * @param {Span} span
   */
  constructor(timeline, organ, span) {
    this.timeline = timeline;
    this.organ = organ;
    this.span = span;
    /** @type {Record<string, Recording>} */
    this.recordings = {};
    const version = Object.keys(timeline.versions)[0];
    /** @type {Settings} */
    this.settings = {
      version,
      rate: 1,
      repeat: null,
      countIn: false,
      click: false,
    };
    this.going = false;
    this.resting = span.start; // position while stopped
    /** @type {Stretch[]} */
    this.course = [];
    /** @type {Planned[]} */
    this.planned = [];
    this.cursor = 0; // next note to plan
    this.knocked = 0; // next beat to plan
    this.counted = 0; // when, on the clock, the count before the music is over; 0 without one
    /** @type {ReturnType<typeof setInterval> | undefined} */
    this.timer = undefined;
    /** @type {(() => void)[]} */
    this.listeners = [];
    document.addEventListener("visibilitychange", () => this.going && this.look());
  }

  /** @param {() => void} listener */
  listen(listener) {
    this.listeners.push(listener);
  }

  tell() {
    for (const listener of this.listeners) listener();
  }

  /** The recording that was chosen, whose clock counts then instead of the organ's. */
  get recorded() {
    return this.recordings[this.settings.version] ?? null;
  }

  // Where we are

  /** Where the music begins, or the bars to repeat. */
  get low() {
    const { repeat } = this.settings;
    return repeat ? Math.max(this.timeline.barStart(repeat[0]), this.span.start) : this.span.start;
  }

  get high() {
    const { repeat } = this.settings;
    return repeat ? Math.min(this.timeline.barEnd(repeat[1]), this.span.end) : this.span.end;
  }

  /**
   * Time of the clock at which a position of a stretch sounds.
   * @param {Stretch} stretch
   */
  clockOf(stretch, position = stretch.to) {
    return stretch.at + (position - stretch.from) / this.settings.rate;
  }

  /**
   * Position at a time of the clock.
   * @param {number} time
   */
  positionAt(time) {
    if (!this.course.length) return this.resting;
    const stretch = this.course.findLast(({ at }) => at <= time) ?? this.course[0];
    return clamp(stretch.from + (time - stretch.at) * this.settings.rate, stretch.from, stretch.to);
  }

  /** Position at the ear now, or a little later. */
  position(lead = 0) {
    if (!this.going) return this.resting;
    if (this.recorded) return this.within(this.recorded.position + lead * this.settings.rate);
    return this.positionAt(this.organ().heard() + lead);
  }

  /** Position at the clock now, from which on the plan may change. */
  get planning() {
    if (!this.going || this.recorded) return this.position();
    return this.positionAt(this.organ().context.currentTime);
  }

  /** @param {number} position */
  within(position) {
    return clamp(position, this.span.start, this.span.end);
  }

  /** Whether a bar is being counted in, at the ear. */
  get counting() {
    return this.going && this.counted > 0 && this.organ().heard() < this.counted;
  }

  get notes() {
    return this.timeline.versions[this.recorded?.of ?? this.settings.version].notes;
  }

  // Planning

  /**
   * @param {Note} note
   * @param {Stretch} stretch
   * @param {number} from
   */
  plan(note, stretch, from) {
    const until = Math.min(note.end, stretch.to);
    if (until - from < BRIEFEST) return;
    const [begin, end] = [from, until].map((position) => this.clockOf(stretch, position));
    this.planned.push({
      note,
      sound: this.organ().note(begin, end, note.hertz, note.voice),
    });
  }

  /**
   * Begin a stretch: notes that already sound at its start are taken up there, unless they are held.
   * @param {number} at
   * @param {number} from
   * @param {number} to
   * @param {Note[]} held
   */
  open(at, from, to, held = []) {
    const stretch = { at, from, to };
    const { notes } = this;
    const { beats } = this.timeline;
    this.course.push(stretch);
    this.cursor = notes.findIndex((note) => note.start >= from - EARLY);
    if (this.cursor < 0) this.cursor = notes.length;
    for (const note of notes.slice(0, this.cursor)) {
      if (note.end > from && !held.includes(note)) this.plan(note, stretch, from);
    }
    this.knocked = beats.findIndex((beat) => beat >= from - EARLY);
    if (this.knocked < 0) this.knocked = beats.length;
  }

  /** Plan everything that begins before the horizon. */
  look() {
    if (this.recorded) {
      this.lookAt(this.recorded);
      return;
    }
    const time = this.organ().context.currentTime;
    const horizon = time + (document.hidden ? AHEAD_HIDDEN : AHEAD);
    this.planned = this.planned.filter(({ sound }) => sound.over > time);
    for (;;) {
      const stretch = this.course[this.course.length - 1];
      this.planNotes(stretch, horizon);
      this.planBeats(stretch, horizon);
      if (!this.settings.repeat || this.clockOf(stretch) > horizon) break;
      this.open(this.clockOf(stretch), this.low, this.high);
    }
    while (this.course.length > 1 && this.course[1].at < time - 1) this.course.shift();
    const last = this.course[this.course.length - 1];
    if (!this.settings.repeat && time > this.clockOf(last) + 0.4) this.finish();
  }

  /**
   * At the end of the bars to repeat, or of the page, a recording goes back or stops.
   * @param {Recording} recorded
   */
  lookAt(recorded) {
    if (recorded.position < this.high && !recorded.ended) return;
    if (this.settings.repeat) recorded.play(this.low, this.settings.rate);
    else this.finish();
  }

  /**
   * @param {Stretch} stretch
   * @param {number} horizon
   */
  planNotes(stretch, horizon) {
    for (const { notes } = this; this.cursor < notes.length; this.cursor++) {
      const note = notes[this.cursor];
      if (note.start >= stretch.to - EARLY || this.clockOf(stretch, note.start) > horizon) return;
      this.plan(note, stretch, note.start);
    }
  }

  /**
   * @param {Stretch} stretch
   * @param {number} horizon
   */
  planBeats(stretch, horizon) {
    for (const { beats } = this.timeline; this.knocked < beats.length; this.knocked++) {
      const beat = beats[this.knocked];
      const at = this.clockOf(stretch, beat);
      if (beat >= stretch.to - EARLY || at > horizon) return;
      if (this.settings.click) this.knock(at, this.timeline.isBarStart(beat));
    }
  }

  /**
   * @param {number} at
   * @param {boolean} first
   */
  knock(at, first) {
    this.planned.push({ note: null, sound: this.organ().knock(at, first) });
  }

  /**
   * Plan anew from now on, at a position; sounding notes of the same version are held where they still fit.
   * @param {number} position
   */
  replan(position, holding = false) {
    if (this.recorded) {
      this.recorded.move(position, this.settings.rate);
      return;
    }
    const time = this.organ().context.currentTime;
    const begins = this.course[0]?.at ?? 0;
    const at = Math.max(time + 0.005, begins > time ? begins : 0);
    const to = position < this.high - EARLY ? this.high : this.span.end;
    /** @type {Note[]} */
    const held = [];
    for (const { sound, note } of this.planned) {
      if (sound.when > time) sound.kill();
      else if (holding && note && sound.until > time && this.notes.includes(note)) {
        const until = Math.min(note.end, to);
        if (until <= position) continue;
        held.push(note);
        sound.end(at + (until - position) / this.settings.rate);
      } else sound.end(time, HUSH);
    }
    this.planned = this.planned.filter(({ sound }) => sound.over > time);
    this.course = [];
    this.open(at, position, to, held);
    this.look();
  }

  finish() {
    this.resting = this.low;
    this.halt();
  }

  halt() {
    this.going = false;
    clearInterval(this.timer);
    if (this.recorded) this.recorded.stop();
    else this.hush();
    this.tell();
  }

  /** End what sounds, and forget what was planned. */
  hush() {
    const time = this.organ().context.currentTime;
    for (const { sound } of this.planned) {
      if (sound.when > time) sound.kill();
      else sound.end(time, HUSH);
    }
    this.planned = [];
    this.course = [];
  }

  // What the reader asks for

  async go() {
    if (this.going) return;
    if (this.resting < this.low - EARLY || this.resting >= this.high - 0.02) this.resting = this.low;
    if (this.recorded) await this.goWith(this.recorded);
    else await this.goOnOrgan();
  }

  /** @param {Recording} recorded */
  async goWith(recorded) {
    this.counted = 0;
    await recorded.play(this.resting, this.settings.rate);
    this.going = true;
    this.timer = setInterval(() => this.look(), 40);
    this.tell();
  }

  async goOnOrgan() {
    const { context, ready } = this.organ();
    this.going = true;
    await context.resume();
    await Promise.race([ready, new Promise((done) => setTimeout(done, PATIENCE))]);
    let at = context.currentTime + LEAD;
    this.counted = 0;
    if (this.settings.countIn) {
      const { count, length } = this.timeline.counting(this.resting);
      const each = length / this.settings.rate;
      for (let n = 0; n < count; n++) this.knock(at + n * each, n === 0);
      at += count * each;
      this.counted = at;
    }
    this.course = [];
    this.open(at, this.resting, this.high);
    this.look();
    this.timer = setInterval(() => this.look(), 40);
    this.tell();
  }

  stop() {
    if (!this.going) return;
    this.resting = this.position();
    this.halt();
  }

  /** @param {number} position */
  seek(position) {
    const target = clamp(position, this.span.start, Math.max(this.span.start, this.span.end - 0.01));
    if (target < this.low - EARLY || target >= this.high - EARLY) this.settings.repeat = null;
    if (this.going) this.replan(target);
    else this.resting = target;
    this.tell();
  }

  /** @param {number} rate */
  setRate(rate) {
    const position = this.planning;
    this.settings.rate = clamp(rate, 0.3, 1.5);
    if (this.going) this.replan(position, true);
    this.tell();
  }

  /** @param {string} version */
  setVersion(version) {
    const known = version in this.timeline.versions || version in this.recordings;
    if (!known || version === this.settings.version) return;
    if (this.recorded || version in this.recordings) {
      this.exchange(version);
      return;
    }
    const position = this.planning;
    this.settings.version = version;
    if (this.going) this.replan(position);
    this.tell();
  }

  /**
   * From the organ to a recording, or from one to another: the clock changes too.
   * @param {string} version
   */
  exchange(version) {
    const { going } = this;
    this.stop();
    this.settings.version = version;
    this.tell();
    if (going) this.go();
  }

  /** The notes of the version that sounds have changed. */
  renew() {
    if (this.going) this.replan(this.planning);
  }

  /**
   * Repeat from one bar to another; null for no repeat.
   * @param {BarsToRepeat | null} bars
   */
  setRepeat(bars) {
    const position = this.planning;
    this.settings.repeat = bars && [Math.min(...bars), Math.max(...bars)];
    const inside = position >= this.low - EARLY && position < this.high - EARLY;
    if (this.going) this.replan(inside ? position : this.low, inside);
    else if (!inside) this.resting = this.low;
    this.tell();
  }

  /**
   * @param {boolean} countIn
   * @param {boolean} click
   */
  setBeat(countIn, click) {
    Object.assign(this.settings, { countIn, click });
    this.tell();
  }
}
