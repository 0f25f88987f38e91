// Plots with axes: what scopes.js counts, drawn on fixed scales, with ticks, units, marks and the pointer.

import { BINS, brightest } from "./counts.js";

const GROUND = [22, 22, 22];
const INK = "#e2e2e2";
const FAINT = "rgba(226, 226, 226, 0.17)";
const FIRM = "rgba(226, 226, 226, 0.42)";
const TRACE = [238, 238, 238];
/** @type {[string, number[]][]} */
export const CHANNELS = [["R", [255, 136, 120]], ["G", [140, 222, 140]], ["B", [140, 170, 255]]];
const FONT = "12px system-ui, sans-serif";

/** A canvas ready for a drawing in CSS pixels: [pen, width, height]. */
export function ready(canvas) {
  const ratio = window.devicePixelRatio || 1;
  const w = canvas.clientWidth, hh = canvas.clientHeight;
  if (canvas.width !== Math.round(w * ratio) || canvas.height !== Math.round(hh * ratio)) {
    canvas.width = Math.round(w * ratio);
    canvas.height = Math.round(hh * ratio);
  }
  const pen = canvas.getContext("2d");
  pen.setTransform(ratio, 0, 0, ratio, 0, 0);
  pen.clearRect(0, 0, w, hh);
  pen.font = FONT;
  pen.lineWidth = 1;
  return [pen, w, hh];
}

export function line(pen, x0, y0, x1, y1, colour, dash = []) {
  pen.strokeStyle = colour;
  pen.setLineDash(dash);
  pen.beginPath();
  pen.moveTo(x0, y0);
  pen.lineTo(x1, y1);
  pen.stroke();
  pen.setLineDash([]);
}

export function text(pen, words, x, y, align = "left", base = "middle", colour = INK) {
  pen.textAlign = align;
  pen.textBaseline = base;
  pen.fillStyle = colour;
  pen.fillText(words, x, y);
}

// Words with a dark edge, readable over a trace.
function tag(pen, words, x, y, align = "left") {
  pen.font = "600 11px system-ui, sans-serif";
  pen.textAlign = align;
  pen.textBaseline = "middle";
  pen.strokeStyle = "#000";
  pen.lineWidth = 3;
  pen.lineJoin = "round";
  pen.strokeText(words, x, y);
  pen.fillStyle = "#fff";
  pen.fillText(words, x, y);
  pen.font = FONT;
  pen.lineWidth = 1;
}

const images = new Map();

// Counts as a trace: on a logarithmic scale, so that thin lines stay visible beside large areas. at(column, row) gives the
// index of a bin; row 0 is the lowest.
function trace(pen, counts, columns, rows, at, box, colour) {
  const top = Math.log1p(brightest(counts));
  const key = `${columns} ${rows}`;
  if (!images.has(key)) images.set(key, [new ImageData(columns, rows), new OffscreenCanvas(columns, rows)]);
  const [image, small] = images.get(key);
  const { data } = image;
  for (let row = 0, i = 0; row < rows; row += 1) {
    for (let column = 0; column < columns; column += 1, i += 4) {
      const count = counts[at(column, rows - 1 - row)];
      const t = count ? 0.12 + 0.88 * Math.min(1, Math.log1p(count) / top) : 0;
      for (let c = 0; c < 3; c += 1) data[i + c] = GROUND[c] + t * (colour[c] - GROUND[c]);
      data[i + 3] = 255;
    }
  }
  small.getContext("2d").putImageData(image, 0, 0);
  pen.imageSmoothingEnabled = true;
  pen.drawImage(small, box.x, box.y, box.w, box.h);
}

// -- levels over the width of the picture -------------------------------------------------------------------------------

const across = (box, level) => Math.round(box.y + box.h * (1 - level / 100)) + 0.5;

/** The level axis, 0 to 100 % of signal, left of boxes that share it. */
export function levelAxis(pen, boxes, numbered = true, step = 20) {
  const first = boxes[0], last = boxes[boxes.length - 1];
  const every = first.h < 130 ? Math.max(step, 50) : step;
  for (let level = 0; level <= 100; level += every) {
    const y = across(first, level);
    if (numbered) text(pen, String(level), first.x - 6, y, "right");
    line(pen, first.x, y, last.x + last.w, y, level % 100 ? FAINT : FIRM);
  }
}

export function drawWaveform(pen, counts, columns, box, colour = TRACE) {
  trace(pen, counts, columns, BINS, (column, row) => column * BINS + row, box, colour);
}

/** Marks on a plot of levels: each a bar over its width at its level, its number, and dashed the level wanted. */
export function levelMarks(pen, box, marks, region, of = (m) => m.level) {
  for (const mark of marks) {
    const x0 = box.x + box.w * Math.max(0, (mark.x - region.x) / region.w);
    const x1 = box.x + box.w * Math.min(1, (mark.x + mark.w - region.x) / region.w);
    if (x1 <= box.x || x0 >= box.x + box.w) continue;
    const y = across(box, of(mark));
    pen.lineWidth = 3;
    line(pen, x0, y, Math.max(x1, x0 + 4), y, "#000");
    pen.lineWidth = 1;
    line(pen, x0, y, Math.max(x1, x0 + 4), y, "#fff");
    if (mark.wanted !== null && of === levelOf) line(pen, x0 - 4, across(box, mark.wanted), x1 + 4, across(box, mark.wanted), "#fff", [4, 3]);
    if (box.w > 90) tag(pen, mark.number, Math.min(x1 + 3, box.x + box.w - 13), y);
  }
}
export const levelOf = (m) => m.level;

/** Where the pointer is: a hair line at its column, a ring at its level. */
export function levelPointer(pen, box, share, level) {
  if (share < 0 || share > 1) return;
  const x = Math.round(box.x + share * box.w) + 0.5, y = across(box, level);
  line(pen, x, box.y, x, box.y + box.h, FIRM);
  ring(pen, x, y);
}

function ring(pen, x, y) {
  for (const [width, colour] of [[3.5, "#000"], [1.5, "#fff"]]) {
    pen.lineWidth = width;
    pen.strokeStyle = colour;
    pen.beginPath();
    pen.arc(x, y, 5, 0, 2 * Math.PI);
    pen.stroke();
  }
  pen.lineWidth = 1;
}

// -- shares of levels ---------------------------------------------------------------------------------------------------

const LEAST = 0.01, MOST = 100; // percent of the picture in a percent of signal; the axis is logarithmic

const height = (box, percent) => box.y + box.h * (1 - Math.log(Math.max(percent, LEAST) / LEAST) / Math.log(MOST / LEAST));

export function histogramAxes(pen, box) {
  const ticks = box.h < 110 ? [0.1, 10] : [0.01, 0.1, 1, 10, 100];
  for (const percent of ticks) {
    const y = Math.round(height(box, percent)) + 0.5;
    text(pen, String(percent), box.x - 6, y, "right");
    line(pen, box.x, y, box.x + box.w, y, FAINT);
  }
  for (let level = 0; level <= 100; level += box.w < 90 ? 100 : box.w < 260 ? 50 : 20) {
    const x = Math.round(box.x + (box.w * level) / 100) + 0.5;
    line(pen, x, box.y, x, box.y + box.h, level % 100 ? FAINT : FIRM);
    text(pen, String(level), x, box.y + box.h + 4, level === 0 ? "left" : level === 100 ? "right" : "center", "top");
  }
}

/** Lines of red, green and blue; luma filled behind them. Shares are of single codes, of which a percent has 2.55. */
export function drawHistogram(pen, shares, box) {
  const path = (values, closed) => {
    pen.beginPath();
    pen.moveTo(box.x, box.y + box.h);
    for (let i = 0; i < BINS; i += 1) pen.lineTo(box.x + (box.w * i) / (BINS - 1), height(box, 255 * values[i]));
    if (closed) { pen.lineTo(box.x + box.w, box.y + box.h); pen.closePath(); }
  };
  path(shares[3], true);
  pen.fillStyle = "rgba(200, 200, 200, 0.26)";
  pen.fill();
  CHANNELS.forEach(([, colour], c) => {
    path(shares[c], false);
    pen.strokeStyle = `rgb(${colour.join(",")})`;
    pen.lineWidth = 1.2;
    pen.stroke();
  });
  pen.lineWidth = 1;
}

export function histogramMarks(pen, box, marks) {
  marks.forEach((mark, i) => {
    const x = Math.round(box.x + (box.w * Math.min(100, Math.max(0, mark.level))) / 100) + 0.5;
    const rows = box.h > 120 ? 3 : 1, foot = box.y + 12 * (1 + (i % rows)) + 4;
    line(pen, x, foot, x, box.y + box.h, "rgba(255, 255, 255, 0.3)", [2, 3]);
    if (box.w > 130) tag(pen, mark.number, x, foot - 8, "center");
  });
}

export function histogramPointer(pen, box, level) {
  const x = Math.round(box.x + (box.w * level) / 100) + 0.5;
  line(pen, x, box.y, x, box.y + box.h, "#fff", [2, 2]);
}

// -- colour differences -------------------------------------------------------------------------------------------------

const NAMES = [["R", 1, 0, 0], ["Y", 1, 1, 0], ["G", 0, 1, 0], ["C", 0, 1, 1], ["B", 0, 0, 1], ["M", 1, 0, 1]];

/** reach: the Cb or Cr at the edge of the plot. */
export function drawVectors(pen, counts, box, reach) {
  const half = Math.round(reach * BINS), from = BINS / 2 - half, side = 2 * half;
  trace(pen, counts, side, side, (column, row) => (row + from) * BINS + column + from, box, TRACE);
}

const vector = (box, reach, cb, cr) => [box.x + box.w / 2 + (cb / (2 * reach)) * box.w, box.y + box.h / 2 - (cr / (2 * reach)) * box.h];

export function vectorAxes(pen, box, reach, about, differences) {
  const mx = Math.round(box.x + box.w / 2) + 0.5, my = Math.round(box.y + box.h / 2) + 0.5;
  line(pen, box.x, my, box.x + box.w, my, FAINT);
  line(pen, mx, box.y, mx, box.y + box.h, FAINT);
  pen.strokeStyle = FIRM;
  pen.strokeRect(Math.round(box.x) + 0.5, Math.round(box.y) + 0.5, Math.round(box.w), Math.round(box.h));
  const angle = (about.skin_deg * Math.PI) / 180;
  line(pen, mx, my, mx + (Math.cos(angle) * box.w) / 2, my - (Math.sin(angle) * box.h) / 2, "rgba(255, 255, 255, 0.75)", [5, 3]);
  text(pen, "skin", mx + Math.cos(angle) * box.w * 0.47, Math.max(box.y + 15, my - Math.sin(angle) * box.h * 0.47 - 2), "right", "bottom");
  if (box.w > 120) {
    text(pen, `Cb ${reach}`, box.x + box.w - 3, my - 2, "right", "bottom");
    text(pen, `Cr ${reach}`, mx + 4, box.y + 3, "left", "top");
  } else text(pen, `\u00b1${reach}`, box.x + box.w - 3, box.y + box.h - 2, "right", "bottom");
  for (const [name, r, g, b] of NAMES) {
    const [cb, cr] = differences(r, g, b, about.kr, about.kb);
    if (Math.max(Math.abs(cb), Math.abs(cr)) > reach * 1.001) continue;
    const [x, y] = vector(box, reach, cb, cr);
    text(pen, String(name), Math.min(box.x + box.w - 6, Math.max(box.x + 6, x)), Math.min(box.y + box.h - 7, Math.max(box.y + 7, y)), "center", "middle", "#fff");
  }
}

export function vectorMarks(pen, box, reach, marks) {
  for (const mark of marks) {
    const [x, y] = vector(box, reach, mark.cb, mark.cr);
    if (x < box.x || x > box.x + box.w || y < box.y || y > box.y + box.h) continue;
    pen.fillStyle = "#fff";
    pen.strokeStyle = "#000";
    pen.fillRect(x - 2, y - 2, 4, 4);
    pen.strokeRect(x - 2.5, y - 2.5, 5, 5);
    if (box.w > 110) tag(pen, mark.number, x + 6, y);
  }
}

export function vectorPointer(pen, box, reach, cb, cr) {
  const [x, y] = vector(box, reach, cb, cr);
  if (x >= box.x && x <= box.x + box.w && y >= box.y && y <= box.y + box.h) ring(pen, x, y);
}
