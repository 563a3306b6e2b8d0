// The reader's own setting: put notes in over the given line, be judged at once, hear it, keep it.

/**
 * Offer something as a file.
 * @param {string} title
 * @param {string} type
 * @param {BlobPart} content
 */
function offer(title, type, content) {
  const link = el("a", {
    href: URL.createObjectURL(new Blob([content], { type })),
    download: title,
  });
  link.click();
  setTimeout(() => URL.revokeObjectURL(link.href), 1000);
}

/**
 * A part of the page that opens.
 * @param {string} title
 * @param {Node[]} children
 */
function more(title, ...children) {
  return el("details", { class: "verset-more" }, el("summary", {}, title), ...children);
}

class Attempt {
  /**
   * @param {HTMLElement} root
   * @param {Player} player
   * @param {Tables} tables
   * @param {RuleWords} told
   */
  constructor(root, player, tables, told) {
    /** @type {Exercise} */
    this.exercise = JSON.parse(root.querySelector("script")?.textContent ?? "");
    this.player = player;
    this.tables = tables;
    this.rulings = new Rulings(tables, this.exercise);
    this.told = told;
    this.words = player.words.try;
    const kept = readWork(this.exercise, memory.get(`work.${this.exercise.key}`, null));
    this.pen = new Pen(this.exercise, kept ?? emptyWork(this.exercise), {
      changed: () => this.changed(),
      moved: () => this.draw(),
      wrote: () => this.sound(),
    });
    this.compare = false;
    this.undo = button(this.words.undo, () => this.pen.undo(), {
      disabled: true,
    });
    this.redo = button(this.words.redo, () => this.pen.redo(), {
      disabled: true,
    });
    this.judged = el("div", { class: "verset-judged", "aria-live": "polite" });
    this.paper = new Paper(this.exercise, player, this.judged, {
      "aria-label": this.words.sheet,
      "aria-describedby": "verset-try-keys",
      keydown: (/** @type {KeyboardEvent} */ event) => this.press(event),
      pointerup: (/** @type {PointerEvent} */ event) => this.touch(event),
    });
    this.done = hintLine("");
    const asked = this.exercise.voices.filter((voice) => this.pen.firstOf(voice) >= 0);
    this.pickers = asked.map((voice) => ({
      voice,
      pick: button(player.voiceName(voice), () => this.pen.choose(voice)),
    }));
    this.keys = this.keyActs();
    this.taking = new Taking(this);
    /** @type {Map<number, Sound>} */
    this.held = new Map(); // by key of a MIDI keyboard, while a take is played
    this.listening = false;
    root.append(...this.parts());
    root.hidden = false;
    this.begin();
  }

  begin() {
    const { player, paper, exercise } = this;
    this.renew();
    this.draw();
    player.marks.onBar((bar) => {
      if (player.transport.going) paper.see(exercise.events.findIndex((event) => event.bar === bar));
    });
    // Asked for only once the reader is at work here; refused or absent, nothing changes.
    paper.element.addEventListener("focus", () => this.listenToInstruments(), {
      once: true,
    });
  }

  get work() {
    return this.pen.work;
  }

  // The parts of the page

  parts() {
    const { words } = this;
    const picks = this.pickers.map(({ pick }) => pick);
    const comparing = button(words.compare, () => {
      this.compare = !this.compare;
      comparing.setAttribute("aria-pressed", String(this.compare));
      this.draw();
    });
    comparing.setAttribute("aria-pressed", "false");
    return [
      el("h2", { id: "verset-try" }, words.title),
      el("p", { class: "verset-lead" }, words.lead),
      row(el("span", { class: "verset-choice", role: "group", "aria-label": words.voices }, ...picks)),
      el("div", {}, this.paper.element, this.tools()), // so that the tools stay only while the paper is in sight
      row(
        button(words.hear, () => this.hear("mine"), {
          class: "verset-button verset-go",
        }),
        button(words.hearOurs, () => this.hear("plain")),
        comparing,
      ),
      this.done,
      this.taking.element,
      more(words.files, this.files()),
      more(this.player.words.keys, el("p", { class: "verset-hint", id: "verset-try-keys" }, words.keys)),
    ];
  }

  tools() {
    const { words, pen } = this;
    return el(
      "div",
      { class: "verset-tools", role: "group", "aria-label": words.tools },
      button(words.graceBack, () => pen.go(-1)),
      button(words.graceOn, () => pen.go(1)),
      button(words.higher, () => pen.shift(1)),
      button(words.lower, () => pen.shift(-1)),
      button(words.sharpen, () => pen.alter(1)),
      button(words.flatten, () => pen.alter(-1)),
      button(words.divide, () => pen.divideHere()),
      button(words.erase, () => pen.put(null)),
      this.undo,
      this.redo,
      button(words.hint, () => this.hint()),
    );
  }

  files() {
    const { words, exercise } = this;
    const name = exercise.key.replaceAll("/", "-");
    /** @type {HTMLInputElement} */
    const file = el("input", {
      type: "file",
      accept: ".json,application/json",
      class: "verset-said",
      tabindex: -1,
      "aria-label": words.open,
      change: () => this.open(file),
    });
    const save = () => {
      const { marks } = this.player.pencil;
      const { key } = exercise;
      offer(`${name}.json`, "application/json", JSON.stringify({ key, work: this.work, pencil: marks }));
    };
    const score = () => offer(`${name}.musicxml`, "application/vnd.recordare.musicxml+xml", this.musicxml());
    return row(
      button(words.save, save),
      button(words.open, () => file.click()),
      button(words.musicxml, score),
      button(words.print, () => print()),
      button(words.clear, () => this.clear()),
      file,
    );
  }

  /** @param {HTMLInputElement} file */
  async open(file) {
    let work = null;
    let marks = null;
    try {
      const found = JSON.parse((await file.files?.[0].text()) ?? "");
      work = readWork(this.exercise, found);
      marks = found.pencil;
    } catch {
      work = null; // not a file of ours; said below
    }
    file.value = "";
    if (work && marks) this.player.pencil.read(marks);
    if (work) this.pen.replace(work);
    else this.judged.replaceChildren(el("p", {}, this.words.notOurs));
  }

  clear() {
    if (confirm(this.words.clearAsk)) this.pen.replace(emptyWork(this.exercise));
  }

  /** Show what may stand here; asked once more, put the best of it in. */
  hint() {
    const { pen, words } = this;
    if (!pen.entered()) return;
    if (pen.hints.length) {
      pen.put(pen.bestHint());
      return;
    }
    pen.second = false;
    pen.hints = legalTones(this.tables, this.exercise, pen.work, pen.n, pen.voice);
    this.draw();
    const notes = [...new Set(pen.hints.map(({ pitch }) => this.noteName(pitch)))].join(", ");
    this.judged.prepend(el("p", {}, notes ? say(words.hinted, { notes }) : words.noneFits));
  }

  // Sound

  sound() {
    const { organ, voices } = this.player;
    const { n, second, work } = this.pen;
    const at = organ.context.currentTime + 0.02;
    organ.context.resume();
    for (const [voice, pitch] of tonesAt(this.exercise, work, n, second ? lateToneAt : toneAt)) {
      const hertz = this.exercise.hertz[pitch.join()];
      if (hertz) organ.note(at, at + 0.9, hertz, voices.indexOf(voice));
    }
  }

  /**
   * Sound the line alone at a sonority.
   * @param {number} n
   */
  soundLine(n) {
    const { organ, voices } = this.player;
    const { bass, voice } = this.exercise.events[n];
    const at = organ.context.currentTime + 0.02;
    const hertz = this.exercise.hertz[bass.join()];
    organ.context.resume();
    if (hertz) organ.note(at, at + 1.2, hertz, voices.indexOf(voice));
  }

  /** Give the player the work as a version of its own. */
  renew() {
    const { timeline, transport, voices } = this.player;
    timeline.versions.mine = readVersion(workToPlay(this.exercise, this.work, voices));
    if (transport.settings.version === "mine") transport.renew();
  }

  /** @param {"mine" | "plain"} version */
  hear(version) {
    if (version === "mine") this.renew();
    this.player.setVersion(version);
    if (!this.player.transport.going) this.player.toggle();
  }

  // Input

  /** @param {PointerEvent} event */
  touch(event) {
    const { pen } = this;
    const place = this.paper.placeOf(event);
    if (!place) return;
    pen.n = place.at;
    pen.second = place.late && Boolean(secondTone(pen.work, pen.n, pen.voice));
    if (pen.entered() && place.step >= LOWEST && place.step <= HIGHEST) pen.putStep(place.step);
    else this.draw();
  }

  /**
   * What each key does on the paper.
   * @returns {Record<string, () => void>}
   */
  keyActs() {
    const { pen } = this;
    return {
      ArrowLeft: () => pen.go(-1),
      ArrowRight: () => pen.go(1),
      ArrowUp: () => pen.shift(1),
      ArrowDown: () => pen.shift(-1),
      PageUp: () => pen.chooseNext(-1),
      PageDown: () => pen.chooseNext(1),
      "+": () => pen.alter(1),
      "#": () => pen.alter(1),
      "/": () => pen.divideHere(),
      "-": () => pen.alter(-1),
      Delete: () => pen.put(null),
      Backspace: () => pen.put(null),
      "?": () => this.hint(),
      Enter: () => this.sound(),
      " ": () => this.hear("mine"),
      ...Object.fromEntries([..."cdefgab"].map((key, letter) => [key, () => pen.putLetter(letter)])),
    };
  }

  /** @param {KeyboardEvent} event */
  press(event) {
    const key = event.key.length === 1 ? event.key.toLowerCase() : event.key;
    if ((event.ctrlKey || event.metaKey) && key === "z") {
      event.preventDefault();
      if (event.shiftKey) this.pen.redo();
      else this.pen.undo();
      return;
    }
    if (event.altKey || event.ctrlKey || event.metaKey || !this.keys[key]) return;
    event.preventDefault();
    event.stopPropagation();
    this.keys[key]();
  }

  listenToInstruments() {
    if (this.listening) return;
    this.listening = true;
    listenToMidi({
      down: (key) => this.played(key),
      up: (key) => this.unplayed(key),
      told: (state, names) => {
        if (state === "refused") this.listening = false; // leave may still be given
        this.taking.midi.textContent = say(this.player.words.midi[state], { names });
      },
    });
  }

  /**
   * A key of a MIDI keyboard goes down.
   * @param {number} key
   */
  played(key) {
    if (!this.taking.mode) {
      this.take(key);
      return;
    }
    const { organ, play } = this.player;
    const hertz = play.keys[key - LOWEST_MIDI];
    const now = organ.context.currentTime;
    if (hertz && !this.held.has(key)) this.held.set(key, organ.note(now + 0.005, now + 30, hertz));
    this.taking.press(key, false);
  }

  /**
   * A key of a MIDI keyboard comes up.
   * @param {number} key
   */
  unplayed(key) {
    this.held.get(key)?.end(this.player.organ.context.currentTime);
    this.held.delete(key);
    if (this.taking.mode) this.taking.release(key);
  }

  /**
   * A key on the screen is let go.
   * @param {number} key
   */
  let(key) {
    if (this.taking.mode) this.taking.let(key);
  }

  /**
   * Put in the note of a key (MIDI number), while the reader is at work here; a take is played anywhere.
   * @param {number} key
   */
  take(key) {
    if (this.taking.mode) this.taking.press(key, true);
    else if (this.paper.element.contains(document.activeElement)) this.pen.putKey(key);
  }

  // Showing

  /** Keep the work in the browser's store, and show it. */
  changed() {
    const { changes, work } = this.pen;
    this.undo.disabled = !changes.past.length;
    this.redo.disabled = !changes.future.length;
    memory.set(`work.${this.exercise.key}`, { key: this.exercise.key, work });
    this.renew();
    this.draw();
  }

  draw() {
    const { exercise, rulings, words, pen, compare } = this;
    const { work, n, voice, second, hints } = pen;
    const states = exercise.events.map((_, at) => rulings.standing(work, at));
    this.paper.draw({ work, n, voice, second, compare, hints, states });
    for (const each of this.pickers) each.pick.setAttribute("aria-pressed", String(each.voice === voice));
    this.judged.replaceChildren(...placeLines(this.player, pen, rulings, this.told));
    const asked = states.filter((_, at) => exercise.events[at].upper.length);
    const right = asked.filter((state) => state === "good" || state === "warning").length;
    const all = asked.length;
    this.done.textContent = say(right === all ? words.finished : words.progress, { right, all });
  }

  // For the rest of the page, and for tests

  /** @param {Pitch} pitch */
  noteName(pitch) {
    return noteName(this.player.words, pitch);
  }

  /**
   * Show a work in place of the reader's, which is kept as one change.
   * @param {Work} work
   */
  show(work) {
    this.pen.replace(work);
  }

  /**
   * @param {number} at
   * @param {string} voice
   * @param {number} step
   */
  pointOf(at, voice, step) {
    return this.paper.pointOf(at, voice, step);
  }

  /**
   * @param {Work} work
   * @param {number} at
   */
  verdicts(work, at) {
    return verdicts(this.tables, this.exercise, work, at);
  }

  /** @param {number} at */
  judge(at, work = this.work) {
    return this.rulings.judge(work, at);
  }

  musicxml() {
    return workToMusicXML(this.exercise, this.work, (voice) => this.player.voiceName(voice));
  }
}
