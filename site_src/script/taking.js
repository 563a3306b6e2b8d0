// The student plays the missing voices: to the sounding line, or in free time while the page waits at each sonority.
// Every take is kept, heard again, and goes into files.

const KEPT_TAKES = 8;
const MOST_NOTES = 3000;
const LISTENS = 4; // milliseconds after a key, in which others of its chord come along
const REHEARSED = 8; // sonorities that are read before a take, so that the first bars are read as fast as the rest
const SETTLES = 110; // milliseconds without a new key, after which a chord is whole

/**
 * Whether something that was kept is a key that was played.
 * @param {PlayedKey} note
 */
function isPlayed({ key, on, off }) {
  return [key, on, off].every(Number.isFinite) && key >= 0 && key < 128 && off > on;
}

/**
 * A take that was kept; null where it is none.
 * @param {unknown} kept
 * @param {Exercise} exercise
 * @returns {Take | null}
 */
function readTake(kept, exercise) {
  const take = /** @type {Partial<Take> | null} */ (kept);
  if (!take || typeof take.at !== "string" || !Array.isArray(take.notes)) return null;
  const notes = take.notes.slice(0, MOST_NOTES);
  const work = readWork(exercise, { key: exercise.key, work: take.work });
  if (!notes.length || !notes.every(isPlayed) || !work) return null;
  const voice = exercise.voices.find((each) => each === take.voice);
  const mode = take.mode === "graces" && voice ? "graces" : take.mode === "free" ? "free" : "line";
  return { at: take.at, mode, voice, notes, work };
}

class Taking {
  /** @param {Attempt} attempt */
  constructor(attempt) {
    this.attempt = attempt;
    this.player = attempt.player;
    this.exercise = attempt.exercise;
    this.words = attempt.player.words.take;
    /** @type {"" | Take["mode"]} */
    this.mode = "";
    /** @type {Skeletal | null} */
    this.skeletal = null; // what is played in small notes
    /** @type {PlayedKey[]} */
    this.notes = [];
    /** @type {Map<number, PlayedKey>} */
    this.down = new Map();
    this.touching = new Set(/** @type {number[]} */ ([])); // keys on the screen that stand for held ones
    this.fresh = false; // whether a key was struck since the last sonority
    this.began = 0;
    this.at = -1; // the sonority that the page waits at
    this.started = false;
    /** @type {ReturnType<typeof setTimeout> | undefined} */
    this.timer = undefined;
    /** @type {TakeReading | null} */
    this.reading = null; // of a take to the line, as it goes on
    this.told = 0; // the last bar of which it was said how it stands
    /** @type {Take[]} */
    this.takes = this.kept();
    this.said = el("p", { class: "verset-hint", "aria-live": "polite" });
    this.midi = el("p", { class: "verset-hint", "aria-live": "polite" });
    this.list = el("ul", { class: "verset-takes" });
    this.toLine = button(this.words.toLine, () => this.begin("line"));
    this.free = button(this.words.free, () => this.begin("free"));
    this.graces = button(this.words.graces, () => this.begin("graces"));
    this.stop = button(this.words.stop, () => this.end(), { hidden: true });
    this.faults = el("ul", { class: "verset-grace-faults" });
    this.element = el(
      "section",
      { class: "verset-taking", "aria-labelledby": "verset-take" },
      el("h3", { id: "verset-take" }, this.words.title),
      el("p", { class: "verset-hint" }, this.words.lead),
      row(this.toLine, this.free, this.graces, this.stop),
      this.midi,
      this.said,
      this.faults,
      this.list,
    );
    this.player.transport.listen(() => this.heard());
    this.show();
  }

  kept() {
    const found = memory.get(`takes.${this.exercise.key}`, /** @type {unknown[]} */ ([]));
    return (Array.isArray(found) ? found : []).flatMap((each) => readTake(each, this.exercise) ?? []);
  }

  /** Where the player is, or in free time the seconds since the beginning. */
  get now() {
    if (this.mode !== "free") return this.player.transport.position();
    return (performance.now() - this.began) / 1000;
  }

  /** @param {Take["mode"]} mode */
  begin(mode) {
    const { player, attempt } = this;
    this.end();
    this.mode = mode;
    this.started = false;
    this.notes = [];
    this.down.clear();
    this.touching.clear();
    this.began = performance.now();
    player.setReading("keyboard", true);
    attempt.listenToInstruments();
    this.stop.hidden = false;
    this.faults.replaceChildren();
    if (mode === "graces") {
      this.beginGraces();
      return;
    }
    if (mode === "free") {
      attempt.pen.replace(emptyWork(this.exercise));
      this.at = -1;
      this.onward();
      return;
    }
    this.said.textContent = this.words.playing;
    this.readLine();
    this.sound("given");
  }

  /** From the start, in a version. @param {string} version */
  sound(version) {
    const { player } = this;
    player.setVersion(version);
    player.setRepeat(null);
    player.again();
    if (!player.transport.going) player.toggle();
  }

  /** The voice at the pen is played in small notes, over the reader's own plain setting where it is whole, else ours. */
  beginGraces() {
    const { attempt, exercise, player } = this;
    const own = exercise.events.every(
      (event, n) => !event.upper.length || isWhole(exercise, attempt.work, n),
    );
    const { voice } = attempt.pen;
    this.skeletal = { voice, work: own ? structuredClone(attempt.work) : exercise.ours };
    this.said.textContent = say(this.words.gracesPlaying, { voice: player.voiceName(voice) });
    if (own) attempt.renew();
    player.setVoice(voice, false);
    this.sound(own ? "mine" : "plain");
  }

  readLine() {
    const { player } = this;
    const { rate } = player.transport.settings;
    this.rehearse();
    this.reading = this.newReading(rate);
    this.told = 0;
  }

  /** @param {number} rate */
  newReading(rate) {
    return new TakeReading(this.exercise, this.attempt.rulings, rate);
  }

  /** Read the beginning of our own setting, as if it were played. */
  rehearse() {
    const { events, ours } = this.exercise;
    const reading = this.newReading(1);
    /** @type {PlayedKey[]} */
    const notes = [];
    for (const [n, { start, end, upper }] of events.entries()) {
      if (notes.length > 3 * REHEARSED) return;
      for (const voice of upper) {
        const pitch = ours[voice][n];
        if (pitch) notes.push({ key: midiOf(pitch), on: start, off: end + ROLL / 4 });
      }
      if (notes.length) reading.hear(notes, start);
    }
  }

  /** The line has come to its end, or was stopped. */
  heard() {
    if (this.mode !== "line" && this.mode !== "graces") return;
    if (this.player.transport.going) this.started = true;
    else if (this.started) this.end();
  }

  // What is played

  /**
   * A key goes down: on the screen (`touched`) it stays until it is touched again, or the sonority is whole.
   * @param {number} key
   * @param {boolean} touched
   */
  press(key, touched) {
    if (!this.mode || this.player.transport.counting) return;
    if (touched && this.mode === "free" && this.touching.has(key)) {
      this.touching.delete(key);
      this.release(key);
      this.look();
      return;
    }
    if (touched) this.touching.add(key);
    if (this.down.has(key)) this.release(key);
    const note = { key, on: this.now, off: Infinity };
    this.down.set(key, note);
    this.notes.push(note);
    this.fresh = true;
    this.look();
  }

  /** @param {number} key */
  release(key) {
    const note = this.down.get(key);
    if (!note) return;
    note.off = Math.max(this.now, note.on + 0.03);
    this.down.delete(key);
  }

  /**
   * A key on the screen is let go.
   * @param {number} key
   */
  let(key) {
    if (this.mode !== "free") this.release(key);
  }

  /**
   * To the line: read what has been played, soon. In free time: once no key has come for a moment, look whether the
   * sonority is whole.
   */
  look() {
    if (this.mode === "line") {
      this.timer ??= setTimeout(() => this.follow(), LISTENS);
      return;
    }
    if (this.mode === "graces") return;
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.settle(), SETTLES);
  }

  /** The take so far on the paper, with how each sonority stands, and of each bar that is over in words. */
  follow() {
    this.timer = undefined;
    const { reading, attempt, exercise } = this;
    if (this.mode !== "line" || !reading) return;
    const { work, reached } = reading.hear(this.notes, this.now);
    if (reached < 0) return;
    attempt.pen.n = reached;
    attempt.pen.show(work);
    const bar = exercise.events[reached].bar;
    const over = exercise.bars.findLast(([number]) => number < bar)?.[0] ?? 0;
    if (over > this.told) this.said.textContent = this.barSaid(over, work);
    this.told = over;
  }

  /**
   * How a bar stands, in words.
   * @param {number} bar
   * @param {Work} work
   */
  barSaid(bar, work) {
    const { exercise, attempt, words } = this;
    const faults = exercise.events.flatMap((event, n) =>
      event.bar === bar && event.upper.length
        ? attempt.rulings.judge(work, n).filter(({ severity }) => severity === "error")
        : [],
    );
    const rules = [...new Set(faults.map(({ rule }) => attempt.told[rule][0]))].join(", ");
    return say(rules ? words.barFaults : words.barRight, { bar, rules });
  }

  settle() {
    const { exercise, attempt } = this;
    const { rulings } = attempt;
    if (this.mode !== "free" || !exercise.events[this.at] || !this.fresh) return;
    const count = openVoices(exercise, this.at).length;
    const ways = voiceKeys(exercise, this.at, [...this.down.values()]).filter(
      ({ keys }) => keys.length === count,
    );
    const works = ways.map(({ keys }) => {
      const pitches = spelledKeys(exercise, this.at, keys);
      return shareOut(exercise, attempt.work, this.at, pitches, rulings);
    });
    const [work] = works
      .filter((each) => each !== null)
      .sort((a, b) => rulings.faults(a, this.at) - rulings.faults(b, this.at));
    if (!work) return;
    attempt.pen.replace(work);
    for (const key of this.touching) this.release(key);
    this.touching.clear();
    this.onward();
  }

  /** To the next sonority that has voices to play. */
  onward() {
    const { events } = this.exercise;
    const { pen } = this.attempt;
    this.fresh = false;
    this.at = events.findIndex((_, n) => n > this.at && openVoices(this.exercise, n).length);
    if (this.at < 0) {
      this.end();
      return;
    }
    pen.n = this.at;
    if (!pen.entered()) pen.voice = openVoices(this.exercise, this.at)[0];
    pen.moved();
    this.attempt.paper.see(this.at);
    this.said.textContent = say(this.words.waiting, { where: events[this.at].where });
    this.attempt.soundLine(this.at);
  }

  // Takes

  /** The end of a take: what was played is laid over the line, judged, kept and shown. */
  end() {
    const { mode, player, attempt, skeletal } = this;
    if (!mode) return;
    clearTimeout(this.timer);
    this.timer = undefined;
    for (const key of this.down.keys()) this.release(key);
    this.mode = "";
    this.stop.hidden = true;
    if (player.transport.going) player.toggle();
    if (skeletal) player.setVoice(skeletal.voice, true);
    this.skeletal = null;
    if (!this.notes.length) {
      this.said.textContent = this.words.nothing;
      return;
    }
    const notes = this.notes.map(({ key, on, off }) => ({ key, on: rounded(on), off: rounded(off) }));
    if (skeletal) {
      this.keep({ mode, notes, ...skeletal });
      this.showGraces(this.gracedOf(skeletal, notes));
      return;
    }
    const found = mode === "line" ? this.read(notes) : null;
    const work = found?.work ?? attempt.work;
    this.keep({ mode, notes, work });
    if (found) attempt.pen.replace(work);
    this.said.textContent = this.summary(work, found?.late ?? []);
  }

  /** @param {Omit<Take, "at">} take */
  keep(take) {
    this.takes = [{ at: new Date().toISOString(), ...take }, ...this.takes].slice(0, KEPT_TAKES);
    memory.set(`takes.${this.exercise.key}`, this.takes);
    this.show();
  }

  /**
   * @param {Skeletal} skeletal
   * @param {PlayedKey[]} notes
   */
  gracedOf({ work, voice }, notes) {
    return new Graced(this.attempt.tables, this.exercise, work, voice, notes);
  }

  /**
   * How a voice in small notes stands: in words, and each fault with its place.
   * @param {Graced} graced
   */
  showGraces(graced) {
    const { words, exercise, attempt } = this;
    const { events } = exercise;
    const small = graced.judged();
    const faults = small
      .filter(({ rules }) => rules.length)
      .map(({ n, pitch, rules }) => {
        const told = [...new Set(rules)].map((rule) => attempt.told[rule][0]).join(", ");
        return say(words.gracesFault, { where: events[n].where, note: attempt.noteName(pitch), rules: told });
      });
    const lost = graced.lost().map((n) => {
      const pitch = graced.work[graced.voice][n] ?? events[n].bass;
      return say(words.gracesLost, { where: events[n].where, note: attempt.noteName(pitch) });
    });
    this.said.textContent = this.gracedSummary(graced);
    this.faults.replaceChildren(...[...faults, ...lost].map((text) => el("li", { class: "is-error" }, text)));
  }

  /** @param {Graced} graced */
  gracedSummary(graced) {
    const small = graced.judged().filter(({ kind }) => kind !== "plain");
    /** @param {GraceKind} kind */
    const count = (kind) => small.filter((note) => note.kind === kind && !note.rules.length).length;
    return say(this.words.gracesVerdict, {
      right: small.filter(({ rules }) => !rules.length).length,
      all: small.length,
      kept: graced.plain.length - graced.lost().length,
      plain: graced.plain.length,
      passing: count("passing"),
      neighbours: count("neighbour"),
      anticipations: count("anticipation"),
      others: count("belongs") + count("clash"),
    });
  }

  /**
   * What was played to the line, as a setting.
   * @param {PlayedKey[]} notes
   */
  read(notes) {
    const rate = this.reading?.rate ?? 1;
    return settingOf(this.exercise, notes, this.attempt.rulings, rate);
  }

  /**
   * How a take stands, in words.
   * @param {Work} work
   * @param {(number | null)[]} late
   */
  summary(work, late) {
    const { exercise, attempt, words } = this;
    const states = exercise.events.map((event, n) =>
      event.upper.length ? attempt.rulings.standing(work, n) : null,
    );
    const asked = states.filter((state) => state !== null);
    const right = asked.filter((state) => state === "good" || state === "warning").length;
    const off = exercise.events.filter((_, n) => Math.abs(late[n] ?? 0) > 0.18).map(({ where }) => where);
    const told = say(words.verdict, { right, all: asked.length });
    return off.length ? `${told} ${say(words.outOfTime, { places: off.slice(0, 4).join(", ") })}` : told;
  }

  show() {
    this.list.replaceChildren(...this.takes.map((take) => this.item(take)));
  }

  /** @param {Take} take */
  item(take) {
    const { words, exercise, player } = this;
    const when = new Date(take.at).toLocaleString(player.root.lang);
    const name = `${exercise.key.replaceAll("/", "-")}-${take.at.slice(0, 19).replaceAll(":", "")}`;
    const xml = () => workToMusicXML(exercise, take.work, (voice) => player.voiceName(voice));
    return el(
      "li",
      {},
      el("span", {}, `${when}: ${this.summaryOf(take)}`),
      row(
        button(words.hear, () => this.hear(take)),
        button(words.see, () => this.see(take)),
        button("MIDI", () => offer(`${name}.mid`, "audio/midi", midiFile(take.notes))),
        button("MusicXML", () => offer(`${name}.musicxml`, "application/vnd.recordare.musicxml+xml", xml())),
        button(words.send, () => offer(`${name}.json`, "application/json", this.sent(take))),
      ),
    );
  }

  /** @param {Take} take */
  summaryOf({ mode, voice, work, notes }) {
    if (mode === "graces" && voice) return this.gracedSummary(this.gracedOf({ work, voice }, notes));
    return this.summary(work, []);
  }

  /**
   * Show a take again.
   * @param {Take} take
   */
  see({ mode, voice, work, notes }) {
    if (mode === "graces" && voice) this.showGraces(this.gracedOf({ work, voice }, notes));
    else this.attempt.pen.replace(structuredClone(work));
  }

  /**
   * A take as it was played.
   * @param {Take} take
   */
  hear({ notes }) {
    const { organ, play } = this.player;
    organ.context.resume();
    const now = organ.context.currentTime + 0.08;
    const first = Math.min(...notes.map(({ on }) => on));
    for (const { key, on, off } of notes) {
      const hertz = play.keys[key - LOWEST_MIDI];
      if (hertz) organ.note(now + on - first, now + Math.min(off, on + 20) - first, hertz);
    }
  }

  /**
   * The file for the teacher: the work as any file of work, with what was played and what the rules say of it.
   * @param {Take} take
   */
  sent({ at, mode, voice, notes, work }) {
    const { exercise, attempt } = this;
    const verdict = exercise.events.flatMap((event, n) =>
      attempt.rulings.judge(work, n).map(({ rule, severity, voices }) => ({
        where: event.where,
        rule,
        severity,
        voices,
      })),
    );
    const pencil = attempt.player.pencil.marks;
    return JSON.stringify({ key: exercise.key, work, pencil, take: { at, mode, voice, notes }, verdict });
  }
}

const LOWEST_MIDI = 36; // of the keys in the play data

/** @param {number} seconds */
function rounded(seconds) {
  return Math.round(seconds * 1000) / 1000;
}
