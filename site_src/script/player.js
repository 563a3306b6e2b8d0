// The player of a page: joins timeline, sound, music and controls.

/** @type {Choices} */
const KEPT = {
  level: null,
  countIn: false,
  click: false,
  follow: true,
  figures: true,
  noteNames: false,
  modernClefs: false,
  allVersions: false,
  keyboard: false,
};

const TALLEST_STRIP = 0.3; // of the window's height: a taller one does not stay in sight

class Player {
  /**
   * @param {HTMLElement} root
   * @param {HTMLElement[]} figures
   */
  constructor(root, figures) {
    /** @type {PageData} */
    const page = JSON.parse(root.querySelector("script.verset-play")?.textContent ?? "");
    const { play, span, names } = page;
    this.root = root;
    this.figures = figures;
    this.play = play;
    this.words = /** @type {Words} */ (window.versetWords);
    this.names = names;
    this.timeline = new Timeline(play);
    this.music = new Music(figures);
    /** @type {Choices} */
    this.kept = { ...KEPT, ...memory.get("choices", {}) };
    this.key = [...document.querySelectorAll(".verset-player")].indexOf(root);
    const recordings = findRecordings(root, page.playing);
    this.versions = [...page.versions, ...Object.keys(recordings)];
    this.voices = play.voices;
    /** Voices that have a note on this page. */
    const played = Object.values(play.versions).flat();
    this.sounding = play.voices.filter((_, n) => played.some((note) => note[3] === n));
    /** @type {Set<string>} */
    this.silent = new Set();
    this.level = this.kept.level ?? Math.round(clamp(play.level ?? 0.4, 0, 1) * 20) * 5;
    this.barSpan = [this.timeline.bar(span.start), this.timeline.bar(span.end - 0.01)];
    this.hasFigures = figures.some((figure) => figure.querySelector(".harm, .fb"));
    this.hasNames = Object.keys(names).length > 0;
    this.hasModern = figures.some((figure) => figure.dataset.clefs === "modern");
    /** @type {(() => void)[]} */
    this.voiceListeners = [];
    /** @type {Organ | null} */
    this.madeOrgan = null;
    /** @type {Classroom | null} */
    this.room = null;
    /** @type {Attempt | undefined} */
    this.own = undefined;
    /** @type {Gracing | undefined} */
    this.gracing = undefined;
    this.transport = new Transport(this.timeline, () => this.organ, span);
    this.transport.recordings = recordings;
    this.marks = new Marks(this.music, this.timeline, this.transport);
    this.said = el("p", { class: "verset-said", "aria-live": "polite" });
    this.choice = new BarChoice(this);
    this.desk = new Desk(this);
    this.pencil = new Pencil(this.music, this.words);
    this.keyboard = new KeysOnScreen(keysOfPlayer(this), play.keys);
    this.strip = makeStrip(this);
    this.begin(page.first);
  }

  /** @param {string} first */
  begin(first) {
    const { root, figures, transport, kept } = this;
    root.append(this.strip, this.said);
    root.classList.add("is-awake");
    document.documentElement.classList.add("verset-has-strip");
    this.endKeys = listenToKeys(this, [root, ...figures]);
    transport.listen(() => this.marks.repeat(transport.settings.repeat));
    keepAwake(transport);
    transport.settings.version = this.versions.includes(first) ? first : this.versions[0];
    /** @type {NodeListOf<HTMLDetailsElement>} */
    const folded = root.querySelectorAll(".verset-recordings");
    for (const recordings of folded) {
      const picture = recordings.querySelector("video");
      // What the strip plays needs no controls of its own; a picture is looked at.
      recordings.hidden = recordings.matches(".verset-playing") && !picture;
      recordings.open = picture !== null;
      root.append(recordings);
    }
    this.hearRecordings();
    transport.setBeat(kept.countIn, kept.click);
    this.showReading();
    this.watch = new ResizeObserver(() => {
      this.lay();
      this.fit();
    });
    for (const each of [document.documentElement, ...figures]) this.watch.observe(each);
  }

  leave() {
    this.transport.stop();
    this.endKeys?.();
    this.desk.remove();
    this.pencil.remove();
    this.room?.remove();
    this.keyboard.remove();
    this.watch?.disconnect();
    this.madeOrgan?.context.close();
    document.documentElement.classList.remove("verset-has-strip");
  }

  /** What shows the page to a class, made when it is first wanted. */
  get classroom() {
    this.room ??= new Classroom(this);
    return this.room;
  }

  /** The sounding side, made when it is first wanted: a page may not sound before it is touched. */
  get organ() {
    if (!this.madeOrgan) {
      this.madeOrgan = new Organ(new AudioContext({ latencyHint: "interactive" }), this.play);
      this.madeOrgan.setLevel(this.level / 100);
      this.soundVoices();
    }
    return this.madeOrgan;
  }

  // Words

  /** @param {string} version */
  nameOf(version) {
    const { versionNames } = this.words;
    if (version === "mine" || version === "graced") return this.words.try[version];
    return this.transport.recordings[version]?.name ?? versionNames[version] ?? version;
  }

  /** @param {string} voice */
  voiceName(voice) {
    return this.words.voiceNames[voice] ?? voice;
  }

  /**
   * @param {ReaderWord} key
   * @param {Record<string, string | number>} values
   */
  say(key, values = {}) {
    this.said.textContent = say(this.words[key], values);
  }

  /** @param {Partial<Choices>} choices */
  keep(choices) {
    Object.assign(this.kept, choices);
    memory.set("choices", this.kept);
  }

  // Going

  async toggle() {
    if (this.transport.going) {
      this.transport.stop();
      this.say("stoppedSaid", { bar: this.marks.bar });
      return;
    }
    try {
      await this.transport.go();
    } catch {
      this.say("noSound");
    }
  }

  again() {
    this.transport.seek(this.transport.low);
  }

  /** @param {number} bar */
  toBar(bar) {
    const [low, high] = this.barSpan;
    this.transport.seek(Math.max(this.transport.span.start, this.timeline.barStart(clamp(bar, low, high))));
  }

  get speed() {
    return Math.round(this.transport.settings.rate * 100);
  }

  /** @param {number} percent */
  setSpeed(percent) {
    this.transport.setRate(percent / 100);
  }

  /** @param {number} step */
  pace(step) {
    this.setSpeed(clamp(this.speed + step, SPEEDS.low, SPEEDS.high));
    this.say("speedSaid", { n: this.speed });
  }

  /** @param {number} percent */
  setLevel(percent) {
    this.level = percent;
    this.hearRecordings();
    this.madeOrgan?.setLevel(percent / 100);
    this.keep({ level: percent });
  }

  /** Recordings are as loud as the reader wants the page. */
  hearRecordings() {
    for (const { media } of Object.values(this.transport.recordings)) media.volume = this.level / 100;
  }

  /** @param {BarsToRepeat | null} bars */
  setRepeat(bars) {
    this.transport.setRepeat(bars);
    const { repeat } = this.transport.settings;
    if (repeat) this.say("repeatSaid", { first: repeat[0], last: repeat[1] });
    else this.say("repeatOffSaid");
  }

  // Versions and voices

  /** @param {string} version */
  setVersion(version) {
    this.transport.setVersion(version);
    this.showVersions();
    this.say("versionSaid", { version: this.nameOf(version) });
  }

  nextVersion() {
    const at = this.versions.indexOf(this.transport.settings.version);
    this.setVersion(this.versions[(at + 1) % this.versions.length]);
  }

  /** @param {() => void} listener */
  onVoices(listener) {
    this.voiceListeners.push(listener);
  }

  /** @param {string} voice */
  isAlone(voice) {
    return !this.silent.has(voice) && this.silent.size === this.voices.length - 1;
  }

  /**
   * @param {string} voice
   * @param {boolean} sounds
   */
  setVoice(voice, sounds) {
    if (sounds) this.silent.delete(voice);
    else this.silent.add(voice);
    this.voicesChanged();
    this.say(sounds ? "voiceOnSaid" : "voiceOffSaid", {
      voice: this.voiceName(voice),
    });
  }

  /** @param {string} voice */
  singleOut(voice) {
    const alone = this.isAlone(voice);
    this.silent = new Set(alone ? [] : this.voices.filter((each) => each !== voice));
    this.voicesChanged();
    this.say(alone ? "allVoicesSaid" : "aloneSaid", {
      voice: this.voiceName(voice),
    });
  }

  voicesChanged() {
    this.soundVoices();
    this.marks.silent(this.silent);
    for (const listener of this.voiceListeners) listener();
  }

  soundVoices() {
    this.voices.forEach((voice, n) => this.madeOrgan?.setVoice(n, !this.silent.has(voice)));
  }

  // What the page shows

  /**
   * @param {Reads} key
   * @param {boolean} on
   */
  setReading(key, on) {
    this.keep({ [key]: on });
    this.showReading();
  }

  showReading() {
    const { kept } = this;
    for (const figure of this.figures) {
      figure.classList.toggle("verset-no-figures", !kept.figures);
      figure.classList.toggle("verset-names", kept.noteNames);
    }
    this.marks.setFollow(kept.follow);
    this.keyboard.setShown(kept.keyboard);
    this.showVersions();
    this.fit();
  }

  /** The given line is always seen, of the others the one that sounds, unless the reader wants all. */
  showVersions() {
    for (const figure of this.figures) {
      figure.hidden = !this.isShown(figure.dataset.version, figure.dataset.clefs);
      figure.classList.remove("verset-later");
    }
    this.lay();
    this.marks.show();
  }

  /**
   * @param {string | undefined} version
   * @param {string | undefined} clefs
   */
  isShown(version, clefs) {
    const { allVersions, modernClefs } = this.kept;
    const sounds = this.transport.recorded?.of ?? this.transport.settings.version;
    // Under what the reader puts in stands the line; under single graces, the plain notes they break.
    const under = { mine: "given", graced: "plain" }[sounds] ?? sounds;
    const otherClefs = this.hasModern && clefs && (clefs === "modern") !== modernClefs;
    return (allVersions || version === "given" || version === under) && !otherClefs;
  }

  /** What needs the music laid out. */
  lay() {
    this.music.box();
    this.pencil.show();
    if (this.kept.noteNames) this.music.name(this.names);
  }

  /** The foot of the page keeps free what the strip takes. */
  fit() {
    const { strip } = this;
    const tall = strip.getBoundingClientRect().height > innerHeight * TALLEST_STRIP;
    strip.classList.toggle("verset-strip-still", tall);
    document.documentElement.style.setProperty("--verset-strip", tall ? "0px" : `${strip.offsetHeight}px`);
  }
}
