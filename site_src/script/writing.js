// While a course is served on the teacher's own machine: what was chosen by ear goes into the source of the
// verset, and back out of it. A page that is served by others, or opened from a disk, has no such place.

class SourceFile {
  /**
   * @param {SourcePlace} place
   * @param {Player} player
   */
  constructor(place, player) {
    this.place = place;
    this.words = player.words.try;
    this.language = player.root.lang;
    /** @type {HTMLButtonElement[]} */
    this.buttons = [];
  }

  /**
   * Ask the server; what it answers, or null where none answers.
   * @param {Record<string, unknown>} asked
   * @returns {Promise<{ done: boolean, said?: string, written?: string[] } | null>}
   */
  async ask(asked) {
    const { source, sum, token, address } = this.place;
    const { language } = this;
    try {
      const answer = await fetch(address, {
        method: "POST",
        headers: { "Content-Type": "application/json", "X-Verset-Token": token },
        body: JSON.stringify({ source, sum, language, ...asked }),
      });
      return { done: answer.ok, ...(await answer.json()) };
    } catch {
      return null;
    }
  }

  /**
   * A button that asks for one writing, and what came of it. `asked` is looked up when it is pressed.
   * @param {string} label
   * @param {() => Record<string, unknown>} asked
   */
  offer(label, asked) {
    const said = el("span", { class: "verset-said", "aria-live": "polite" });
    const press = button(label, async () => {
      for (const each of this.buttons) each.disabled = true;
      const answer = await this.ask(asked());
      said.textContent = answer?.said ?? this.words.writeLost;
      // What was done makes this page an old one: the server sends it anew.
      for (const each of this.buttons) each.disabled = Boolean(answer?.done);
    });
    this.buttons.push(press);
    return row(press, said);
  }

  /**
   * To write the block that an element shows.
   * @param {Element} shown
   */
  offerBlock(shown) {
    return this.offer(this.words.write, () => pinsOf(shown.textContent ?? ""));
  }

  /**
   * To take back what was written last.
   * @param {string[]} lines
   */
  offerBack(lines) {
    return el(
      "div",
      { class: "verset-written-last" },
      el("p", {}, say(this.words.writtenLast, { source: this.place.source })),
      el("pre", { tabindex: 0 }, lines.join("\n")),
      this.offer(this.words.writeBack, () => ({ back: true })),
    );
  }
}

/**
 * A fenced block of pins as the server asks for it.
 * @param {string} block
 */
function pinsOf(block) {
  const [fence, ...lines] = block.trim().split("\n");
  return { version: fence.replace(/^`+/, ""), lines: lines.slice(0, -1) };
}

/**
 * Offer writing beside the blocks of this page, where its server takes them.
 * @param {HTMLElement} root
 * @param {Player} player
 */
async function offerWriting(root, player) {
  const told = document.querySelector("script.verset-source");
  if (!told || !location.protocol.startsWith("http")) return;
  const file = new SourceFile(JSON.parse(told.textContent ?? ""), player);
  const state = await file.ask({ look: true });
  if (!state?.done) return;
  for (const fold of document.querySelectorAll(".verset-keep")) {
    const shown = fold.querySelector("pre");
    if (shown) fold.append(file.offerBlock(shown));
  }
  if (player.gracing) player.gracing.source.append(file.offerBlock(player.gracing.written));
  if (state.written?.length) root.append(file.offerBack(state.written));
}
