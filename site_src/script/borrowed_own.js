// What the drills take from the scripts that are loaded before them.
const { el, svgEl, say, clamp, memory, button, row, hintLine, createOrgan, createKeys } =
  window.versetReader ?? {};
const { Paper, Rulings, readAs, tonesAt, emptyWork, workToPlay, midiOf, modulo, noteName, listenToMidi } =
  window.versetOwn ?? {};
const { spelledKey, shareOut, glyph, drawNote, offer, SPACE, HALF, CLEFS, ACCIDENTALS, MARKS } =
  window.versetOwn ?? {};
