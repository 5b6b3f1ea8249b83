// Codes to functions.
//
// Law of this file: a condition reads one picture; an event compares the picture with the one before the instant and
// with the facts of the instant. The codes are those of the table; no text is ever run.

"use strict";

// The facts of an instant in which nothing comes about by itself: no power-up, no timing over.
const NO_FACTS = { powerUp: false, over: new Set() };

// Give a condition as a function of one picture.
function condition(code) {
  if (code === null) return null;
  if (typeof code === "number") return (now) => now[code];
  const [word, ...rest] = code;
  const parts = rest.map(condition);
  if (word === "not") return (now) => !parts[0](now);
  if (word === "and") return (now) => parts.every((part) => part(now));
  if (word === "or") return (now) => parts.some((part) => part(now));
  throw new Error(`${word} is no condition`);
}

// Give a trigger (an event, a condition or a mixture) as a function of now, before and the facts.
function happens(code) {
  if (code === null) return null;
  if (typeof code === "number") return (now) => now[code];
  const [word, ...rest] = code;
  switch (word) {
    case "power up":
      return (now, before, facts) => facts.powerUp;
    case "over":
      return (now, before, facts) => facts.over.has(rest[0]);
    case "begins": {
      const holds = condition(rest[0]);
      return (now, before) => holds(now) && !holds(before);
    }
    case "ends": {
      const holds = condition(rest[0]);
      return (now, before) => holds(before) && !holds(now);
    }
    case "changes": {
      const holds = condition(rest[0]);
      return (now, before) => holds(now) !== holds(before);
    }
    case "or": {
      const parts = rest.map(happens);
      return (now, before, facts) => parts.some((part) => part(now, before, facts));
    }
    case "while": {
      const event = happens(rest[0]);
      const holds = condition(rest[1]);
      return (now, before, facts) => event(now, before, facts) && holds(now);
    }
    case "recent": {
      const [slot, timing] = rest;
      const event = happens(rest[2]);
      return (now, before, facts) => before[slot] && !facts.over.has(timing) && event(now, before, facts);
    }
    default:
      return condition(code);
  }
}

// Give a trigger of the table: `happens`, and `byEvent`, which tells that an event alone made it hold.
function trigger(row) {
  if (row === null) return null;
  const whole = happens(row.happens);
  if (row.events.length === 0) return { happens: whole, byEvent: null };
  const events = row.events.map(happens);
  const conditions = row.conditions.map(happens);
  const any = (list, now, before, facts) => list.some((item) => item(now, before, facts));
  return {
    happens: whole,
    byEvent: (now, before, facts) => !any(conditions, now, before, facts) && any(events, now, before, facts),
  };
}
