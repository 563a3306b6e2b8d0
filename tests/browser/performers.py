"""Performers for the tests of takes: lawful settings drawn in the page, played in the time of human hands."""

from __future__ import annotations

import math
import random
from collections.abc import Mapping, Sequence
from typing import Any

DRAW = """
(seed) => {
  const own = document.querySelector('.verset-player').verset.own, { exercise, tables } = own;
  let state = seed * 2654435761 % 4294967296;
  const dice = () => (state = (state * 1664525 + 1013904223) % 4294967296) / 4294967296;
  const hertz = Object.keys(exercise.hertz).map((text) => text.split(",").map(Number));
  const events = exercise.events;
  const error = (work, n) => {
    if (n < 0) return false;
    return own.judge(n, work).some(({ severity }) => severity === "error");
  };
  const choices = (n) => {
    const event = events[n];
    const named = event.variants.flatMap((variant) => variant.members.map(([number, alter]) =>
      [((event.bass[0] + number - 1) % 7 + 7) % 7, alter]));
    named.push([event.bass[0] % 7, event.bass[1]]);
    const lists = event.upper.map((voice) => hertz.filter(([step, alter]) =>
      step >= exercise.compass[voice][0] && step <= exercise.compass[voice][1] &&
      named.some(([letter, sign]) => letter === step % 7 && sign === alter)));
    let found = [[]];
    for (const list of lists) {
      found = found.flatMap((row) => list.filter((pitch) =>
        !row.length || midi(pitch) <= midi(row[row.length - 1])).map((pitch) => [...row, pitch]));
    }
    return found.filter((row) => !row.length || midi(row[row.length - 1]) >= midi(event.bass));
  };
  const midi = ([step, alter]) => 12 * (Math.floor(step / 7) + 1) + [0, 2, 4, 5, 7, 9, 11][step % 7] + alter;
  const empty = () => Object.fromEntries(exercise.voices.map((voice) => [voice, events.map(() => null)]));
  let steps = 0;
  const go = (work, n) => {
    if (n === events.length) return work;
    if (++steps > 900) return null;
    const { upper } = events[n];
    const rows = choices(n).map((row) => ({ row, cost: dice() * 4 + row.reduce((sum, [step], k) => {
      const before = n ? work[upper[k]][n - 1] : null;
      return sum + (before ? Math.abs(before[0] - step) : Math.abs(step - exercise.ours[upper[k]][n][0]) / 2);
    }, 0) })).sort((a, b) => a.cost - b.cost).slice(0, 24);
    for (const { row } of rows) {
      const next = { ...work };
      upper.forEach((voice, k) => { next[voice] = next[voice].map((old, at) => (at === n ? row[k] : old)); });
      if (error(next, n) || error(next, n - 1)) continue;
      const found = go(next, n + 1);
      if (found || steps > 900) return found;
    }
    return null;
  };
  return go(empty(), 0);
}
"""
"""A lawful setting of the exercise of a page, drawn by these dice; null where none was found soon."""

READ = """
(notes) => {
  const own = document.querySelector('.verset-player').verset.own, began = performance.now();
  const { work, late } = own.taking.read(notes);
  return { work, late, milliseconds: performance.now() - began };
}
"""
ERRORS = """
(work) => {
  const own = document.querySelector('.verset-player').verset.own;
  return own.exercise.events.map((_, n) => own.judge(n, work)
    .filter(({ severity }) => severity === "error").map(({ rule }) => rule).sort());
}
"""

LIVE = """
async ([notes, most]) => {
  const own = document.querySelector('.verset-player').verset.own, { taking } = own;
  const { transport } = own.player, { position } = transport, waits = [];
  own.player.toggle = () => {}; // nothing sounds: the clock of the take is set by hand
  taking.begin('line');
  const pause = (time) => new Promise((done) => setTimeout(done, time));
  const drawn = () => new Promise((done) => {
    const watch = new MutationObserver(() => { watch.disconnect(); done(performance.now()); });
    setTimeout(() => done(NaN), 3000);
    watch.observe(own.paper.element, { childList: true, subtree: true });
  });
  const acts = notes.flatMap(({ key, on, off }) => [[on, key, true], [off, key, false]])
    .sort((a, b) => a[0] - b[0]);
  let before = acts[0][0];
  for (const [k, [time, key, down]] of acts.entries()) {
    await pause(Math.min(most, (time - before) * 1000));
    before = time;
    transport.position = () => time;
    if (!down) { taking.release(key); continue; }
    const shown = drawn(), began = performance.now();
    taking.press(key, false);
    const next = acts.slice(k + 1).find((act) => act[2]);
    if (next && next[0] - time < 0.1) continue;
    waits.push(await shown - began);
  }
  const work = own.work;
  taking.end();
  transport.position = position;
  delete own.player.toggle;
  return { waits, work: own.work, live: work };
}
"""
"""Plays a take to the line, with gaps between keys cut to so many milliseconds; for each stroke those from
its last key until the paper shows it with its verdicts."""

Work = dict[str, list[Any]]


def midi(pitch: Sequence[int]) -> int:
    step, alter = pitch
    return 12 * (step // 7 + 1) + (0, 2, 4, 5, 7, 9, 11)[step % 7] + alter


def performance(
    exercise: Mapping[str, Any],
    work: Work,
    dice: random.Random,
    *,
    jitter: float = 0.03,
    rolled: float = 0.08,
    drift: float = 0.15,
    line: bool = False,
) -> list[dict[str, float]]:
    """A setting as keys with times: each note off by chance (`jitter` seconds, normal), chords rolled from
    below, the speed wandering by a share `drift`, some notes held where they repeat, all let go a little
    before or after the next. `line`: the given line is played too."""
    events = exercise["events"]
    phase, roll = dice.random() * 6, dice.random() * rolled
    end = events[-1]["end"]
    holds = dice.random()

    def played(time: float) -> float:
        wave = math.sin(phase + time * 2 * math.pi / 20) - math.sin(phase)
        return time + drift * wave * 20 / (2 * math.pi)

    notes: list[dict[str, float]] = []
    sounding: dict[str, dict[str, float]] = {}
    for n, event in enumerate(events):
        voices = [*event["upper"], *([event["voice"]] if line else [])]
        for place, voice in enumerate(reversed(voices)):
            pitch = event["bass"] if voice == event["voice"] else work[voice][n]
            if pitch is None:
                continue
            on = played(event["start"]) + roll * place / max(1, len(voices) - 1)
            on += max(-0.09, min(0.09, dice.gauss(0, jitter)))
            off = played(min(end, event["end"])) + dice.uniform(-0.12, 0.04)
            before = sounding.get(voice)
            if before and before["key"] == midi(pitch) and (event["joined"] and dice.random() < holds):
                before["off"] = max(off, on + 0.1)
                continue
            note = {"key": midi(pitch), "on": round(max(0, on), 4), "off": round(max(off, on + 0.1), 4)}
            notes.append(note)
            sounding[voice] = note
    return one_finger_a_key(sorted(notes, key=lambda note: note["on"]))


def one_finger_a_key(notes: list[dict[str, float]]) -> list[dict[str, float]]:
    """A key can be down once: what is struck again was let go before; two voices on one key are one note, and
    the key stays down as long as either of them needs it."""
    last: dict[float, dict[str, float]] = {}
    found = []
    for note in notes:
        before = last.get(note["key"])
        if before and note["on"] - before["on"] < 0.2:
            before["off"] = max(before["off"], note["off"])
            continue
        if before and before["off"] > note["on"] - 0.02:
            note["off"] = max(note["off"], before["off"])
            before["off"] = max(before["on"] + 0.03, note["on"] - 0.02)
        found.append(note)
        last[note["key"]] = note
    return found


def ornamented(notes: list[dict[str, float]], dice: random.Random) -> list[dict[str, float]]:
    """Mordents on some of the longer notes: the note, its neighbour, the note, in 0.16 seconds."""
    found = []
    for note in notes:
        if note["off"] - note["on"] < 0.45 or dice.random() > 0.12:
            found.append(note)
            continue
        on, beside = note["on"], note["key"] + dice.choice((1, 2, -1, -2))
        found.append({"key": note["key"], "on": on, "off": on + 0.07})
        found.append({"key": beside, "on": on + 0.08, "off": on + 0.15})
        found.append({**note, "on": on + 0.16})
    return sorted(found, key=lambda note: note["on"])


def planted(exercise: Mapping[str, Any], work: Work, dice: random.Random) -> tuple[Work, int]:
    """The setting with one note a step off, and at which sonority."""
    places = [(n, v) for n, event in enumerate(exercise["events"]) for v in event["upper"]]
    n, voice = dice.choice(places)
    step, _ = work[voice][n]
    moved = step + dice.choice((-1, 1))
    row = [*work[voice]]
    row[n] = [moved, exercise["signature"][moved % 7]]
    return {**work, voice: row}, n


def agreement(exercise: Mapping[str, Any], work: Work, found: Work) -> tuple[int, int]:
    """How many notes of a setting came back in their voice and place, of how many."""
    places = [(n, v) for n, event in enumerate(exercise["events"]) for v in event["upper"]]
    same = sum(
        found[v][n] is not None and work[v][n] is not None and midi(found[v][n]) == midi(work[v][n])
        for n, v in places
    )
    return same, len(places)


def keys_at(exercise: Mapping[str, Any], work: Work) -> list[set[int]]:
    """The keys of each sonority, whichever voices have them."""
    return [
        {midi(work[v][n]) for v in event["upper"] if work[v][n]} for n, event in enumerate(exercise["events"])
    ]
