// Which changes at a terminal a board takes in.
//
// Law of this file: a change shorter than the filter's first figure is never taken in, one longer than its second
// always, one between them either way; a change that counts keeps its own time at the terminal. What is left open is
// decided by the way the board runs: earliest boards see everything they may, latest boards as little as they may.

// Give the changes of one level, [[time, value], ...] in order, that a board takes in: [{ level, value, raw }, ...].
function seenChanges(level, before, edges, filter, way) {
  const changes = settledBursts(before, markDroppable(filtered(before, edges, filter), filter), filter, way);
  const found = [];
  let value = before;
  for (let index = 0; index < changes.length; index += 1) {
    const change = changes[index];
    if (change.value === value) continue;
    const following = changes[index + 1];
    if (change.droppable && following !== undefined) {
      const lasted = following.time - change.time;
      if (lasted <= filter[1] && !isSeen(lasted, filter, way)) {
        index += 1;
        continue;
      }
    }
    value = change.value;
    found.push({ level, value, raw: change.time });
  }
  return found;
}

// Tell whether a change that may go unseen is seen; it lasted so long.
function isSeen(lasted, filter, way) {
  return way === "nominal" ? 2 * lasted >= filter[0] + filter[1] : way === "earliest";
}

// Tell whether a gap of the supply is a loss of power.
function losesPower(gap, ridesThrough, way) {
  if (gap < ridesThrough[0]) return false;
  return gap > ridesThrough[1] || isSeen(gap, ridesThrough, way);
}

// Join changes each of which is too short to count alone: { from, to, value }, value null where it may be anything.
function filtered(initial, edges, filter) {
  const changes = [];
  let value = initial;
  for (let index = 0; index < edges.length; ) {
    let last = index;
    while (last + 1 < edges.length && edges[last + 1][0] - edges[last][0] < filter[0]) last += 1;
    changes.push(...burst(value, edges.slice(index, last + 1), filter));
    value = edges[last][1];
    index = last + 1;
  }
  return changes;
}

function burst(value, run, filter) {
  const [first] = run[0];
  const [last, lastValue] = run[run.length - 1];
  const anything = { from: first, to: first, value: null };
  const rest = { from: first, to: last, value: lastValue };
  if (run.length === 1) return [rest];
  if (lastValue !== value) return last - first > filter[1] ? [anything, rest] : [rest];
  return last - first < filter[0] ? [] : [anything, rest];
}

// Decide what a contact that bounces amounts to: one change, a pulse, or nothing.
function settledBursts(before, changes, filter, way) {
  const edge = (change) => (way === "earliest" ? change.from : change.to);
  const found = [];
  let value = before;
  for (let index = 0; index < changes.length; index += 1) {
    let change = changes[index];
    if (change.value !== null) {
      found.push({ time: edge(change), value: change.value, droppable: change.droppable });
    } else {
      const { from } = change;
      index += 1;
      change = changes[index];
      if (change.value !== value) {
        found.push({ time: edge(change), value: change.value, droppable: change.droppable });
      } else if (isSeen(change.to - from, filter, way)) {
        found.push({ time: from, value: !value, droppable: false });
        found.push({ time: change.to, value: change.value, droppable: change.droppable });
      }
    }
    value = change.value;
  }
  return found;
}

function markDroppable(changes, filter) {
  return changes.map((change, index) => {
    const until = index + 1 < changes.length ? changes[index + 1].from : Infinity;
    return { ...change, droppable: until - change.to <= filter[1] && filter[1] > 0 };
  });
}

// Mark the arrivals that a board must take as one moment: all of a group inside `sameMoment`, no level twice.
function moments(ordered, sameMoment) {
  const marks = ordered.map(() => -1);
  if (!sameMoment) return marks;
  const groups = [];
  ordered.forEach((arrival, index) => {
    const last = groups[groups.length - 1];
    if (last !== undefined && arrival.raw - ordered[last[last.length - 1]].raw < sameMoment) last.push(index);
    else groups.push([index]);
  });
  groups.forEach((group, number) => {
    const raws = group.map((index) => ordered[index].raw);
    const levels = new Set(group.map((index) => ordered[index].level));
    const one = levels.size === group.length && Math.max(...raws) - Math.min(...raws) < sameMoment;
    if (group.length > 1 && one) for (const index of group) marks[index] = number;
  });
  return marks;
}
