// The picture of a moment: every followed thing, worked out from the given and the kept.
//
// Law of this file: followed things are worked out in the order of what reads what. Delays that read one another in a
// circle start from "not begun" and are worked out again until nothing changes; if one round a delay does not do, the
// spec contradicts itself.

// The rules of a spec do not come to rest in an instant, or contradict each other in it.
class CannotSettle extends Error {}

class Painter {
  constructor(table) {
    this.table = table;
    this.draws = new Map();
    this.delaySlots = new Set();
    this.conditionSlots = new Set();
    for (const row of table.followed) {
      const holds = condition(row.code);
      if (row.kind === "for") {
        this.draws.set(row.slot, (now, before, facts, running, full) => {
          now[row.slot] = facts.over.has(row.timing) || (full[row.timing] && holds(now));
        });
      } else {
        this.draws.set(row.slot, (now) => {
          now[row.slot] = holds(now);
        });
      }
      if (row.kind === "condition") this.conditionSlots.add(row.slot);
    }
    for (const row of table.delays) this.addDelay(row);
    this.drawAll = this.plan(() => true);
    this.drawSettled = this.plan((slot) => !this.delaySlots.has(slot));
    this.drawConditions = this.plan((slot) => this.conditionSlots.has(slot));
  }

  addDelay(row) {
    const begins = happens(row.begins);
    const cut = happens(row.cut_by);
    this.delaySlots.add(row.slot);
    this.draws.set(row.slot, (now, before, facts, running) => {
      const active = begins(now, before, facts) || (running[row.timing] && !facts.over.has(row.timing));
      now[row.slot] = active && !(cut !== null && cut(now, before, facts));
    });
  }

  // Give what to draw in order, of the slots that are wanted; a circle that is wanted whole stays one.
  plan(wanted) {
    return this.table.groups.map((group) => {
      const slots = group.slots.filter(wanted);
      return { slots, circle: group.circle && slots.length === group.slots.length };
    });
  }

  // Give the picture in which an instant is looked at.
  draw(levels, places, before, facts, running, full) {
    const now = this.base(levels, places);
    for (const { slots, circle } of this.drawAll) {
      if (circle) this.drawCircle(slots, now, before, facts, running, full);
      else for (const slot of slots) this.draws.get(slot)(now, before, facts, running, full);
    }
    return now;
  }

  // Give the picture of a settled moment, in which nothing happens.
  settled(levels, places, running, full) {
    const now = this.base(levels, places);
    for (const row of this.table.delays) now[row.slot] = running[row.timing];
    for (const { slots } of this.drawSettled) {
      for (const slot of slots) this.draws.get(slot)(now, now, NO_FACTS, running, full);
    }
    return now;
  }

  // Give the picture before power-up: every input at rest, every rule and output off.
  atRest() {
    const levels = this.table.levels.map((level) => level.at_rest);
    return this.conditionsAgain(this.base(levels, this.table.regions.map(() => 0)));
  }

  // Work out the named conditions of a made-up picture again, in place.
  conditionsAgain(mixed) {
    for (const { slots, circle } of this.drawConditions) {
      if (!circle) for (const slot of slots) this.draws.get(slot)(mixed, mixed, NO_FACTS, [], []);
    }
    return mixed;
  }

  // Give a picture with the given and the kept filled in, and every followed thing still off.
  base(levels, places) {
    const now = new Array(this.table.width).fill(false);
    this.table.levels.forEach((level, index) => {
      now[level.slot] = levels[index];
    });
    this.table.regions.forEach((region, index) => {
      const place = places[index];
      if (region.kind === "count") {
        now[region.slot] = place === region.places.length - 1;
      } else {
        now[region.slot] = place > 0;
        if (region.kind === "sequence" && place) now[region.step_slots[place - 1]] = true;
      }
    });
    return now;
  }

  drawCircle(slots, now, before, facts, running, full) {
    const delays = slots.filter((slot) => this.delaySlots.has(slot));
    for (const row of this.table.delays) {
      if (delays.includes(row.slot)) now[row.slot] = running[row.timing] && !facts.over.has(row.timing);
    }
    const others = slots.filter((slot) => !this.delaySlots.has(slot));
    for (let round = 0; round < delays.length + 2; round += 1) {
      const earlier = slots.map((slot) => now[slot]);
      // What lies between the delays follows from them; each of these passes carries it one step further.
      slots.forEach(() => others.forEach((slot) => this.draws.get(slot)(now, before, facts, running, full)));
      delays.forEach((slot) => this.draws.get(slot)(now, before, facts, running, full));
      if (slots.every((slot, index) => now[slot] === earlier[index])) return;
    }
    throw new CannotSettle("a delay begins only if it does not begin");
  }
}
