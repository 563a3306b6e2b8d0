// The music desk: nothing but staves, as large as the screen allows, turned like pages.

/** @type {Record<DeskSize, { set: string, scale: number }>} */
const SIZES = {
  small: { set: "verset-wide", scale: 1 }, // more bars a line
  middle: { set: "verset-narrow", scale: 0.8 }, // fewer bars a line make larger notes
  large: { set: "verset-narrow", scale: 1 },
};
const SMALLEST = 0.86; // share of their size to which systems shrink for one more to fit the page
const APART = 8; // pixels between systems
const EDGE = 0.15; // share of the width in which a touch turns the page

/** @type {Record<string, number>} */
const TURNS = {
  ArrowRight: 1,
  ArrowDown: 1,
  PageDown: 1,
  ArrowLeft: -1,
  ArrowUp: -1,
  PageUp: -1,
};

/** @param {SVGSVGElement} svg */
function roomFor(svg) {
  return svg.getBoundingClientRect().height + APART;
}

class Desk {
  /** @param {Player} player */
  constructor(player) {
    const { words } = player;
    this.player = player;
    this.sheet = el("div", { class: "verset-sheet" });
    this.pageNumber = el("span", { class: "verset-place" });
    this.leaf = el(
      "span",
      { class: "verset-pace" },
      button(words.deskPrevious, () => this.turn(-1)),
      this.pageNumber,
      button(words.deskNext, () => this.turn(1)),
    );
    this.sizes = /** @type {DeskSize[]} */ (Object.keys(SIZES)).map((size) => ({
      size,
      pick: button(words[`desk.${size}`], () => this.resize(size)),
    }));
    this.picks = el(
      "span",
      { class: "verset-choice", role: "group", "aria-label": words.deskSize },
      ...this.sizes.map(({ pick }) => pick),
    );
    const close = button(words.deskClose, () => this.close());
    const foot = el("div", { class: "verset-desk-foot" }, this.leaf, this.picks, close);
    const looks = {
      class: "verset-music-desk",
      "aria-label": words.desk,
      close: () => this.leave(),
    };
    this.dialog = el("dialog", looks, this.sheet, foot);
    /** @type {{ holder: HTMLElement, put: () => void, systems: System[], version: string } | null} */
    this.taken = null; // the systems lent to the desk, and how they go back
    /** @type {SVGSVGElement[][]} */
    this.pages = [];
    this.at = 0;
    const kept = memory.get("deskSize", "");
    /** @type {DeskSize} */
    this.size = kept in SIZES ? /** @type {DeskSize} */ (kept) : innerWidth < 900 ? "large" : "small";
    this.resized = () => this.dialog.open && this.lay();
    this.listen();
    document.body.append(this.dialog);
  }

  listen() {
    const { transport, marks } = this.player;
    // A touch at the edge turns the page; in the middle it goes to the note, as on the page.
    this.sheet.addEventListener("click", (event) => {
      const part = event.clientX / innerWidth;
      if (part < EDGE) this.turn(-1);
      else if (part > 1 - EDGE) this.turn(1);
    });
    this.dialog.addEventListener("keydown", (event) => this.press(event));
    addEventListener("resize", this.resized);
    // Another version needs other staves.
    transport.listen(() => {
      if (this.taken && this.taken.version !== transport.settings.version) this.exchange();
    });
    marks.onBar((bar) => this.dialog.open && this.pages.length && this.showBar(bar));
  }

  get isOpen() {
    return this.dialog.open;
  }

  /** The page that is open, and how many there are. */
  get page() {
    return [this.at, this.pages.length];
  }

  block() {
    const { music, transport } = this.player;
    const shown = music.blocks.filter((each) => !each.figure.hidden);
    return (
      shown.find((each) => each.version === (transport.recorded?.of ?? transport.settings.version)) ??
      shown[0]
    );
  }

  take() {
    const { transport } = this.player;
    const { sets } = this.block();
    const wanted = SIZES[this.size].set;
    const { holder, systems } = sets.find((each) => each.holder.classList.contains(wanted)) ?? sets[0];
    const home = holder.parentNode;
    const next = holder.nextSibling;
    const put = () => home?.insertBefore(holder, next);
    this.taken = { holder, put, systems, version: transport.settings.version };
    this.sheet.replaceChildren(holder);
    for (const { size, pick } of this.sizes) pick.setAttribute("aria-pressed", String(size === this.size));
    this.picks.hidden = sets.length < 2;
    requestAnimationFrame(() => this.lay());
  }

  giveBack() {
    if (!this.taken) return;
    for (const system of this.taken.systems) system.svg.classList.remove("verset-turned");
    this.taken.put();
    this.taken = null;
  }

  exchange() {
    this.giveBack();
    this.take();
  }

  /** Spread the systems over pages of the screen's height. */
  lay() {
    if (!this.taken) return;
    const drawings = [...new Set(this.taken.systems.map((system) => system.svg))];
    for (const svg of drawings) svg.classList.remove("verset-turned");
    const room = this.sheet.clientHeight;
    this.fit(drawings, room);
    this.pages = [];
    let left = 0;
    for (const svg of drawings) {
      const height = roomFor(svg);
      if (!this.pages.length || height > left) {
        this.pages.push([]);
        left = room;
      }
      this.pages[this.pages.length - 1].push(svg);
      left -= height;
    }
    this.player.lay();
    this.showBar(this.player.marks.bar);
  }

  /**
   * Where one system more would nearly fit, all are drawn a little smaller.
   * @param {SVGSVGElement[]} drawings
   * @param {number} room
   */
  fit(drawings, room) {
    const { scale } = SIZES[this.size];
    this.sheet.style.setProperty("--verset-size", String(scale));
    const tall = drawings.reduce((sum, svg) => sum + roomFor(svg), 0) / drawings.length;
    const usual = Math.floor(room / tall);
    const size = (room - 2) / ((usual + 1) * tall);
    if (size > SMALLEST && size < 1 && drawings.length > usual) {
      this.sheet.style.setProperty("--verset-size", (scale * size).toFixed(3));
    }
  }

  /** @param {number} number */
  show(number) {
    this.at = clamp(number, 0, this.pages.length - 1);
    for (const [n, drawings] of this.pages.entries()) {
      for (const svg of drawings) svg.classList.toggle("verset-turned", n !== this.at);
    }
    this.leaf.hidden = this.pages.length < 2;
    const { deskPage } = this.player.words;
    this.pageNumber.textContent = say(deskPage, {
      page: this.at + 1,
      pages: this.pages.length,
    });
    this.sheet.scrollTop = 0;
  }

  /** @param {number} step */
  turn(step) {
    this.show(this.at + step);
  }

  /** @param {number} bar */
  showBar(bar) {
    const system = this.taken?.systems.find((each) => each.bars.some((one) => one.number === bar));
    this.show(
      system
        ? Math.max(
            0,
            this.pages.findIndex((drawings) => drawings.includes(system.svg)),
          )
        : 0,
    );
  }

  /** @param {DeskSize} size */
  resize(size) {
    memory.set("deskSize", size);
    this.draw(size);
  }

  /** @param {DeskSize} size */
  draw(size) {
    this.size = size;
    this.exchange();
  }

  /** @param {KeyboardEvent} event */
  press(event) {
    if (event.altKey || event.ctrlKey || event.metaKey) return;
    const { tagName } = /** @type {Element} */ (event.target);
    if (["INPUT", "SELECT"].includes(tagName)) return;
    if (event.key in TURNS) this.turn(TURNS[event.key]);
    else if (event.key === " " && tagName !== "BUTTON") this.player.toggle();
    else return;
    event.preventDefault();
    event.stopPropagation();
  }

  async open() {
    if (this.dialog.open || !this.block()) return;
    const { strip } = this.player;
    this.dialog.showModal();
    // All that the strip can do is wanted at the desk too.
    this.dialog.append(strip);
    this.take();
    this.sheet.tabIndex = -1;
    focusOn(strip, ".verset-go");
    // Whole screen where the browser allows it; the page is complete without.
    await document.documentElement.requestFullscreen?.().catch(() => {});
  }

  close() {
    this.dialog.close();
  }

  leave() {
    const { root, strip } = this.player;
    this.giveBack();
    root.prepend(strip);
    if (document.fullscreenElement) document.exitFullscreen().catch(() => {});
    focusOn(root, ".verset-desk-open");
  }

  remove() {
    removeEventListener("resize", this.resized);
    if (this.dialog.open) this.dialog.close();
    this.dialog.remove();
  }
}

/**
 * @param {HTMLElement} parent
 * @param {string} selector
 */
function focusOn(parent, selector) {
  /** @type {HTMLElement | null} */
  const found = parent.querySelector(selector);
  found?.focus();
}
