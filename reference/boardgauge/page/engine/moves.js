// How each kind of kept thing moves in one look.
//
// Law of this file: a lockout in doubt trips; everything else in doubt ends. A mover reads one look and says where the
// thing is after it; none remembers anything. A look is the picture, the one before the instant, the facts, and which
// timings were running.

class Mover {
  constructor(region) {
    this.region = region;
    this.into = trigger(region.into);
    this.out = trigger(region.out);
    this.lasts = region.lasts;
    this.atLeast = region.at_least;
    this.untils = region.untils.map(condition);
    this.addsWhile = condition(region.adds_while);
  }

  // Give the place after a look; `start` is the place as the instant began, `moved` whether it has moved since.
  move(look, place, start, moved) {
    switch (this.region.kind) {
      case "lockout":
        return this.lockout(look, place, start);
      case "mode":
      case "output":
        return this.mode(look, place, start);
      case "sequence":
        return this.sequence(look, place, moved);
      case "count":
        if (sees(look, this.out)) return 0;
        return !moved && sees(look, this.into) ? Math.min(place + 1, this.region.places.length - 1) : place;
      case "accumulator":
        if (sees(look, this.out)) return 0;
        return isOver(look, this.lasts) ? 1 : place;
      case "toggle":
        return !moved && sees(look, this.into) ? 1 - start : place;
      default:
        throw new Error(`${this.region.kind} is no kind of kept thing`);
    }
  }

  lockout(look, place, start) {
    if (sees(look, this.into)) return 1;
    // Not in the instant in which it tripped: a lockout that a reset clears at once would never show.
    const timeIsOver = this.lasts !== null && (isOver(look, this.lasts) || !look.running[this.lasts]);
    return place && start && (timeIsOver || sees(look, this.out)) ? 0 : place;
  }

  mode(look, place, start) {
    const stillHeld = this.atLeast !== null && look.running[this.atLeast] && !isOver(look, this.atLeast);
    const held = place && this.atLeast !== null && (!start || stillHeld);
    if (isOver(look, this.lasts) || (!held && sees(look, this.out))) return 0;
    return place || sees(look, this.into) ? 1 : 0;
  }

  sequence(look, place, moved) {
    if (sees(look, this.out)) return 0;
    if (place === 0) return !moved && sees(look, this.into) ? 1 : 0;
    const until = this.untils[place];
    if (until !== null && until(look.now)) return this.region.thens[place];
    return isOver(look, this.region.step_timings[place]) ? this.region.if_nots[place] : place;
  }

  // Give the trigger whose event made a move of this look, null where a condition or a time made it.
  movedByEvent(look, old, place) {
    const kind = this.region.kind;
    let entering = (old === 0 && place > 0) || kind === "count" || kind === "toggle";
    if (kind === "count" && place === 0) entering = false;
    if (!entering && (isOver(look, this.lasts) || (kind === "sequence" && place !== 0))) return null;
    const made = entering ? this.into : this.out;
    if (made === null || made.byEvent === null) return null;
    return made.byEvent(look.now, look.before, look.facts) ? made.happens : null;
  }
}

function isOver(look, timing) {
  return timing !== null && timing >= 0 && look.facts.over.has(timing);
}

function sees(look, made) {
  return made !== null && made.happens(look.now, look.before, look.facts);
}
