// Say why an output is on or off, and why a lamp shows what it shows.
//
// Law of this file: a reason is the part of a rule's own condition that decides it in the picture at hand, down to
// inputs and rules; nothing is guessed. Of an "and" that fails the parts that fail are told, of an "or" that holds the
// first that holds.

const MOST_REASONS = 4;

// Give the slots that decide a condition, [{ slot, holds }, ...].
function deciding(table, code, picture) {
  if (typeof code === "number") {
    const thing = table.things[code];
    const holds = picture[code];
    if (thing === null) return [];
    if (thing.kind === "condition") return deciding(table, thing.of, picture);
    if (thing.kind === "for" && !holds && !condition(thing.of)(picture)) return deciding(table, thing.of, picture);
    return [{ slot: code, holds }];
  }
  const [word, ...parts] = code;
  if (word === "not") return deciding(table, parts[0], picture);
  const holds = (part) => condition(part)(picture);
  const chosen = word === "and"
    ? parts.every(holds) ? parts : parts.filter((part) => !holds(part))
    : parts.some(holds) ? [parts.find(holds)] : parts;
  return chosen.flatMap((part) => deciding(table, part, picture));
}

// Give the reasons in words: "restart delay running (clause 2.4) and compressor call on".
function inWords(table, found, unit) {
  const seen = new Map(found.map((one) => [one.slot, one]));
  const texts = [...seen.values()].map(({ slot, holds }) => {
    const thing = table.things[slot];
    const text = thing.kind === "for" && !holds
      ? `it has not lasted ${thing.time} yet`
      : said(thing.is[Number(holds)], unit);
    return withClause(text, thing.clause);
  });
  const more = texts.length - MOST_REASONS;
  const shown = more > 1 ? [...texts.slice(0, MOST_REASONS), `${more} more`] : texts;
  return shown.join(" and ");
}

// Say why an output is as it is commanded in a configuration.
function whyOutput(engine, config, index, unit) {
  const { table } = engine;
  if (!config.powered) return "there is no supply";
  const picture = engine.picture(config);
  const row = table.outputs[index];
  const say = (code) => inWords(table, deciding(table, code, picture), unit);
  if (row.region === null) {
    return say(table.followed.find((one) => one.kind === "output" && one.slot === row.slot).code);
  }
  const { into, out } = table.regions[row.region];
  const holds = (code) => condition(code)(picture);
  if (!config.places[row.region]) return holds(out.happens) ? say(out.happens) : say(into.happens);
  return holds(into.happens) ? say(into.happens) : `it came on before, and nothing stops it: ${say(out.happens)}`;
}

// Say why a lamp shows its line in a configuration.
function whyLamp(engine, config, index, unit) {
  const { table } = engine;
  if (!config.powered) return "there is no supply";
  const line = engine.lampLines(config)[index];
  const row = table.lamps[index].lines[line];
  if (row.when === null) return "no other line of its table holds";
  return inWords(table, deciding(table, row.when, engine.picture(config)), unit);
}
