// Write what was done to a board as a scenario, the file that the other commands take.
//
// Law of this file: read back and played, it gives the same run. Times and values are written exactly; what a scenario
// cannot say (a dial turned on the way) is said in a comment.

const FIRST_WORDS = { call: "on", signal: "on", switch: "closed", link: "fitted", button: "pressed" };
const OTHER_WORDS = { call: "off", signal: "off", switch: "open", link: "open", button: "released" };

// Give a scenario of all that came at the terminals up to now.
function scenarioText(session) {
  const { table, board } = session;
  const { raw, power } = board.terminals;
  const start = [];
  const acts = new Map();
  const act = (time) => {
    if (!acts.has(time)) acts.set(time, { set: [], power: null });
    return acts.get(time);
  };
  table.inputs.forEach((row, index) => {
    let before = row.at_rest;
    for (const [time, value] of lastOfEachTime(raw[index])) {
      const text = `${row.id} = ${JSON.stringify(stateWord(row, value))}`;
      if (!sameValue(value, before)) {
        if (time === 0) start.push(text);
        else act(time).set.push(text);
      }
      before = value;
    }
  });
  for (const [time, on] of power) act(time).power = on;
  return [
    `# Played on the page; run it with: boardgauge simulate ${table.board.id} FILE${wayOption(session.way)}`,
    ...(session.turned ? ["# A dial was turned on the way. A scenario cannot say that: this has its last position."] : []),
    "language = 1",
    `board = ${JSON.stringify(table.board.id)}`,
    'title = "what was done on the page"',
    "steps = [",
    ...stepLines(acts, session.now),
    "]",
    ...section("start", start),
    ...section("settings", dials(table, board.config)),
    "",
  ].join("\n");
}

function stepLines(acts, end) {
  const lines = [];
  let time = 0;
  const wait = (until) => {
    if (until > time) lines.push(`  { wait = "${(until - time) / 1e6} s" },`);
    time = until;
  };
  for (const [at, { set, power }] of [...acts].sort(([a], [b]) => a - b)) {
    wait(at);
    if (set.length) lines.push(`  { set = { ${set.join(", ")} } },`);
    if (power !== null) lines.push(`  { power = "${power ? "on" : "off"}" },`);
  }
  wait(end);
  return lines;
}

function wayOption(way) {
  return way === "nominal" ? "" : ` --timings ${way}`;
}

function section(name, lines) {
  return lines.length ? ["", `[${name}]`, ...lines] : [];
}

function dials(table, config) {
  return table.settings.flatMap((row, index) => {
    const { name } = row.positions[config.settings[index]];
    return name === null ? [] : [`${row.id} = ${JSON.stringify(name)}`];
  });
}

function stateWord(row, value) {
  return row.slider ? quantityText(row, value) : (value ? FIRST_WORDS : OTHER_WORDS)[row.kind];
}

// Give a sensor's value in the unit in which it is a whole number of steps.
function quantityText(row, value) {
  const slider = row.slider.find((one) => sameValue(sliderValue(one, sliderSteps(one, value)), value)) ?? row.slider[0];
  const number = (sliderSteps(slider, value) * slider.step[0]) / slider.step[1];
  return `${number.toFixed(slider.places)} ${slider.unit}`;
}

function sameValue(one, other) {
  if (!Array.isArray(one) || !Array.isArray(other)) return one === other;
  return BigInt(one[0]) * BigInt(other[1]) === BigInt(other[0]) * BigInt(one[1]);
}

function lastOfEachTime(edges) {
  return edges.filter(([time], index) => index + 1 === edges.length || edges[index + 1][0] !== time);
}
