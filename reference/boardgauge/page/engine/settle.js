// Settle an instant: everything due at one moment, taken together.
//
// Law of this file: from a configuration and what happens to the next configuration, and nothing kept in between. All
// kept things look at the same picture and move together; the picture is drawn again; they look again, until none
// moves. Then, events gone, they look once more; if something moves, a further instant follows at the same time.
//
// A configuration is what a board is in, apart from how long: `powered`, `levels` as taken in, `places` of the regions,
// `running` and `full` by timing, `settings` as read, `chosen` by timing. It is never changed, only replaced.

const MOST_INSTANTS = 64;
const THE_INSTANT = { kind: "instant", which: [] };

class Engine {
  constructor(table) {
    this.table = table;
    this.painter = new Painter(table);
    this.movers = table.regions.map((region) => new Mover(region));
    this.begins = table.delays.map((row) => happens(row.begins));
    this.fors = table.followed.filter((row) => row.kind === "for").map((row) => [row.timing, condition(row.code)]);
    this.lines = table.lamps.map((lamp) => lamp.lines.map((line) => condition(line.when)));
    this.speedUps = table.speed_ups.map((row) => condition(row.while));
    this.watches = table.watches.map((row) => [happens(row.breaks), condition(row.unless)]);
    this.positions = table.settings.map((row) => row.positions.map((position) => condition(position.when)));
    this.pictures = new WeakMap();
  }

  // -- reading a configuration ------------------------------------------------------------------------------------

  // Give the configuration of a board without power; `settings` are positions by number.
  off(settings = this.table.settings.map((row) => row.factory)) {
    const none = this.table.timings.map(() => false);
    return {
      powered: false,
      levels: this.table.levels.map((level) => level.at_rest),
      places: this.table.regions.map(() => 0),
      running: none,
      full: none,
      settings,
      chosen: this.table.timings.map(() => 0),
    };
  }

  picture(config) {
    let found = this.pictures.get(config);
    if (found === undefined) {
      const { levels, places, running, full } = config;
      found = config.powered ? this.painter.settled(levels, places, running, full) : this.painter.atRest();
      this.pictures.set(config, found);
    }
    return found;
  }

  // Give what each output is commanded to be.
  outputs(config) {
    const picture = this.picture(config);
    return this.table.outputs.map((row) => config.powered && picture[row.slot]);
  }

  // Give the number of the line each lamp shows; -1 without power.
  lampLines(config) {
    const picture = this.picture(config);
    return this.lines.map((lines) =>
      config.powered ? lines.findIndex((holds) => holds === null || holds(picture)) : -1,
    );
  }

  spedUp(config, index) {
    return config.powered && this.speedUps[index](this.picture(config));
  }

  // -- stepping ---------------------------------------------------------------------------------------------------

  // Give the configuration after a loss of power: all gone but what is kept without power, and its timings.
  losePower(config) {
    const running = this.table.timings.map(() => false);
    const keep = (timing) => {
      running[timing] = config.running[timing];
    };
    this.table.delays.filter((row) => row.kept_without_power).forEach((row) => keep(row.timing));
    this.table.regions
      .filter((row) => row.kept_without_power && row.kind !== "accumulator")
      .forEach((row) => row.timings.forEach(keep));
    const places = this.table.regions.map((row, index) => (row.kept_without_power ? config.places[index] : 0));
    return { ...this.off(config.settings), places, running, chosen: config.chosen };
  }

  // Take in all that is due at one moment and settle. Throws CannotSettle where the spec does not come to rest.
  settle(config, levels, over = [], dropped = [], powerUp = false) {
    const made = {
      begun: new Map(), paused: new Map(), emptied: new Set(), counted: new Map(), forgot: new Set(),
      broken: new Set(), flips: this.table.outputs.map(() => 0),
    };
    let settled = this.instant(config, levels, { powerUp, over: new Set(over) }, dropped, made);
    for (let instants = 1; ; instants += 1) {
      const further = this.instant(settled, levels, NO_FACTS, [], made);
      if (sameList(further.places, settled.places)) break;
      if (instants >= MOST_INSTANTS) {
        throw new CannotSettle("the rules keep moving one another without any time passing");
      }
      settled = further;
    }
    const twice = made.flips.findIndex((flips) => flips > 1);
    if (twice >= 0) throw new CannotSettle(`${this.table.outputs[twice].id} changes and changes back in no time`);
    const was = this.outputs(config);
    const is = this.outputs(settled);
    return {
      config: settled,
      begun: new Map([...made.begun].filter(([timing]) => settled.running[timing])),
      paused: new Map([...made.paused].filter(([timing]) => !settled.running[timing])),
      emptied: made.emptied,
      counted: made.counted,
      forgot: made.forgot,
      broken: [...made.broken],
      commands: is.flatMap((on, index) => (on === was[index] ? [] : [[index, on]])),
      moved: settled.places.flatMap((place, index) =>
        place === config.places[index] ? [] : [[index, config.places[index], place]],
      ),
    };
  }

  instant(config, levels, facts, dropped, made) {
    const before = this.picture(config);
    const start = config.places.map((place, index) => (dropped.includes(index) ? Math.max(0, place - 1) : place));
    const [places, now] = this.lookUntilRest(config, levels, facts, start, before);
    this.table.outputs.forEach((row, index) => {
      if (now[row.slot] !== (before[row.slot] && config.powered)) made.flips[index] += 1;
    });
    this.watches.forEach(([breaks, unless], index) => {
      if (breaks(now, before, facts) && !(unless !== null && unless(now))) made.broken.add(index);
    });
    return this.timings(config, levels, start, places, { now, before, facts, running: config.running }, made);
  }

  lookUntilRest(config, levels, facts, start, before) {
    let places = start;
    const journeys = start.map((place) => [place]);
    const events = [];
    for (;;) {
      const now = this.painter.draw(levels, places, before, facts, config.running, config.full);
      const look = { now, before, facts, running: config.running };
      const moved = this.movers.map((mover, index) =>
        mover.move(look, places[index], start[index], journeys[index].length > 1),
      );
      if (sameList(moved, places)) {
        for (const [index, happened] of events) {
          if (places[index] !== start[index] && !happened(now, before, facts)) {
            throw new CannotSettle(`${this.table.regions[index].rule} moved on an event that did not last`);
          }
        }
        return [places, now];
      }
      moved.forEach((place, index) => {
        if (place === places[index]) return;
        this.travel(index, place, journeys[index]);
        const event = this.movers[index].movedByEvent(look, places[index], place);
        if (event !== null) events.push([index, event]);
      });
      places = moved;
    }
  }

  travel(index, place, journey) {
    const region = this.table.regions[index];
    if (region.kind === "sequence") {
      if (journey.slice(1).includes(place) || (place && place === journey[0])) {
        throw new CannotSettle(`${region.rule} comes to ${region.places[place]} a second time in one instant`);
      }
    } else if (journey.length > 2) {
      throw new CannotSettle(`${region.rule} moves a third time in one instant`);
    }
    journey.push(place);
  }

  // -- timings, on the settled picture ----------------------------------------------------------------------------

  timings(config, levels, start, places, look, made) {
    const { now, before, facts } = look;
    const running = this.table.timings.map(() => false);
    const full = this.table.timings.map(() => false);
    const begun = [];
    this.table.delays.forEach((delay, index) => {
      if (!now[delay.slot]) return;
      running[delay.timing] = true;
      const ran = look.running[delay.timing] && !isOver(look, delay.timing);
      if (!ran || (delay.starts_over && this.begins[index](now, before, facts))) {
        begun.push([delay.timing, this.begins[index]]);
      }
    });
    for (const [timing, holds] of this.fors) {
      if (!holds(now)) continue;
      if (config.full[timing] || isOver(look, timing)) {
        full[timing] = true;
      } else {
        running[timing] = true;
        if (!look.running[timing]) begun.push([timing, asEvent(holds)]);
      }
    }
    this.movers.forEach((mover, index) => {
      this.regionTimings(mover, index, start[index], places[index], look, running, begun, made);
    });
    for (const [timing, event] of begun) made.begun.set(timing, this.cause(event, look));
    const fresh = begun.map(([timing]) => timing);
    for (const index of made.counted.keys()) fresh.push(...this.table.regions[index].timings);
    const settings = facts.powerUp ? this.readSettings(config.settings, now) : config.settings;
    const chosen = this.choose(config.chosen, settings, now, fresh, facts.powerUp);
    return { powered: true, levels, places, running, full, settings, chosen };
  }

  regionTimings(mover, index, old, place, look, running, begun, made) {
    const { kind, timings, step_timings: stepTimings } = mover.region;
    const into = mover.into === null ? null : mover.into.happens;
    if ((kind === "mode" || kind === "lockout" || kind === "sequence") && place) {
      for (const timing of kind === "sequence" ? [stepTimings[place]] : timings) {
        if (timing < 0) continue;
        if (old !== place) {
          begun.push([timing, old === 0 && place === 1 ? into : null]);
          running[timing] = true;
        } else if (look.running[timing] && !isOver(look, timing)) {
          running[timing] = true;
        }
      }
    } else if (kind === "count") {
      if (sees(look, mover.out)) {
        made.forgot.add(index);
        made.counted.delete(index);
      } else if (sees(look, mover.into)) {
        made.counted.set(index, this.cause(into, look));
      }
    } else if (kind === "accumulator") {
      const [timing] = timings;
      const emptied = sees(look, mover.out);
      if (emptied) made.emptied.add(index);
      // A reset that stands keeps it from adding up; one that only happens stands at no time.
      const adds = (now) => mover.addsWhile(now) && !(mover.out !== null && mover.out.happens(now, now, NO_FACTS));
      if (adds(look.now) && !place) {
        running[timing] = true;
        if (!look.running[timing] || emptied) begun.push([timing, asEvent(adds)]);
      } else if (look.running[timing]) {
        made.paused.set(timing, this.cause((now, before) => adds(before) && !adds(now), look));
      }
    }
  }

  // -- settings ---------------------------------------------------------------------------------------------------

  readSettings(settings, now) {
    return settings.map((old, index) => this.readSetting(index, old, now));
  }

  readSetting(index, old, now) {
    const found = this.positions[index].findIndex((holds) => holds !== null && holds(now));
    return found < 0 ? old : found;
  }

  choose(chosen, settings, now, fresh, powerUp) {
    return chosen.map((old, timing) => {
      const setting = this.table.timings[timing].setting;
      if (setting === null || !(powerUp || fresh.includes(timing))) return old;
      const always = this.table.settings[setting].read === "always";
      return always ? this.readSetting(setting, settings[setting], now) : settings[setting];
    });
  }

  // -- what set a timing going ------------------------------------------------------------------------------------

  // It was the input if its change alone would have done it; else the output whose change would have; else the instant.
  cause(event, look) {
    if (event === null || look.facts.powerUp) return THE_INSTANT;
    const { now, before } = look;
    const levelSlots = this.table.levels.map((level) => level.slot);
    const outputSlots = this.table.outputs.map((row) => row.slot);
    const alone = (slots, base, group) => {
      const mixed = base.slice();
      for (const index of group) mixed[slots[index]] = now[slots[index]];
      return event(this.painter.conditionsAgain(mixed), before, NO_FACTS);
    };
    const changedIn = (slots) => slots.flatMap((slot, index) => (now[slot] === before[slot] ? [] : [index]));
    const inputs = oneByOneThenAll(changedIn(levelSlots)).find((group) => alone(levelSlots, before, group));
    if (inputs !== undefined) return { kind: "inputs", which: inputs };
    const inputsNew = before.slice();
    for (const slot of levelSlots) inputsNew[slot] = now[slot];
    const outputs = oneByOneThenAll(changedIn(outputSlots)).find((group) => alone(outputSlots, inputsNew, group));
    return outputs === undefined ? THE_INSTANT : { kind: "outputs", which: outputs };
  }
}

function asEvent(holds) {
  return (now, before) => holds(now) && !holds(before);
}

function oneByOneThenAll(items) {
  const singles = items.map((item) => [item]);
  return items.length > 1 ? [...singles, items] : singles;
}

function sameList(one, other) {
  return one.length === other.length && one.every((item, index) => item === other[index]);
}
