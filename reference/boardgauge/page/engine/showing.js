// When what a board commands shows at its output terminals.
//
// Law of this file: a command shows in the instant or up to `lag` later, no later than its causes allow; in order. A
// change undone before it showed never shows. Outputs that a requirement keeps together stay together.

class Showing {
  constructor(table, way) {
    this.table = table;
    this.way = way;
    this.terminals = table.outputs.map(() => ({ shown: false, coming: null, changes: [] }));
  }

  copy() {
    const made = Object.assign(Object.create(Showing.prototype), this);
    made.terminals = this.terminals.map((one) => ({ ...one, changes: one.changes.slice() }));
    return made;
  }

  // Take in the commands [[output, on], ...] of one instant; gives when each shows.
  command(commands, time, deadline) {
    const shows = new Map();
    for (const [output] of commands) {
      const lag = time + this.table.outputs[output].lag;
      const last = deadline === null ? lag : Math.min(lag, Math.max(time, deadline));
      shows.set(output, this.way === "latest" ? last : time);
    }
    for (const { outputs, within } of this.table.together) {
      const members = outputs.filter((output) => shows.has(output));
      const last = Math.min(...members.map((output) => shows.get(output))) + within;
      for (const output of members) shows.set(output, Math.min(shows.get(output), last));
    }
    for (const [output, on] of commands) {
      const terminal = this.terminals[output];
      if (terminal.coming !== null && terminal.coming[0] < time) {
        terminal.changes.push(terminal.coming);
        [, terminal.shown] = terminal.coming;
        terminal.coming = null;
      }
      terminal.coming = on === terminal.shown ? null : [shows.get(output), on];
    }
    return shows;
  }

  // Give the changes of each output that showed up to the end, [[time, on], ...].
  edges(end) {
    return this.terminals.map(({ coming, changes }) =>
      coming !== null && coming[0] <= end ? [...changes, coming] : changes,
    );
  }

  // Give the next moment after now at which something shows, null where nothing is on its way.
  next(now) {
    const coming = this.terminals.flatMap((t) => (t.coming !== null && t.coming[0] > now ? [t.coming[0]] : []));
    return coming.length ? Math.min(...coming) : null;
  }

  // Give the outputs that are on or about to come on.
  notOff() {
    return this.terminals.flatMap(({ shown, coming }, index) =>
      shown || (coming !== null && coming[1]) ? [index] : [],
    );
  }
}
