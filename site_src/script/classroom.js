// The page shown to a class: one thing at a time, large, turned by keys or a pedal like the leaves at the desk.

const IN_CLASS = "#class"; // the end of an address that opens a page so
const LETTERS = { most: 0.055, least: 0.026 }; // shares of the screen's height

/**
 * The rest of a section below a mark, heading first, without what folds it away.
 * @param {HTMLElement} mark
 */
function sectionBelow(mark) {
  /** @type {Element[]} */
  const found = [];
  let node = mark.closest("p")?.nextElementSibling ?? null;
  while (
    node &&
    !(found.length && /^H[1-3]$/.test(node.tagName)) &&
    !node.querySelector("[data-board], .verset-answer")
  ) {
    if (node.matches("details"))
      found.push(...[...node.children].filter((each) => each.tagName !== "SUMMARY"));
    else found.push(node);
    node = node.nextElementSibling;
  }
  return found;
}

/** What stands on a page above its music. */
function opening() {
  /** @type {Element[]} */
  const found = [];
  /** @type {Element | null} */
  let next = document.querySelector("h1");
  while (next && !next.matches(".verset-music, .verset-facsimile, .verset-player")) {
    found.push(next);
    next = next.nextElementSibling;
  }
  return found;
}

/**
 * All that a class is shown of a page, in order: its words, the line, and after each version what is said of it.
 * @param {Player} player
 * @returns {Slide[]}
 */
function slidesOf(player) {
  /** @type {NodeListOf<HTMLElement>} */
  const marks = document.querySelectorAll("[data-board]");
  const asks = document.querySelector(".verset-try") !== null;
  const versions = player.versions.filter((version) => version in player.timeline.versions);
  /** @param {string} version */
  const said = (version) =>
    [...marks]
      .filter((mark) => mark.dataset.board === version)
      .map((mark) => ({ version: "", head: "", nodes: sectionBelow(mark) }));
  /** @param {string} version */
  const shown = (version) => [
    {
      version,
      head: asks && version === "given" ? player.words.classAsks : player.nameOf(version),
      nodes: [],
    },
    ...said(version),
  ];
  const others = new Set(
    [...marks].map((mark) => mark.dataset.board ?? "").filter((each) => !versions.includes(each)),
  );
  return [
    { version: "", head: "", nodes: opening() },
    ...versions.flatMap(shown),
    ...[...others].flatMap(said), // of a version that sounds like another and is not on the page
  ];
}

class Classroom extends Desk {
  /** @param {Player} player */
  constructor(player) {
    super(player);
    this.head = el("p", { class: "verset-class-head", "aria-live": "polite" });
    this.dialog.prepend(this.head);
    this.dialog.classList.add("verset-classroom");
    this.dialog.setAttribute("aria-label", player.words.classroom);
    /** @type {Slide[]} */
    this.slides = [];
    this.slide = 0;
  }

  take() {
    const { version, head, nodes } = this.slides[this.slide];
    this.head.textContent = head;
    this.head.hidden = !head;
    if (version) {
      super.take();
      this.picks.hidden = true;
      return;
    }
    this.picks.hidden = true;
    const words = nodes.map((node) => /** @type {Element} */ (node.cloneNode(true)));
    const board = el("div", { class: `${TYPESET} verset-words` }, ...words);
    for (const named of board.querySelectorAll("[id]")) named.removeAttribute("id");
    this.sheet.replaceChildren(board);
    requestAnimationFrame(() => this.enlarge(board));
    this.number();
  }

  /**
   * Letters as large as the screen has room for.
   * @param {HTMLElement} board
   */
  enlarge(board) {
    const { sheet } = this;
    let share = LETTERS.most;
    do board.style.fontSize = `${(share * innerHeight).toFixed(1)}px`;
    while (sheet.scrollHeight > sheet.clientHeight && (share -= 0.003) >= LETTERS.least);
    sheet.scrollTop = 0;
    sheet.tabIndex = 0; // it may scroll
  }

  /** The largest notes with which all is on the screen at once; of what is longer, the most. */
  lay() {
    super.lay();
    const smaller = /** @type {const} */ ({ large: "middle", middle: "small", small: "" })[this.size];
    if (this.pages.length > 1 && smaller) this.draw(smaller);
  }

  /** @param {number} n */
  show(n) {
    super.show(n);
    this.number();
  }

  number() {
    this.leaf.hidden = false;
    const place = { page: this.slide + 1, pages: this.slides.length };
    this.pageNumber.textContent = say(this.player.words.deskPage, place);
  }

  /** What does not fit the screen is turned first. @param {number} step */
  turn(step) {
    const { sheet, pages, at } = this;
    if (pages[at + step]) {
      this.show(at + step);
      return;
    }
    const top = sheet.scrollTop;
    if (!pages.length) sheet.scrollTop += step * sheet.clientHeight * 0.9;
    if (sheet.scrollTop === top) this.go(this.slide + step);
  }

  /** @param {number} n */
  go(n) {
    if (!this.slides[n]) {
      this.leaf.hidden = false;
      onward(n < 0 ? "prev" : "next");
      return;
    }
    this.giveBack();
    this.pages = [];
    this.at = 0;
    this.slide = n;
    const { version } = this.slides[n];
    if (version && version !== this.player.transport.settings.version) this.player.setVersion(version);
    this.draw("large");
  }

  async open() {
    this.slides = slidesOf(this.player);
    this.slide = 0;
    this.pages = [];
    await super.open();
  }
}

/**
 * To the page before or after, shown to the class as this one is.
 * @param {string} way
 */
function onward(way) {
  /** @type {HTMLLinkElement | null} */
  const link = document.querySelector(`link[rel=${way}]`);
  if (link) location.href = link.href + IN_CLASS;
}
