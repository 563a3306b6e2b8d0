// The player of a page: joins timeline, sound, music and controls, and wakes up when the page is there.

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

/** The versions of a page that can be told apart by ear. */
function differing(timeline, versions) {
  const heard = (version) => timeline.versions[version].notes.map(({ start, end, hertz, voice }) => [start, end, hertz, voice].join()).sort().join(" ");
  const known = versions.filter((version) => version in timeline.versions);
  return known.filter((version, n) => !known.slice(0, n).some((other) => heard(other) === heard(version)));
}

function createPlayer(root, figures) {
  const { play, words, span, versions, first, names } = JSON.parse(root.querySelector("script.verset-play").textContent);
  const timeline = readTimeline(play);
  const music = readMusic(figures);
  const kept = { ...KEPT, ...memory.get("choices", {}) };
  let organ = null;
  let stage = 0; // 0: no bars are being chosen; 1: waiting for the first; 2: for the last
  let chosen = 0;
  let wake = null;
  const voiceListeners = [];
  const choosingListeners = [];

  const makeOrgan = () => {
    if (!organ) {
      organ = createOrgan(new AudioContext({ latencyHint: "interactive" }), play);
      organ.setLevel(player.level / 100);
      player.voices.forEach((voice, n) => organ.setVoice(n, !player.silent.has(voice)));
    }
    return organ;
  };
  const transport = createTransport(timeline, makeOrgan, span);
  const marks = createMarks(music, timeline, transport);
  const said = el("p", { class: "verset-said", "aria-live": "polite" });

  const player = {
    root,
    words,
    timeline,
    music,
    transport,
    marks,
    kept,
    key: [...document.querySelectorAll(".verset-player")].indexOf(root),
    versions: differing(timeline, versions),
    voices: play.voices,
    /** Voices that have a note on this page. */
    sounding: play.voices.filter((_, n) => Object.values(play.versions).some((notes) => notes.some((note) => note[3] === n))),
    silent: new Set(),
    level: kept.level ?? Math.round(clamp(play.level ?? 0.4, 0, 1) * 20) * 5,
    barSpan: [timeline.bar(span.start), timeline.bar(span.end - 0.01)],
    hasFigures: figures.some((figure) => figure.querySelector(".harm, .fb")),
    hasNames: Object.keys(names).length > 0,
    hasModern: figures.some((figure) => figure.dataset.clefs === "modern"),
    get organ() {
      return makeOrgan();
    },
    get speed() {
      return Math.round(transport.settings.rate * 100);
    },
    nameOf: (version) => words.versionNames[version] ?? words.try?.[version] ?? version,
    voiceName: (voice) => words.voiceNames[voice] ?? voice,
    say(key, values) {
      said.textContent = say(words[key], values);
    },
    keep(choices) {
      Object.assign(kept, choices);
      memory.set("choices", kept);
    },
    async toggle() {
      if (transport.going) {
        transport.stop();
        player.say("stoppedSaid", { bar: marks.bar });
        return;
      }
      try {
        await transport.go();
      } catch {
        player.say("noSound");
      }
    },
    again() {
      const { repeat } = transport.settings;
      transport.seek(repeat ? Math.max(timeline.barStart(repeat[0]), span.start) : span.start);
    },
    toBar(bar) {
      const [low, high] = player.barSpan;
      transport.seek(Math.max(span.start, timeline.barStart(clamp(bar, low, high))));
    },
    setSpeed(percent) {
      transport.setRate(percent / 100);
    },
    pace(step) {
      player.setSpeed(clamp(player.speed + step, SPEEDS.low, SPEEDS.high));
      player.say("speedSaid", { n: player.speed });
    },
    setLevel(percent) {
      player.level = percent;
      organ?.setLevel(percent / 100);
      player.keep({ level: percent });
    },
    setVersion(version) {
      transport.setVersion(version);
      showVersions();
      player.say("versionSaid", { version: player.nameOf(version) });
    },
    nextVersion() {
      const at = player.versions.indexOf(transport.settings.version);
      player.setVersion(player.versions[(at + 1) % player.versions.length]);
    },
    onVoices: (listener) => voiceListeners.push(listener),
    isAlone: (voice) => !player.silent.has(voice) && player.silent.size === player.voices.length - 1,
    setVoice(voice, sounds) {
      if (sounds) player.silent.delete(voice);
      else player.silent.add(voice);
      voicesChanged();
      player.say(sounds ? "voiceOnSaid" : "voiceOffSaid", { voice: player.voiceName(voice) });
    },
    singleOut(voice) {
      const alone = player.isAlone(voice);
      player.silent = new Set(alone ? [] : player.voices.filter((each) => each !== voice));
      voicesChanged();
      player.say(alone ? "allVoicesSaid" : "aloneSaid", { voice: player.voiceName(voice) });
    },
    setRepeat(bars) {
      transport.setRepeat(bars);
      const { repeat } = transport.settings;
      if (repeat) player.say("repeatSaid", { first: repeat[0], last: repeat[1] });
      else player.say("repeatOffSaid");
    },
    onChoosing: (listener) => choosingListeners.push(listener),
    chooseBars() {
      setStage(stage ? 0 : 1);
    },
    setReading(key, on) {
      player.keep({ [key]: on });
      showReading();
    },
  };

  function voicesChanged() {
    player.voices.forEach((voice, n) => organ?.setVoice(n, !player.silent.has(voice)));
    marks.silent(player.silent);
    voiceListeners.forEach((listener) => listener());
  }

  function setStage(next) {
    stage = next;
    if (stage) player.say(stage === 1 ? "repeatChooseFirst" : "repeatChooseLast");
    if (stage === 1) marks.toMusic();
    for (const figure of figures) figure.classList.toggle("verset-choosing", stage > 0);
    choosingListeners.forEach((listener) => listener(stage));
  }

  /** What needs the music laid out. */
  function lay() {
    music.box();
    if (player.names) music.name(player.names);
  }
  player.lay = lay;

  /** The given line is always seen, of the others the one that sounds, unless the reader wants all. */
  function showVersions() {
    const { version } = transport.settings;
    for (const figure of figures) {
      // Under what the reader puts in stands the line; under single graces, the plain notes they break.
      const under = { mine: "given", graced: "plain" }[version] ?? version;
      const own = ["given", under].includes(figure.dataset.version);
      const other = !own && !kept.allVersions;
      const clefs = figure.dataset.clefs;
      const otherClefs = player.hasModern && clefs && (clefs === "modern") !== kept.modernClefs;
      figure.hidden = other || otherClefs;
      figure.classList.remove("verset-later");
    }
    lay();
    marks.show();
  }

  function showReading() {
    for (const figure of figures) {
      figure.classList.toggle("verset-no-figures", !kept.figures);
      figure.classList.toggle("verset-names", kept.noteNames);
    }
    player.names = kept.noteNames ? names : null;
    marks.setFollow(kept.follow);
    player.keyboard.setShown(kept.keyboard);
    showVersions();
    fit();
  }

  /** The foot of the page keeps free what the strip takes. */
  function fit() {
    const tall = strip.getBoundingClientRect().height > innerHeight * 0.3;
    strip.classList.toggle("verset-strip-still", tall);
    document.documentElement.style.setProperty("--verset-strip", tall ? "0px" : `${strip.offsetHeight}px`);
  }

  async function keepAwake() {
    try {
      if (transport.going && !wake) wake = await navigator.wakeLock?.request("screen");
      else if (!transport.going && wake) {
        const lock = wake;
        wake = null;
        await lock.release();
      }
    } catch {
      wake = null; // the screen may sleep; nothing else changes
    }
  }

  listenToMusic(music, {
    note(id, bar) {
      if (stage === 1) {
        chosen = bar.number;
        marks.repeat([chosen, chosen]);
        setStage(2);
      } else if (stage === 2) {
        setStage(0);
        player.setRepeat([chosen, bar.number]);
      } else {
        const start = timeline.noteStart(id);
        transport.seek(Math.max(span.start, start ?? timeline.barStart(bar.number)));
      }
    },
    bars(first, last, finished) {
      if (!first) marks.repeat(transport.settings.repeat);
      else if (finished) {
        setStage(0);
        player.setRepeat([first, last]);
      } else marks.repeat([Math.min(first, last), Math.max(first, last)]);
    },
  });

  player.desk = createDesk(player);
  player.keyboard = createKeyboard(player, play.keys);
  const strip = makeStrip(player);
  player.strip = strip;
  root.append(strip, said);
  root.classList.add("is-awake");
  document.documentElement.classList.add("verset-has-strip");
  listenToKeys(player, [root, ...figures]);
  transport.listen(() => marks.repeat(transport.settings.repeat));
  transport.listen(keepAwake);
  document.addEventListener("visibilitychange", () => {
    // A lock is lost when the page is hidden.
    if (!document.hidden) {
      wake = null;
      keepAwake();
    }
  });
  transport.settings.version = player.versions.includes(first) ? first : player.versions[0];
  const recordings = root.querySelector(".verset-recordings");
  if (recordings) {
    recordings.open = false;
    root.append(recordings);
  }
  transport.setBeat(kept.countIn, kept.click);
  showReading();
  const watch = new ResizeObserver(() => {
    lay();
    fit();
  });
  watch.observe(document.documentElement);
  for (const figure of figures) watch.observe(figure);
  player.leave = () => {
    transport.stop();
    player.desk.remove();
    player.keyboard.remove();
    watch.disconnect();
    organ?.context.close();
    document.documentElement.classList.remove("verset-has-strip");
  };
  return player;
}

let player = null;
const wakened = [];
// What the exercises need of this script, and a way to be told when a player is awake.
window.versetReader = {
  ...{ el, svgEl, say, clamp, memory, button, readVersion, createOrgan },
  whenAwake(act) {
    wakened.push(act);
    if (player) act(player);
  },
};

function wakePage() {
  if (player && document.contains(player.root)) return;
  player?.leave();
  player = null;
  const root = document.querySelector(".verset-player");
  if (!root) return;
  const began = performance.now();
  player = createPlayer(root, [...document.querySelectorAll(".verset-music[data-version]")]);
  performance.measure("verset-awake", { start: began });
  wakened.forEach((act) => act(player));
  root.verset = player; // for tests and the curious
}

// A theme that exchanges pages without loading tells so through `document$`.
if (window.document$?.subscribe) window.document$.subscribe(wakePage);
else if (document.readyState === "loading") document.addEventListener("DOMContentLoaded", wakePage);
else wakePage();
