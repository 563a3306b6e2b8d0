// Every figure of two notes that a page offers, put into the exercise by hand: what the exercise says of it, and what
// stands beside it where it is offered.
([exercise, graces]) => {
  const own = document.querySelector('.verset-player').verset.own;
  Object.assign(own.exercise, exercise);
  own.rulings = new own.rulings.constructor(own.tables, own.exercise); // what was said of the page's own is forgotten
  const ours = structuredClone(exercise.ours);
  const same = (a, b) => Math.abs(a - b) < 1e-3;
  const said = [];
  const rules = (work) => exercise.events.map((_, n) => own.judge(n, work).filter((each) => each.severity !== 'note'));
  const plain = rules(ours).map((row) => row.map((each) => JSON.stringify(each)));
  for (const note of graces) {
    const n = exercise.events.findIndex((event) => same(event.start, note.start) && same(event.length, note.length));
    for (const { notes, names, met } of note.patterns) {
      // How the last sonorities go on is known to the check alone.
      const known = n >= 0 && (n < exercise.events.length - 2 || exercise.closed);
      if (!known || notes.length !== 2 || !same(exercise.events[n].half, notes[0][1])) continue;
      const work = structuredClone(ours);
      work[note.voice][n] = notes[0].slice(2, 4);
      work.then = { [note.voice]: exercise.events.map((_, k) => (k === n ? notes[1].slice(2, 4) : null)) };
      const page = rules(work).flatMap((row, k) => row.filter((each) => !plain[k].includes(JSON.stringify(each))));
      const flat = (list) => [...new Set(list.map((each) => each.join(' ')))].sort();
      said.push([`${note.where} ${note.voice} ${names}`, flat(page.map((each) => [each.rule, each.severity])), flat(met)]);
    }
  }
  return said;
}
