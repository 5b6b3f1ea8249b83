// Tell in plain words what happened in an instant.
//
// Law of this file: it tells what the story holds, in words from the table, with the clauses the spec cites; it judges
// nothing. `unit` is the reader's unit of temperature.

// Give a text of the table in the reader's unit.
function said(text, unit) {
  return typeof text === "string" ? text : text[unit];
}

function withClause(text, clause) {
  return clause ? `${text} (clause ${clause})` : text;
}

// Give what is told of an instant, { time, causes, effects, text }; null where nothing in it concerns a reader.
function told(table, engine, entry, unit) {
  const causes = toldCauses(table, entry, unit);
  const effects = toldEffects(table, engine, entry, unit);
  if (!causes.length && !effects.length) return null;
  const cause = causes.length ? causes.join(" and ") : "a time that only a requirement watches is over";
  const lost = entry.causes.power === false;
  const effect = effects.length ? effects.join(", ") : lost ? "every output is off" : "nothing else changes";
  return { time: entry.time, causes, effects, text: `${cause}: ${effect}` };
}

function toldCauses(table, entry, unit) {
  const { changes, over, dropped, power } = entry.causes;
  const found = [];
  if (power !== null) found.push(power ? "the supply comes on" : "the supply is lost");
  for (const change of changes) found.push(said(table.levels[change.level].becomes[Number(change.value)], unit));
  const ended = [...over, ...dropped.map((region) => table.regions[region].timings[0])];
  for (const timing of ended) {
    const row = table.timings[timing];
    if (!row.hidden) found.push(withClause(said(row.over, unit), row.clause));
  }
  return found;
}

function toldEffects(table, engine, entry, unit) {
  const { outcome, before, config, causes } = entry;
  if (outcome === null) return [];
  const found = [];
  for (const [index, , place] of outcome.moved) {
    const region = table.regions[index];
    // What was already said as the cause is not said again.
    const full = region.kind === "accumulator" && place === 1;
    if (region.kind !== "output" && !full) found.push(withClause(region.moves[place], region.clause));
  }
  for (const [output, on] of outcome.commands) {
    const row = table.outputs[output];
    found.push(withClause(`${row.name} ${row.turns[Number(on)]}`, row.clause));
  }
  for (const delay of table.delays) {
    if (delay.hidden) continue;
    const row = table.timings[delay.timing];
    const ran = before.running[delay.timing] && !causes.over.includes(delay.timing);
    if (outcome.begun.has(delay.timing)) {
      found.push(withClause(`${row.name} ${ran ? "starts over" : "begins"}`, row.clause));
    } else if (ran && !config.running[delay.timing]) {
      found.push(withClause(`${row.name} is cut short`, row.clause));
    }
  }
  const were = engine.lampLines(before);
  engine.lampLines(config).forEach((line, index) => {
    if (line === were[index] || line < 0) return;
    const lamp = table.lamps[index];
    const shows = lamp.lines[line];
    found.push(withClause(`${lamp.name} shows ${shows.shows}, ${said(shows.means, unit)}`, shows.clause));
  });
  for (const index of outcome.broken) {
    const watch = table.watches[index];
    found.push(withClause(`the requirement ${watch.name} is broken`, watch.clause));
  }
  return found;
}

// Give a time as a person would read it off a stopwatch: 7.5 s, 2 min 05 s, 1 h 00 min 30 s.
function clockTime(time) {
  const tenths = Math.round(time / 100000);
  const seconds = tenths / 10;
  if (tenths < 600) return `${time < 1e6 && time % 100000 ? time / 1e6 : seconds} s`;
  const whole = Math.floor(seconds);
  const two = (number) => String(number).padStart(2, "0");
  const rest = tenths % 10 ? `${two(whole % 60)}.${tenths % 10}` : two(whole % 60);
  const minutes = Math.floor(whole / 60);
  return minutes < 60 ? `${minutes} min ${rest} s` : `${Math.floor(minutes / 60)} h ${two(minutes % 60)} min ${rest} s`;
}
