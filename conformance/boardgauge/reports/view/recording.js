// The timing chart of a recording, to look into: zoom with the wheel or the buttons, drag to move, point to read.
//
// Law of this file: it draws what stands in the page's JSON and knows nothing of boards; black on white. Times are
// whole microseconds. Without it the page shows the same charts as they are printed.

"use strict";

const LIVE = { label: 190, right: 14, row: 30, wave: 17, top: 26, axis: 34, least: 1000 };
const SVG = "http://www.w3.org/2000/svg";

function draw(name, attributes, ...inside) {
  const made = document.createElementNS(SVG, name);
  for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
  made.append(...inside);
  return made;
}

function element(name, properties, ...inside) {
  const made = Object.assign(document.createElement(name), properties);
  made.append(...inside);
  return made;
}

// Write a time in seconds, as finely as a step of the axis asks for.
function seconds(time, step) {
  const places = Math.max(0, Math.min(6, 6 - Math.floor(Math.log10(Math.max(1, step)))));
  return (time / 1e6).toFixed(places);
}

class LiveChart {
  constructor(chart, figure, number) {
    Object.assign(this, { chart, from: chart.start, to: chart.end, at: null, drag: null });
    this.told = element("div", { className: "live-told" });
    this.told.setAttribute("role", "status");
    this.svg = draw("svg", { tabindex: "0", role: "application", "aria-label": `Timing chart ${number}: arrow keys move, plus and minus zoom` });
    const bar = element("div", { className: "live-bar" });
    const button = (text, act) => bar.append(element("button", { type: "button", textContent: text, onclick: act }));
    button("Zoom in", () => this.zoom(0.5));
    button("Zoom out", () => this.zoom(2));
    button("◀", () => this.move(-0.25));
    button("▶", () => this.move(0.25));
    button("Whole recording", () => this.show(chart.start, chart.end));
    for (const arrow of chart.arrows) {
      button(`Deviation at ${seconds(arrow.time - chart.zero, 1000)} s`, () => this.near(arrow.time));
    }
    figure.before(element("div", { className: "live" }, bar, this.svg, this.told));
    figure.classList.add("with-live");
    this.listen();
    this.show(chart.start, chart.end);
  }

  listen() {
    const svg = this.svg;
    svg.addEventListener("wheel", (event) => {
      event.preventDefault();
      this.zoom(event.deltaY > 0 ? 1.25 : 0.8, this.time(event));
    }, { passive: false });
    svg.addEventListener("pointerdown", (event) => {
      svg.setPointerCapture(event.pointerId);
      this.drag = { x: event.clientX, from: this.from, to: this.to };
    });
    svg.addEventListener("pointerup", () => { this.drag = null; });
    svg.addEventListener("pointermove", (event) => {
      if (this.drag) {
        const by = (this.drag.x - event.clientX) / this.wide * (this.drag.to - this.drag.from);
        this.show(this.drag.from + by, this.drag.to + by);
      } else {
        this.at = this.time(event);
        this.point();
      }
    });
    svg.addEventListener("pointerleave", () => { this.at = null; this.point(); });
    svg.addEventListener("keydown", (event) => {
      const acts = { "+": () => this.zoom(0.5), "=": () => this.zoom(0.5), "-": () => this.zoom(2),
        ArrowLeft: () => this.move(-0.1), ArrowRight: () => this.move(0.1), Home: () => this.show(this.chart.start, this.chart.end) };
      if (acts[event.key]) { event.preventDefault(); acts[event.key](); }
    });
    new ResizeObserver(() => this.paint()).observe(svg);
  }

  get wide() { return Math.max(100, this.width - LIVE.label - LIVE.right); }
  get width() { return Math.max(420, this.svg.clientWidth || 900); }

  x(time) { return LIVE.label + (Math.max(this.from, Math.min(this.to, time)) - this.from) / (this.to - this.from) * this.wide; }

  time(event) {
    const box = this.svg.getBoundingClientRect();
    const x = (event.clientX - box.left) / box.width * this.width;
    const part = Math.max(0, Math.min(1, (x - LIVE.label) / this.wide));
    return this.from + part * (this.to - this.from);
  }

  zoom(by, about = (this.from + this.to) / 2) { this.show(about - (about - this.from) * by, about + (this.to - about) * by); }
  move(part) { const by = part * (this.to - this.from); this.show(this.from + by, this.to + by); }
  near(time) { const half = Math.min(20e6, (this.chart.end - this.chart.start) / 2); this.show(time - half, time + half); }

  // Show a stretch: no shorter than a millisecond, and inside the recording.
  show(from, to) {
    const { start, end } = this.chart;
    const span = Math.min(end - start, Math.max(LIVE.least, to - from));
    this.from = Math.max(start, Math.min(end - span, to - from < LIVE.least ? (from + to - span) / 2 : from));
    this.to = this.from + span;
    this.paint();
  }

  paint() {
    const rows = this.chart.rows;
    const height = LIVE.top + rows.length * LIVE.row + LIVE.axis;
    this.svg.setAttribute("viewBox", `0 0 ${this.width} ${height}`);
    this.svg.setAttribute("height", height);
    const parts = [draw("defs", {}, draw("pattern", { id: "live-allowed", width: 5, height: 5, patternUnits: "userSpaceOnUse", patternTransform: "rotate(45)" },
      draw("line", { x1: 0, y1: 0, x2: 0, y2: 5, stroke: "black", "stroke-width": 1 })))];
    parts.push(...this.axis(height));
    rows.forEach((row, index) => {
      const y = LIVE.top + index * LIVE.row;
      parts.push(draw("line", { x1: 0, x2: this.width, y1: y + LIVE.row - 3, y2: y + LIVE.row - 3, stroke: "black", "stroke-width": 0.3 }));
      parts.push(this.label(row, y));
      parts.push(...this.marks(row, y), ...this.wave(row, y));
    });
    this.cross = draw("g", {});
    this.svg.replaceChildren(...parts, this.cross);
    this.point();
  }

  label(row, y) {
    const name = row.name.length > 30 ? `${row.name.slice(0, 29)}…` : row.name;
    return draw("text", { x: 6, y: y + 16 }, name, draw("title", {}, `${row.name} ${row.detail}`.trim()));
  }

  axis(height) {
    const step = this.step();
    const parts = [], bottom = height - LIVE.axis + 4;
    for (let tick = Math.ceil((this.from - this.chart.zero) / step) * step; tick <= this.to - this.chart.zero; tick += step) {
      const x = this.x(tick + this.chart.zero);
      parts.push(draw("line", { x1: x, x2: x, y1: LIVE.top - 6, y2: bottom, stroke: "black", "stroke-width": 0.25 }));
      parts.push(draw("text", { x, y: bottom + 12, "text-anchor": "middle", class: "small" }, seconds(tick, step)));
    }
    parts.push(draw("text", { x: LIVE.label + this.wide / 2, y: height - 4, "text-anchor": "middle", class: "small" }, this.chart.axis));
    return parts;
  }

  // The least of 1, 2 and 5 times a power of ten that keeps ticks 70 points apart.
  step() {
    const least = (this.to - this.from) / this.wide * 70;
    const power = 10 ** Math.floor(Math.log10(Math.max(1, least)));
    return [1, 2, 5, 10].map((digit) => digit * power).find((one) => one >= least);
  }

  marks(row, y) {
    const parts = [];
    for (const window of this.chart.windows.filter((one) => one.row === row.id && one.to >= this.from && one.from <= this.to)) {
      const left = this.x(window.from), wide = Math.max(1, this.x(window.to) - left);
      parts.push(draw("rect", { x: left, y: y + 1, width: wide, height: LIVE.wave + 6, fill: "url(#live-allowed)", stroke: "black", "stroke-width": 0.5 },
        draw("title", {}, window.label)));
    }
    for (const arrow of this.chart.arrows.filter((one) => one.row === row.id && one.time >= this.from && one.time <= this.to)) {
      const x = this.x(arrow.time);
      parts.push(draw("path", { d: `M${x} ${y + 2}l-5 -10h10z`, fill: "black" }, draw("title", {}, arrow.label)));
    }
    return parts;
  }

  wave(row, y) {
    if (row.ramps) return row.ramps.filter((one) => one.points[one.points.length - 1][0] >= this.from && one.points[0][0] <= this.to).flatMap((one) => this.ramp(one, y));
    if (row.curve) return this.curve(row.curve, y);
    return this.levels(row, y);
  }

  levels(row, y) {
    if (row.edges === null) return [draw("text", { x: LIVE.label, y: y + 14, class: "small" }, "too many changes to draw")];
    const high = y + 4, low = y + 4 + LIVE.wave;
    const level = (value) => (value === null ? (high + low) / 2 : value ? high : low);
    let index = firstAfter(row.edges, this.from);
    let value = index ? row.edges[index - 1][2] : row.initial;
    let d = `M${LIVE.label} ${level(value)}`, last = -1, dense = [];
    for (; index < row.edges.length && row.edges[index][0] <= this.to; index += 1) {
      const [early, late, next] = row.edges[index];
      const x = this.x(early);
      // Changes closer than a point are one filled stretch.
      if (x - last < 1) dense.push(x);
      d += `H${x}L${this.x(late)} ${level(next)}`;
      [last, value] = [x, next];
    }
    d += `H${this.x(this.to)}`;
    const parts = [draw("path", { d, fill: "none", stroke: "black", "stroke-width": dense.length > 200 ? 0.5 : 1.4 })];
    if (dense.length > 40) {
      for (const [start, end, text] of row.bands.filter((band) => band[1] >= this.from && band[0] <= this.to)) {
        const left = this.x(start), wide = this.x(end) - left;
        parts.push(draw("rect", { x: left, y: high, width: Math.max(1, wide), height: LIVE.wave, fill: "white", stroke: "black", "stroke-width": 0.8 }));
        if (wide > text.length * 5) parts.push(draw("text", { x: left + wide / 2, y: low - 4, "text-anchor": "middle", class: "small" }, text));
      }
    }
    return parts;
  }

  ramp(ramp, y) {
    const low = y + 4 + LIVE.wave, parts = [];
    if (ramp.window && ramp.window[1] >= this.from && ramp.window[0] <= this.to) {
      const left = this.x(ramp.window[0]);
      parts.push(draw("rect", { x: left, y: y + 4, width: Math.max(1, this.x(ramp.window[1]) - left), height: LIVE.wave, fill: "url(#live-allowed)" }));
    }
    const points = ramp.points.map(([time, part]) => [time, low - part * LIVE.wave]);
    const d = clipped(points, this.from, this.to).map(([time, height]) => `${this.x(time)} ${height}`).join("L");
    if (d) parts.push(draw("path", { d: `M${d}`, fill: "none", stroke: "black", "stroke-width": 1, "stroke-dasharray": ramp.cut ? "3 2" : "none" }));
    return parts;
  }

  curve(curve, y) {
    const numbers = [...curve.points.map((point) => point[1]), ...curve.limits.map((limit) => limit[0])].filter((one) => one !== null);
    const least = Math.min(...numbers), span = Math.max(...numbers) - least || 1;
    const height = (number) => y + 4 + LIVE.wave - (number - least) / span * LIVE.wave;
    const parts = curve.limits.map(([number, text]) => draw("line", { x1: LIVE.label, x2: LIVE.label + this.wide, y1: height(number), y2: height(number), stroke: "black", "stroke-width": 0.7, "stroke-dasharray": "4 3" }, draw("title", {}, text)));
    const known = curve.points.filter((point) => point[1] !== null).map(([time, number]) => [time, height(number)]);
    const d = clipped(known, this.from, this.to).map(([time, at]) => `${this.x(time)} ${at}`).join("L");
    if (d) parts.push(draw("path", { d: `M${d}`, fill: "none", stroke: "black", "stroke-width": 1.2 }));
    return parts;
  }

  // Mark the moment pointed at, and say what every row shows there.
  point() {
    if (this.at === null) {
      this.cross.replaceChildren();
      this.told.textContent = `${seconds(this.from - this.chart.zero, this.step())} to ${seconds(this.to - this.chart.zero, this.step())} s`;
      return;
    }
    const x = this.x(this.at), height = LIVE.top + this.chart.rows.length * LIVE.row;
    const precise = Math.max(1, (this.to - this.from) / this.wide);
    this.cross.replaceChildren(draw("line", { x1: x, x2: x, y1: LIVE.top - 8, y2: height, stroke: "black", "stroke-width": 0.8, "stroke-dasharray": "2 2" }),
      draw("text", { x, y: 12, "text-anchor": x > this.width - 80 ? "end" : "middle" }, `${seconds(this.at - this.chart.zero, precise)} s`));
    this.told.textContent = this.chart.rows.map((row) => this.says(row)).filter((one) => one).join(" · ");
  }

  says(row) {
    if (row.curve) {
      const index = firstAfter(row.curve.points, this.at);
      const number = index ? row.curve.points[index - 1][1] : null;
      return number === null ? "" : `${row.name} ${Number(number.toPrecision(4))} ${row.curve.unit}`;
    }
    if (row.ramps) return row.ramps.some((ramp) => ramp.points[0][0] <= this.at && this.at <= ramp.points[ramp.points.length - 1][0]) ? `${row.name} runs` : "";
    const band = row.bands.find(([start, end]) => start <= this.at && this.at < end);
    if (band) return `${row.name} ${band[2]}`;
    if (row.edges === null) return "";
    const index = firstAfter(row.edges, this.at);
    const value = index ? row.edges[index - 1][2] : row.initial;
    return value === null ? `${row.name} not known` : `${row.name} ${value ? row.high : row.low}`;
  }
}

// Give the index of the first entry that begins after a time.
function firstAfter(entries, time) {
  let low = 0, high = entries.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (entries[middle][0] <= time) low = middle + 1; else high = middle;
  }
  return low;
}

// Cut a line to a stretch of time, its ends worked out.
function clipped(points, from, to) {
  const found = [];
  for (let index = 0; index < points.length; index += 1) {
    const [time, at] = points[index];
    const before = points[index - 1];
    for (const border of [from, to]) {
      if (before && before[0] < border && border < time) {
        found.push([border, before[1] + (border - before[0]) / (time - before[0]) * (at - before[1])]);
      }
    }
    if (time >= from && time <= to) found.push([time, at]);
  }
  return found;
}

const charts = JSON.parse(document.getElementById("charts").textContent);
charts.forEach((chart, index) => {
  const figure = document.querySelector(`#recording-${index + 1} figure`);
  if (chart && figure) new LiveChart(chart, figure, index + 1);
});
