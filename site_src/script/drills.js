// The room in which a reader chooses drills, sees how far they have come, and begins.

class DrillRoom {
  /**
   * @param {HTMLElement} root
   * @param {DrillWish} wish
   * @param {(addresses: string[]) => Promise<void>} load
   */
  constructor(root, wish, load) {
    this.root = root;
    this.wish = wish;
    this.load = load;
    this.limits = wish.steps;
    this.common = /** @type {DrillCommon} */ (window.versetDrills?.common);
    this.words = this.common.words;
    this.tables = /** @type {Tables} */ (window.versetVerdicts);
    this.told = /** @type {RuleWords} */ (window.versetRules);
    this.clock = Date.now;
    this.dice = Math.random;
    this.progress = readProgress(memory.get("drills", null)) ?? emptyProgress();
    /** @type {Session | null} */
    this.session = null;
    this.inside = el("div", { class: "verset-drill-room" });
    this.said = el("p", { class: "verset-hint", "aria-live": "polite" });
    root.replaceChildren(this.inside, this.said);
    this.list();
  }

  keep() {
    memory.set("drills", this.progress);
  }

  /** The drills of the page, each to be taken or left. */
  list() {
    const { words, wish } = this;
    const names = Object.keys(wish.steps);
    const chosen = new Set(names);
    const rows = names.map((name) => this.drillRow(name, chosen));
    this.inside.replaceChildren(
      el("table", { class: "verset-drill-table" }, el("tbody", {}, ...rows)),
      row(button(words.begin, () => this.begin([...chosen]), { class: "verset-button verset-go" })),
      el("p", { class: "verset-hint" }, words.caution),
      ...("diminution" in wish.steps ? [new PatternChoice(this).element] : []),
      el("details", { class: "verset-more" }, el("summary", {}, words.byDay), this.days(), this.files()),
    );
  }

  /**
   * @param {string} name
   * @param {Set<string>} chosen
   */
  drillRow(name, chosen) {
    const { words, limits, progress } = this;
    const step = Math.min(progress.steps[name] ?? 1, limits[name]);
    /** @type {HTMLInputElement} */
    const box = el("input", {
      type: "checkbox",
      checked: true,
      id: `verset-drill-${name}`,
      change: () => (box.checked ? chosen.add(name) : chosen.delete(name)),
    });
    const label = el("label", { for: box.id }, words[`name.${name}`]);
    const print = button(
      words.sheet,
      () => this.open([name], (drills) => printSheet(this, name, drills[name])),
      {
        "aria-label": `${words.sheet}: ${words[`name.${name}`]}`,
      },
    );
    return el(
      "tr",
      {},
      el("td", {}, box),
      el("th", { scope: "row" }, label, el("span", { class: "verset-hint" }, words[`about.${name}`])),
      el("td", {}, say(words.stepOf, { step, all: limits[name] })),
      el("td", {}, print),
    );
  }

  /** What was done on each day. */
  days() {
    const { words, progress } = this;
    const rows = Object.entries(progress.days)
      .sort(([a], [b]) => b.localeCompare(a))
      .slice(0, 30)
      .flatMap(([day, drills]) =>
        Object.entries(drills).map(([drill, [asked, right, seconds]]) =>
          el(
            "tr",
            {},
            el("th", { scope: "row" }, new Date(`${day}T12:00:00`).toLocaleDateString(this.root.lang)),
            el("td", {}, words[`name.${drill}`] ?? drill),
            el("td", {}, say(words.rightOf, { right, asked })),
            el("td", {}, say(words.minutes, { minutes: Math.max(1, Math.round(seconds / 60)) })),
          ),
        ),
      );
    if (!rows.length) return el("p", { class: "verset-hint" }, words.noDays);
    return el("table", { class: "verset-drill-days" }, el("tbody", {}, ...rows));
  }

  files() {
    const { words } = this;
    /** @type {HTMLInputElement} */
    const file = el("input", {
      type: "file",
      accept: ".json,application/json",
      class: "verset-said",
      tabindex: -1,
      "aria-label": words.open,
      change: () => this.readFile(file),
    });
    const save = () => offer("drills.json", "application/json", JSON.stringify(this.progress));
    return row(
      button(words.save, save),
      button(words.open, () => file.click()),
      file,
    );
  }

  /** @param {HTMLInputElement} file */
  async readFile(file) {
    let found = null;
    try {
      found = readProgress(JSON.parse((await file.files?.[0].text()) ?? ""));
    } catch {
      found = null; // not a file of ours; said below
    }
    file.value = "";
    this.said.textContent = found ? this.words.opened : this.words.notOurs;
    if (!found) return;
    this.progress = found;
    this.keep();
    this.list();
  }

  /**
   * Load the files of drills, then act.
   * @param {string[]} names
   * @param {(drills: Record<string, DrillTask[]>) => void} act
   */
  async open(names, act) {
    this.said.textContent = "";
    try {
      await this.load(names.map((name) => this.wish.files[name]));
    } catch {
      this.said.textContent = this.wish.words.failed;
      return;
    }
    const data = /** @type {Record<string, DrillTask[]>} */ (/** @type {unknown} */ (window.versetDrills));
    const drills = names.map((name) => [name, data[name].filter(({ step }) => step <= this.limits[name])]);
    act(Object.fromEntries(drills));
  }

  /** @param {string[]} names */
  begin(names) {
    if (!names.length) {
      this.said.textContent = this.words.chooseOne;
      return;
    }
    this.open(names, (drills) => this.start(drills));
  }

  /** @param {Record<string, DrillTask[]>} drills */
  start(drills) {
    this.session = new Session(this, drills);
    this.inside.replaceChildren(this.session.element);
    this.session.begin();
  }

  /** @param {Boxes} boxes */
  over({ asked, right, again }) {
    const { words } = this;
    this.session = null;
    const back = button(words.toList, () => this.list(), { class: "verset-button verset-go" });
    this.inside.replaceChildren(
      el("p", { class: "verset-drill-ask" }, say(words.over, { asked, right })),
      ...(again.length ? [el("p", {}, say(words.comesBack, { count: again.length }))] : []),
      el("p", {}, words.rest),
      row(back),
    );
    back.focus({ preventScroll: true });
  }
}

window.versetDrilling = (root, wish, load) => {
  root.drills = new DrillRoom(root, wish, load);
};
