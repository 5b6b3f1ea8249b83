// The timing chart of what has happened so far.
//
// Law of this file: lines and hatching only, so that it prints in black and white; a wave is high while a thing is on,
// a ramp rises while a timing runs and ends in a cross where it was cut short. Times on the axis are the board's own.

const CHART = { row: 26, wave: 15, axis: 24, top: 8, narrow: 560 };
const TICKS = [0.1, 0.2, 0.5, 1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 14400, 36000, 86400];

class Chart {
  constructor(page) {
    this.page = page;
    this.box = byId("chart");
    this.window = byId("chart-window");
    this.window.addEventListener("change", () => page.refresh());
  }

  update(session) {
    const width = Math.max(300, this.box.clientWidth);
    const label = width < CHART.narrow ? 104 : 190;
    const end = Math.max(session.now, 1e6);
    const span = this.window.value === "all" ? end : Number(this.window.value) * 1e6;
    const from = Math.max(0, end - span);
    const share = (time) => (Math.max(from, Math.min(end, time)) - from) / (end - from);
    const scale = (time) => label + share(time) * (width - label - 12);
    const rows = this.rows(session, from, end);
    const height = CHART.top + rows.length * CHART.row + CHART.axis;
    const svg = draw("svg", { viewBox: `0 0 ${width} ${height}`, width, height, "aria-hidden": "true" }, hatching());
    rows.forEach((row, index) => {
      const y = CHART.top + index * CHART.row;
      svg.append(draw("path", { class: "rule", d: `M0 ${y + CHART.row - 2}H${width}` }));
      svg.append(labelOf(row.name, y + 15, label));
      row.draw(svg, scale, y + 4);
    });
    svg.append(...axis(from, end, scale, height - CHART.axis, height));
    fill(this.box, svg);
    say(byId("chart-words"), this.words(session, from, end));
  }

  // Give the chart in words, for who cannot see it.
  words(session, from, end) {
    const on = session.table.outputs.filter((_, index) => session.board.shown()[index]).map((row) => row.name);
    const now = on.length ? `On now: ${on.join(", ")}.` : "No output is on now.";
    return `Timing chart from ${clockTime(from)} to ${clockTime(end)}. ${now} What happened is listed in words above.`;
  }

  rows(session, from, end) {
    const { table, board } = session;
    const rows = [this.wave("supply", false, board.terminals.power, end)];
    table.inputs.forEach((row, index) => {
      const edges = board.terminals.raw[index];
      const moved = edges.filter(([time]) => time > 0).length > 0;
      if (row.slider) rows.push(this.sensor(row, edges));
      else if (moved || row.kind === "call") rows.push(this.wave(row.name, row.at_rest, edges, end));
    });
    board.showing.edges(board.now).forEach((edges, index) => {
      rows.push(this.wave(table.outputs[index].name, false, edges, end));
    });
    table.lamps.forEach((lamp, index) => rows.push(this.lamp(lamp, board.lines[index], board, end)));
    const seen = (one) => !table.timings[one.timing].hidden && one.end >= from;
    const ran = board.time.stretchesUntil(board.now).filter(seen);
    for (const timing of new Set(ran.map((one) => one.timing).sort((a, b) => a - b))) {
      rows.push(this.ramps(table.timings[timing], ran.filter((one) => one.timing === timing)));
    }
    return rows;
  }

  wave(name, initial, edges, end) {
    return {
      name,
      draw(svg, x, y) {
        const level = (on) => (on ? y : y + CHART.wave);
        let on = initial;
        let since = 0;
        let path = `M${x(0)} ${level(on)}`;
        for (const [time, value] of edges) {
          if (value === on) continue;
          if (on) svg.append(block(x(since), x(time), y));
          path += `H${x(time).toFixed(1)}V${level(value)}`;
          on = value;
          since = time;
        }
        if (on) svg.append(block(x(since), x(end), y));
        svg.append(draw("path", { class: "wave", d: `${path}H${x(end).toFixed(1)}` }));
      },
    };
  }

  sensor(row, edges) {
    const { unit } = this.page;
    const slider = row.slider.find((one) => one.unit === unit) ?? row.slider[0];
    const number = (value) => (sliderSteps(slider, value) * slider.step[0]) / slider.step[1];
    const write = (value) => `${number(value).toFixed(slider.places)} ${slider.unit}`;
    return {
      name: row.name,
      draw(svg, x, y) {
        let free = 0;
        edges.forEach(([time, value], index) => {
          const from = x(time);
          const to = index + 1 < edges.length ? x(edges[index + 1][0]) : x(Infinity);
          if (to <= from && index + 1 < edges.length) return;
          const path = `M${from.toFixed(1)} ${y + 2}V${y + CHART.wave}H${to.toFixed(1)}`;
          svg.append(draw("path", { class: "wave", d: path }));
          const text = write(value.map(Number));
          if (to - from > text.length * 6 + 6 && from >= free) {
            svg.append(draw("text", { x: (from + 4).toFixed(1), y: y + 11, class: "in-row" }, text));
            free = from + text.length * 6;
          }
        });
      },
    };
  }

  lamp(lamp, lines, board, end) {
    const stretches = lampStretches(lamp, lines, end, board.way);
    return {
      name: lamp.name,
      draw(svg, x, y) {
        for (const { from, to, line } of stretches) {
          const [left, right] = [x(from), x(Math.min(to, end))];
          if (right - left < 1) continue;
          const text = line < 0 ? "dark" : lamp.lines[line].shows;
          const fits = text.length * 6.2 + 8 <= right - left;
          const box = { x: left.toFixed(1), y, width: (right - left).toFixed(1), height: CHART.wave };
          svg.append(draw("rect", { class: "lamp-box", ...box }));
          if (fits) svg.append(draw("text", { x: (left + 4).toFixed(1), y: y + 11, class: "in-row" }, text));
        }
      },
    };
  }

  ramps(timing, stretches) {
    return {
      name: timing.name,
      draw(svg, x, y) {
        for (const { begun, end, how } of stretches) {
          const [left, right, low] = [x(begun), x(end), y + CHART.wave];
          if (right < left || (right === left && end > begun)) continue;
          const drop = how === "still running" ? "" : `V${low}`;
          svg.append(draw("path", { class: "ramp", d: `M${left.toFixed(1)} ${low}L${right.toFixed(1)} ${y}${drop}` }));
          if (how === "stopped" || how === "lost power") {
            const cross = `M${right - 3} ${y - 3}L${right + 3} ${y + 3}M${right - 3} ${y + 3}L${right + 3} ${y - 3}`;
            svg.append(draw("path", { class: "cross", d: cross }));
          }
        }
      },
    };
  }
}

function block(left, right, y) {
  const width = Math.max(0, right - left).toFixed(1);
  return draw("rect", { class: "on", x: left.toFixed(1), y, width, height: CHART.wave });
}

// Give a label that fits: the whole of it stands in its title.
function labelOf(name, y, width) {
  const most = Math.floor((width - 8) / 6.1);
  const short = name.length > most ? `${name.slice(0, most - 1)}…` : name;
  return draw("text", { x: 2, y, class: "label" }, draw("title", {}, name), capital(short));
}

function hatching() {
  const line = draw("path", { d: "M0 5L5 0" });
  return draw("defs", {}, draw("pattern", { id: "hatch", width: 5, height: 5, patternUnits: "userSpaceOnUse" }, line));
}

function axis(from, end, scale, y, height) {
  const room = Math.max(2, Math.floor((scale(end) - scale(from)) / 84));
  const every = (TICKS.find((step) => (end - from) / 1e6 / step <= room) ?? 86400) * 1e6;
  const found = [draw("path", { class: "axis", d: `M${scale(from)} ${y + 2}H${scale(end)}` })];
  for (let time = Math.ceil(from / every) * every; time <= end; time += every) {
    const x = scale(time);
    found.push(draw("path", { class: "axis", d: `M${x.toFixed(1)} ${y + 2}V${y + 7}` }));
    const anchor = scale(end) - x < 20 ? "end" : x - scale(from) < 20 ? "start" : "middle";
    found.push(draw("text", { x: x.toFixed(1), y: height - 4, "text-anchor": anchor, class: "tick" }, clockTime(time)));
  }
  return found;
}
