// A person at the board: what was done to it, what can be undone, and what comes next.
//
// Law of this file: the board is only ever fed and advanced. Changes so soon after one another that the filter or
// `same_moment` ties them together are fed together from the moment of the first, so that a flicker too short to be
// seen is not seen, as on a real board. What a person does comes after what happened last, never at the same moment,
// unless it is done as one. Nothing here knows of a screen or a clock.

const MOST_UNDOS = 300;
const LONGEST_WAIT = 100 * 3600 * 1e6;
const MOST_TRIED = 2000;
// What a hand takes from one thing to the next.
const HAND = 500000;

class Session {
  constructor(table, way = "nominal") {
    this.table = table;
    this.engine = new Engine(table);
    this.past = [];
    this.future = [];
    this.begin(way);
  }

  // Begin with a board that is off, at the positions of the settings that were chosen last.
  begin(way, settings = this.board?.config.settings) {
    this.board = new PlayedBoard(this.engine, way, settings);
    this.groups = [];
    this.trouble = null;
    this.turned = false;
    const first = {};
    this.table.inputs.forEach((row, index) => {
      if (row.slider) first[index] = [[0, sliderValue(row.slider[0], row.slider[0].first)]];
    });
    this.board.feed({ inputs: first });
  }

  // Begin anew, as a step that can be undone.
  startOver(way, label) {
    this.remember(label);
    this.begin(way);
  }

  get way() {
    return this.board.way;
  }

  get now() {
    return this.board.now;
  }

  get powered() {
    return this.board.terminals.powerAt(this.now);
  }

  valueOf(input) {
    return this.board.terminals.valueAt(input, this.now);
  }

  // -- doing ------------------------------------------------------------------------------------------------------

  // Change inputs and the supply, all at this moment: [{ input, value }, ...]; the supply is the input "power".
  change(changes, label) {
    this.remember(label);
    this.reach();
    this.take(changes);
  }

  // Let the time of a hand go by, once or more, if something has happened at this very moment.
  reach() {
    for (let tried = 0; tried < MOST_TRIED && this.trouble === null && this.isBusy(); tried += 1) {
      this.run(this.now + HAND);
    }
  }

  isBusy() {
    const { story, now } = this.board;
    const done = this.groups.some((group) => group.acts.some((act) => act.time === now));
    return done || (story.length > 0 && story[story.length - 1].time === now);
  }

  // Press a button for a while and let it go, as one step.
  tap(input, lasts, label) {
    this.remember(label);
    this.reach();
    this.take([{ input, value: true }]);
    this.run(this.now + lasts);
    this.reach();
    this.take([{ input, value: false }]);
  }

  // Take in changes at this moment, at which nothing has happened yet.
  take(changes) {
    const now = this.now;
    const acts = changes.map(({ input, value }) => ({ time: now, input, value }));
    let first = this.groups.findIndex((group) => group.acts.some((act) => acts.some((one) => this.tied(act, one))));
    if (first < 0) {
      first = this.groups.length;
      // The moment itself is still to come: what comes at a terminal is looked at as it comes.
      const before = this.board.copy();
      before.now = Math.max(0, now - 1);
      this.groups.push({ before, acts: [] });
    }
    const joined = { before: this.groups[first].before, acts: this.groups.slice(first).flatMap((g) => g.acts) };
    joined.acts.push(...acts);
    this.groups = [...this.groups.slice(0, first), joined];
    this.board = joined.before.copy();
    this.attempt(() => {
      this.board.feed(fedBy(joined.acts));
      this.board.advance(now);
    });
    this.forgetOld();
  }

  // Tell whether a change made earlier and one made now have to be taken together.
  tied(earlier, later) {
    const apart = later.time - earlier.time;
    // What a slow board has not taken in yet is decided anew with what came after it.
    if (apart === 0 || (this.way === "latest" && apart <= this.slowest)) return true;
    if (earlier.input === later.input) {
      const { rides_through: rides } = this.table.board;
      return apart <= (later.input === "power" ? rides[1] : this.table.inputs[later.input].filter[1]);
    }
    return earlier.input !== "power" && later.input !== "power" && apart < this.table.board.same_moment;
  }

  get slowest() {
    return Math.max(0, ...this.table.inputs.map((row) => row.responds_within));
  }

  forgetOld() {
    const { same_moment: moment, rides_through: rides } = this.table.board;
    const filters = this.table.inputs.map((row) => row.filter[1]);
    const longest = Math.max(moment, rides[1], this.slowest, ...filters);
    this.groups = this.groups.filter((group) => group.acts.some((act) => this.now - act.time <= longest));
  }

  // Turn the dial of a setting. One read at power-up can be turned while the supply is off.
  turn(setting, position, label) {
    this.remember(label);
    this.groups = [];
    this.turned ||= this.board.story.length > 0;
    this.board.turn(setting, position);
  }

  mayTurn(setting) {
    return this.table.settings[setting].read === "always" || !this.board.config.powered;
  }

  // Let time go by up to a moment, as a clock does; nothing to undo.
  run(to) {
    this.attempt(() => this.board.advance(to));
    this.forgetOld();
  }

  // Let time go by up to a moment, as a step that can be undone.
  go(to, label) {
    this.remember(label);
    this.run(to);
  }

  attempt(deed) {
    if (this.trouble !== null) return;
    try {
      deed();
    } catch (error) {
      if (!(error instanceof CannotSettle || error instanceof TooShort || error instanceof MissingValue)) throw error;
      this.trouble = error.message;
    }
  }

  // -- undoing ----------------------------------------------------------------------------------------------------

  remember(label) {
    this.past.push({ ...this.state(), label });
    if (this.past.length > MOST_UNDOS) this.past.shift();
    this.future = [];
  }

  state() {
    const { board, groups, trouble, turned } = this;
    return { board: board.copy(), groups: groups.slice(), trouble, turned };
  }

  restore({ board, groups, trouble, turned }) {
    this.board = board.copy();
    this.turned = turned;
    this.groups = groups;
    this.trouble = trouble;
  }

  // Go back to just before the last thing done; gives what it was, null where there is nothing.
  undo() {
    const last = this.past.pop();
    if (last === undefined) return null;
    this.future.push({ ...this.state(), label: last.label });
    this.restore(last);
    return last.label;
  }

  redo() {
    const next = this.future.pop();
    if (next === undefined) return null;
    this.past.push({ ...this.state(), label: next.label });
    this.restore(next);
    return next.label;
  }

  // -- looking ahead ----------------------------------------------------------------------------------------------

  // Give a session of its own in the same state, to try things on.
  trial() {
    const made = Object.assign(Object.create(Session.prototype), this);
    made.board = this.board.copy();
    made.groups = this.groups.slice();
    made.past = [];
    made.future = [];
    return made;
  }

  // Give the time of the next thing that a person would notice or be told of; null where nothing comes by itself.
  nextThing() {
    const board = this.board.copy();
    const shows = board.showing.next(board.now);
    try {
      for (let tried = 0; tried < MOST_TRIED; tried += 1) {
        const due = board.next();
        if (due === null || due > this.now + LONGEST_WAIT) break;
        if (shows !== null && shows < due) return shows;
        const before = board.story.length;
        board.advance(due, 1);
        const entries = board.story.slice(before);
        if (entries.some((entry) => told(this.table, this.engine, entry, "°C") !== null)) return board.now;
      }
    } catch (error) {
      if (!(error instanceof CannotSettle)) throw error;
      return board.now;
    }
    return shows;
  }

  // -- what runs --------------------------------------------------------------------------------------------------

  // Give the timings that run, the counts that hold something and the accumulators, for people.
  timers() {
    const { board, table } = this;
    const row = (going, more) => {
      const boardTime = board.time.boardTime(going);
      const [over, under, seconds] = going.draw;
      return {
        timing: going.timing,
        name: table.timings[going.timing].name,
        clause: table.timings[going.timing].clause,
        role: table.timings[going.timing].role,
        elapsed: Math.max(0, going.elapsed(boardTime, board.now)),
        lasts: over / under + seconds,
        left: going.since === null ? null : Math.max(0, going.end - board.now),
        rate: boardTime.rate,
        ...more,
      };
    };
    const found = [];
    for (const [timing, going] of [...board.time.going].sort(([a], [b]) => a - b)) {
      if (!table.timings[timing].hidden) found.push(row(going, {}));
    }
    table.regions.forEach((region, index) => {
      if (region.kind !== "count") return;
      const events = (board.time.windows.get(index) ?? []).map((going) => row(going, {}));
      found.push({ count: true, name: region.name, clause: region.clause, at: board.config.places[index],
        limit: region.places.length - 1, events });
    });
    return found;
  }
}

// Give what to feed for changes in order; of two of one input at one time the later stands.
function fedBy(acts) {
  const fed = { power: [], inputs: {} };
  for (const { time, input, value } of acts) {
    const edges = input === "power" ? fed.power : (fed.inputs[input] ??= []);
    if (edges.length && edges[edges.length - 1][0] === time) edges.pop();
    edges.push([time, value]);
  }
  return fed;
}

// Give the value of a sensor, [over, under] in its own unit, for a number of steps of a slider.
function sliderValue(slider, steps) {
  const [scaleOver, scaleUnder] = slider.scale;
  const [offsetOver, offsetUnder] = slider.offset;
  return [offsetOver * scaleUnder + scaleOver * steps * offsetUnder, offsetUnder * scaleUnder];
}

// Give the number of steps of a slider nearest to a value.
function sliderSteps(slider, [over, under]) {
  const value = over / under;
  return Math.round((value - slider.offset[0] / slider.offset[1]) / (slider.scale[0] / slider.scale[1]));
}
