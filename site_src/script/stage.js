// What sounds and what is played while drills are open: the organ, the keys on the screen, a MIDI keyboard.

class Stage {
  /**
   * @param {DrillCommon} common
   * @param {(key: number) => void} played
   */
  constructor(common, played) {
    this.common = common;
    this.played = played;
    this.context = new AudioContext({ latencyHint: "interactive" });
    const { keys, level } = common.play;
    const data = { voices: [], bars: [], beats: [], end: 0, versions: {}, ...common.play };
    this.organ = createOrgan(this.context, data);
    this.organ.setLevel(memory.get("choices", { level: null }).level ?? level);
    /** @type {Sound[]} */
    this.sounding = [];
    /** @type {[hertz: number, letter: string][]} */
    this.lit = [];
    this.keys = createKeys(this.owner(), keys);
    this.keys.setShown(true);
    // Where the keys are wider than the screen, they are moved by the arrow keys too.
    const { element } = this.keys;
    element.tabIndex = 0;
    element.setAttribute("role", "group");
    element.setAttribute("aria-label", common.words.keyboardLabel);
    /** @type {Map<number, Sound>} */
    this.held = new Map(); // by key of a MIDI keyboard
  }

  /** @returns {KeysOwner} */
  owner() {
    return {
      label: this.common.words.keyboardLabel,
      organ: () => this.organ,
      going: () => false,
      onFrame: () => {},
      renew: () => this.keys.show(0),
      noSound: () => {},
      pressed: (key) => this.played(key),
      letters: () => this.lit,
    };
  }

  /**
   * Keys that are marked, by their MIDI numbers.
   * @param {number[]} keys
   */
  mark(keys) {
    const { keys: hertz } = this.common.play;
    this.lit = keys.filter((key) => hertz[key - 36]).map((key) => [hertz[key - 36], "•"]);
    this.keys.show(0);
  }

  /** @param {number[]} keys MIDI numbers */
  see(keys) {
    this.keys.see(keys.map((key) => key - 36));
  }

  /**
   * Sound notes: each from a time to another, in seconds from now.
   * @param {[from: number, to: number, hertz: number][]} notes
   */
  play(notes) {
    this.hush();
    this.context.resume();
    const now = this.context.currentTime + 0.06;
    this.sounding = notes.map(([from, to, hertz]) => this.organ.note(now + from, now + to, hertz));
  }

  /** @param {Pitch[]} pitches */
  chord(pitches, seconds = 0.9) {
    const { hertz } = this.common.exercise;
    this.play(pitches.flatMap((pitch) => (hertz[pitch.join()] ? [[0, seconds, hertz[pitch.join()]]] : [])));
  }

  hush() {
    for (const sound of this.sounding) sound.end(this.context.currentTime);
    this.sounding = [];
  }

  /**
   * Listen to MIDI keyboards, where the browser has leave.
   * @param {MidiEar["told"]} told
   */
  listen(told) {
    listenToMidi({ down: (key) => this.down(key), up: (key) => this.up(key), told });
  }

  /** @param {number} key */
  down(key) {
    const hertz = this.common.play.keys[key - 36];
    const now = this.context.currentTime;
    if (hertz && !this.held.has(key)) this.held.set(key, this.organ.note(now + 0.005, now + 30, hertz));
    this.played(key);
  }

  /** @param {number} key */
  up(key) {
    this.held.get(key)?.end(this.context.currentTime);
    this.held.delete(key);
  }

  leave() {
    this.hush();
    this.keys.remove();
    this.context.close();
  }
}
