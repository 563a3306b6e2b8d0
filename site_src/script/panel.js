// The controls: plain words on plain buttons. They only ask the player and show what it says.

const SPEEDS = { low: 30, high: 150, step: 5 };

/**
 * @param {string} label
 * @param {boolean} checked
 * @param {(on: boolean) => void} changed
 */
function check(label, checked, changed) {
  /** @type {HTMLInputElement} */
  const box = el("input", {
    type: "checkbox",
    checked,
    change: () => changed(box.checked),
  });
  return {
    box,
    row: el("label", { class: "verset-check" }, box, el("span", {}, label)),
  };
}

/**
 * @param {string} title
 * @param {(Node | null)[]} children
 */
function group(title, ...children) {
  return el("fieldset", { class: "verset-group" }, el("legend", {}, title), ...children);
}

/**
 * @param {string} text
 * @param {() => void} press
 * @param {Attributes} attributes
 */
function button(text, press, attributes = {}) {
  return el("button", { type: "button", class: "verset-button", click: press, ...attributes }, text);
}

/** @param {(Node | null)[]} children */
function row(...children) {
  return el("div", { class: "verset-row" }, ...children);
}

/** @param {string} text */
function hintLine(text) {
  return el("p", { class: "verset-hint" }, text);
}

/** The drawers that open over the edge of the music, one at a time. */
class Drawers {
  constructor() {
    /** @type {{ opener: HTMLElement, inside: HTMLElement }[]} */
    this.all = [];
  }

  /**
   * A drawer's button; what is in it stands in `all`.
   * @param {string} title
   * @param {string} key
   * @param {(Node | null)[]} content
   */
  add(title, key, ...content) {
    const looks = {
      class: "verset-drawer",
      id: `verset-drawer-${key}`,
      role: "group",
      "aria-label": title,
    };
    const inside = el("div", { ...looks, hidden: true }, ...content);
    const state = { "aria-expanded": "false", "aria-controls": inside.id };
    const opener = button(title, () => this.turn(inside), state);
    this.all.push({ opener, inside });
    return opener;
  }

  /**
   * Open one drawer and close the others; an open one is closed.
   * @param {HTMLElement | null} inside
   */
  turn(inside = null) {
    for (const each of this.all) {
      each.inside.hidden = each.inside !== inside || !each.inside.hidden;
      each.opener.setAttribute("aria-expanded", String(!each.inside.hidden));
    }
  }

  /**
   * Escape closes the open drawer.
   * @param {KeyboardEvent} event
   */
  press(event) {
    const open = this.all.find((each) => !each.inside.hidden);
    if (event.key !== "Escape" || !open) return;
    event.preventDefault();
    event.stopPropagation();
    this.turn();
    open.opener.focus();
  }
}

/**
 * The strip that stays: all that is wanted while playing, and one touch away the rest.
 * @param {Player} player
 */
function makeStrip(player) {
  const { words } = player;
  const drawers = new Drawers();
  const voices = voicesGroup(player);
  const strip = el(
    "div",
    { class: "verset-strip", role: "group", "aria-label": words.title },
    choiceLine(player),
    player.keyboard.element,
    goButton(player),
    paceButtons(player),
    button(words.again, () => player.again(), {
      class: "verset-button verset-wide-only",
    }),
    voices && drawers.add(words.voices, "voices", voices),
    drawers.add(
      words.bars,
      "bars",
      repeatGroup(player, () => drawers.turn()),
    ),
    versionList(player),
    drawers.add(
      words.rest,
      "more",
      speedGroup(player),
      levelGroup(player),
      beatGroup(player),
      readingGroup(player),
      openGroup(words.pencil, words.pencilTake, words.pencilHint, () => {
        drawers.turn();
        player.pencil.take("pen");
      }),
      openGroup(words.classroom, words.classroom, words.classHint, () => {
        drawers.turn();
        player.classroom.open();
      }),
      keysGroup(player),
    ),
    button(words.desk, () => player.desk.open(), {
      class: "verset-button verset-desk-open",
    }),
  );
  strip.append(...drawers.all.map((each) => each.inside), player.pencil.element);
  strip.addEventListener("keydown", (event) => drawers.press(event));
  return strip;
}

/**
 * What the reader is asked for, while bars are chosen on the music.
 * @param {Player} player
 */
function choiceLine({ words, choice }) {
  const asks = el("p", { class: "verset-asks", hidden: true });
  choice.listen((stage) => {
    asks.hidden = !stage;
    asks.textContent = stage === 1 ? words.repeatChooseFirst : words.repeatChooseLast;
  });
  return asks;
}

/** @param {Player} player */
function paceButtons(player) {
  const { words } = player;
  const speed = el("span", { class: "verset-speed" });
  player.transport.listen(() => (speed.textContent = say(words.percent, { n: player.speed })));
  return el(
    "span",
    { class: "verset-pace" },
    button(words.slower, () => player.pace(-SPEEDS.step)),
    speed,
    button(words.faster, () => player.pace(SPEEDS.step)),
  );
}

/**
 * Go or stop, with the place below.
 * @param {Player} player
 */
function goButton(player) {
  const { words, transport, marks } = player;
  const act = el("span", {}, words.go);
  const place = el("small");
  const looks = {
    type: "button",
    class: "verset-button verset-go",
    click: () => player.toggle(),
  };
  const go = el("button", looks, act, place);
  const showPlace = () => {
    place.textContent = transport.counting ? words.counting : say(words.place, { bar: marks.bar });
  };
  transport.listen(() => {
    act.textContent = transport.going ? words.stop : words.go;
    go.classList.toggle("is-going", transport.going);
    showPlace();
  });
  marks.onBar(showPlace);
  return go;
}

/**
 * The versions as a list to open.
 * @param {Player} player
 */
function versionList(player) {
  const { words, versions, transport } = player;
  if (versions.length < 2) return null;
  /** @param {string} version */
  const option = (version) => el("option", { value: version }, player.nameOf(version));
  const looks = {
    class: "verset-button verset-list",
    "aria-label": words.version,
  };
  /** @type {HTMLSelectElement} */
  const list = el(
    "select",
    { ...looks, change: () => player.setVersion(list.value) },
    ...versions.map(option),
  );
  transport.listen(() => {
    const { version } = transport.settings;
    // What the reader has put in is no version of the page until it sounds.
    if (![...list.options].some((each) => each.value === version)) list.append(option(version));
    list.value = version;
  });
  return list;
}

/** @param {Player} player */
function voicesGroup(player) {
  const { words } = player;
  if (player.sounding.length < 2) return null; // of a single voice there is nothing to choose
  const rows = player.sounding.map((voice) => voiceRow(player, voice));
  return group(words.voices, row(...rows), hintLine(words.voicesHint));
}

/**
 * @param {Player} player
 * @param {string} voice
 */
function voiceRow(player, voice) {
  const { words } = player;
  const name = player.voiceName(voice);
  const sounds = button(name, () => player.setVoice(voice, player.silent.has(voice)), {
    class: "verset-button verset-voice",
  });
  const alone = button(words.alone, () => player.singleOut(voice), {
    class: "verset-button verset-alone",
    "aria-label": say(words.aloneLabel, { voice: name }),
  });
  const show = () => {
    sounds.setAttribute("aria-pressed", String(!player.silent.has(voice)));
    alone.setAttribute("aria-pressed", String(player.isAlone(voice)));
  };
  player.onVoices(show);
  show();
  return el("div", { class: "verset-voice-row" }, sounds, alone);
}

/** @param {Player} player */
function speedGroup(player) {
  const { words } = player;
  const shown = el("output", { class: "verset-value" });
  /** @type {HTMLInputElement} */
  const slider = el("input", {
    type: "range",
    min: SPEEDS.low,
    max: SPEEDS.high,
    step: SPEEDS.step,
    "aria-label": words.speed,
    input: () => player.setSpeed(Number(slider.value)),
  });
  player.transport.listen(() => {
    slider.value = String(player.speed);
    shown.textContent = say(words.percent, { n: player.speed });
    slider.setAttribute("aria-valuetext", shown.textContent);
  });
  return group(words.speed, el("div", { class: "verset-slide" }, slider, shown));
}

/**
 * @param {Player} player
 * @param {() => void} close
 */
function repeatGroup(player, close) {
  const { words, choice } = player;
  const [low, high] = player.barSpan;
  const read = () => {
    const one = Number(first.input.value) || low;
    const two = Number(last.input.value) || one;
    player.setRepeat([clamp(one, low, high), clamp(two, low, high)]);
  };
  /** @param {string} label */
  const field = (label) => {
    const input = el("input", {
      type: "number",
      min: low,
      max: high,
      inputmode: "numeric",
      change: read,
    });
    return {
      input,
      row: el("label", { class: "verset-field" }, el("span", {}, label), input),
    };
  };
  const first = field(words.repeatFirst);
  const last = field(words.repeatLast);
  const choose = button(words.repeatChoose, () => {
    close();
    choice.toggle();
  });
  const off = button(words.repeatOff, () => player.setRepeat(null));
  player.transport.listen(() => {
    const { repeat } = player.transport.settings;
    first.input.value = String(repeat?.[0] ?? "");
    last.input.value = String(repeat?.[1] ?? "");
    off.disabled = !repeat;
  });
  choice.listen((stage) => choose.setAttribute("aria-pressed", String(stage > 0)));
  return group(words.repeat, row(first.row, last.row, choose, off), hintLine(words.repeatHint));
}

/** @param {Player} player */
function beatGroup(player) {
  const { words, kept } = player;
  const change = () => {
    player.transport.setBeat(countIn.box.checked, click.box.checked);
    player.keep({ countIn: countIn.box.checked, click: click.box.checked });
  };
  const countIn = check(words.countIn, kept.countIn, change);
  const click = check(words.click, kept.click, change);
  return group(words.beat, countIn.row, click.row);
}

/** @param {Player} player */
function levelGroup(player) {
  const { words } = player;
  const shown = el("output", { class: "verset-value" });
  const caution = hintLine(words.levelCaution);
  caution.id = `verset-caution-${player.key}`;
  const show = () => (shown.textContent = say(words.percent, { n: slider.value }));
  /** @type {HTMLInputElement} */
  const slider = el("input", {
    type: "range",
    min: 0,
    max: 100,
    step: 5,
    value: player.level,
    "aria-label": words.level,
    "aria-describedby": caution.id,
    input: () => {
      player.setLevel(Number(slider.value));
      show();
    },
  });
  show();
  return group(words.level, el("div", { class: "verset-slide" }, slider, shown), caution);
}

/** @param {Player} player */
function readingGroup(player) {
  const { words } = player;
  /** @param {Reads} key */
  const option = (key) => check(words[key], player.kept[key], (on) => player.setReading(key, on)).row;
  return group(
    words.reading,
    option("follow"),
    option("keyboard"),
    player.hasFigures ? option("figures") : null,
    player.hasNames ? option("noteNames") : null,
    player.hasModern ? option("modernClefs") : null,
    player.versions.length > 1 ? option("allVersions") : null,
  );
}

/**
 * What is opened from here, while the drawer closes.
 * @param {string} title
 * @param {string} text
 * @param {string} hint
 * @param {() => void} open
 */
function openGroup(title, text, hint, open) {
  return group(title, row(button(text, open)), hintLine(hint));
}

/** @type {ReaderWord[]} */
const KEYS_TOLD = [
  "keyGo",
  "keyBars",
  "keyRepeat",
  "keyStart",
  "keySpeed",
  "keyVoices",
  "keyVersion",
  "keyDesk",
  "keyClass",
];

/** @param {Player} player */
function keysGroup({ words }) {
  return el(
    "details",
    { class: "verset-more" },
    el("summary", {}, words.keys),
    hintLine(words.keysHint),
    el("ul", {}, ...KEYS_TOLD.map((key) => el("li", {}, words[key]))),
  );
}
