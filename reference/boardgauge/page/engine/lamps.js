// What a lamp does: the lit and dark parts of the pattern its line asks for.
//
// Law of this file: a new pattern starts with a lit part, no later than `changes_within` after the change of line; the
// old one is cut off wherever it is. Without power a lamp is dark.

const DARK = [{ lit: false, nominal: null }];

// Give the stretches in which a lamp shows one line: { from, to, line }; `lines` are [[time, line], ...].
function lampStretches(lamp, lines, end, way) {
  const starts = [];
  for (const [time, line] of lines) {
    const start = line < 0 || way !== "latest" ? time : time + lamp.changes_within;
    // What has not started yet never does: the line has changed again.
    while (starts.length && starts[starts.length - 1].from >= time) starts.pop();
    starts.push({ from: start, line });
  }
  return starts.map((start, index) => ({ ...start, to: index + 1 < starts.length ? starts[index + 1].from : end + 1 }));
}

// Give when a lamp lights and goes dark up to the end, [[time, lit], ...], starting dark.
function lampEdges(lamp, lines, end, way) {
  const edges = [];
  let lit = false;
  for (const { from, to, line } of lampStretches(lamp, lines, end, way)) {
    const parts = line < 0 ? DARK : lamp.lines[line].parts;
    let time = from;
    for (let index = 0; time < to && time <= end; index = (index + 1) % parts.length) {
      const part = parts[index];
      if (part.lit !== lit) {
        edges.push([time, part.lit]);
        lit = part.lit;
      }
      if (part.nominal === null) break;
      time += part[way];
    }
  }
  return edges;
}

// Tell whether a pattern that began at `from` is lit at a time.
function isLit(parts, from, time, way) {
  const round = parts.reduce((sum, part) => sum + (part.nominal === null ? Infinity : part[way]), 0);
  let left = round === Infinity ? 0 : (time - from) % round;
  for (const part of parts) {
    if (part.nominal === null || left < part[way]) return part.lit;
    left -= part[way];
  }
  return false;
}
