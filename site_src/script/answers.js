// What gives the answers waits, and the exercise begins when the page's player is awake.

/**
 * Fold away what gives the answers, while the reader looks for own ones: the rest of a section below its
 * heading.
 * @param {Words["try"]} words
 */
function foldAnswers(words) {
  const summaries = [words.answer, words.answerGraces]; // the order of the page
  /** @type {NodeListOf<HTMLElement>} */
  const marks = document.querySelectorAll(".verset-answer");
  for (const [k, mark] of [...marks].entries()) {
    const first = mark.closest("p")?.nextElementSibling?.nextElementSibling;
    if (!first || mark.dataset.folded) continue;
    mark.dataset.folded = "yes";
    const fold = el("details", { class: "verset-fold" }, el("summary", {}, summaries[k]));
    first.before(fold);
    /** @type {Element | null} */
    let node = first;
    while (node && !/^H[12]$/.test(node.tagName) && !node.querySelector(".verset-answer")) {
      /** @type {Element | null} */
      const next = node.nextElementSibling;
      fold.append(node);
      node = next;
    }
  }
}

window.versetReader?.whenAwake((player) => {
  /** @type {HTMLElement | null} */
  const root = document.querySelector(".verset-try");
  const { versetVerdicts: tables, versetRules: told } = window;
  if (!root || !tables || !told) return;
  player.own = new Attempt(root, player, tables, told);
  foldAnswers(player.words.try);
  /** @type {PlainNote[]} */
  const notes = JSON.parse(root.querySelector(".verset-gracing")?.textContent ?? "[]");
  if (notes.length) {
    player.gracing = new Gracing(notes, player, player.own, told);
    root.append(player.gracing.element);
  }
  offerWriting(root, player);
});
