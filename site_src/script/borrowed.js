// What the exercises take from the reader's script, which every page loads before.
const { el, svgEl, say, clamp, memory, button, row, hintLine, readVersion } = window.versetReader ?? {};
