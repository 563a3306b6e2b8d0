// What gives the answers waits, and the exercise begins when the page's player is awake.

/** Fold away what gives the answers, while the reader looks for own ones: the rest of a section below its heading. */
function foldAnswers(words) {
  const summaries = [words.answer, words.answerGraces]; // the order of the page
  for (const [k, mark] of [...document.querySelectorAll(".verset-answer")].entries()) {
    let node = mark.closest("p")?.nextElementSibling?.nextElementSibling;
    if (!node || mark.dataset.folded) continue;
    mark.dataset.folded = "yes";
    const fold = el("details", { class: "verset-fold" }, el("summary", {}, summaries[k]));
    node.before(fold);
    while (node && !/^H[12]$/.test(node.tagName) && !node.querySelector(".verset-answer")) {
      const next = node.nextElementSibling;
      fold.append(node);
      node = next;
    }
  }
}

globalThis.versetReader?.whenAwake((player) => {
  const root = document.querySelector(".verset-try");
  if (!root || !window.versetVerdicts) return;
  player.own = createTry(root, player, window.versetVerdicts, window.versetRules);
  foldAnswers(player.words.try);
  createGracing(root, player, window.versetRules);
});
