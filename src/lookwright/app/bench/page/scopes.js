// Waveform and vectorscope of the picture as it is shown, as plots with axes.

import { Newest } from "./api.js";
import { bench } from "./core.js";
import { h } from "./dom.js";
import { panels } from "./panels.js";
import { stage } from "./stage.js";

const PANEL = [28, 28, 28];
const LOW = -7, HIGH = 109; // percent, the ends of the level axis on measure sheets too

class Scopes {
  /** @type {any} */
  wave = h("canvas", { id: "waveform", role: "img", "aria-label": "Waveform of the shown picture" });
  /** @type {any} */
  vector = h("canvas", { id: "vectorscope", role: "img", "aria-label": "Vectorscope of the shown picture" });

  setup(about) {
    this.about = about;
    this.wave.title = `Luma in percent over the width of the picture; ${about.luma_words}; ${about.signal}`;
    this.vector.title = `Colour differences; the line is skin, ${about.skin_deg} degrees; ${about.signal}`;
  }

  draw(picture) {
    if (!this.about || !picture) return;
    if (this.wave.clientWidth > 60 && this.wave.clientHeight > 40) this.#waveform(picture);
    if (this.vector.clientWidth > 40 && this.vector.clientHeight > 40) this.#vectorscope(picture);
  }

  #waveform({ data, width, height }) {
    const [pen, w, h] = ready(this.wave);
    const left = 30, right = 4, top = 4, bottom = 4;
    const columns = Math.max(1, Math.min(width, w - left - right)), levels = h - top - bottom;
    const counts = new Uint32Array(columns * levels);
    const [wr, wg, wb] = this.about.luma;
    for (let y = 0, i = 0; y < height; y += 1) {
      for (let x = 0; x < width; x += 1, i += 4) {
        const percent = (wr * data[i] + wg * data[i + 1] + wb * data[i + 2]) / 2.55;
        const row = Math.min(levels - 1, Math.max(0, Math.floor(((HIGH - percent) / (HIGH - LOW)) * levels)));
        counts[row * columns + Math.floor((x * columns) / width)] += 1;
      }
    }
    plot(pen, counts, columns, levels, left, top, w - left - right, levels);
    pen.fillStyle = "#d8d8d8";
    pen.textAlign = "right";
    pen.textBaseline = "middle";
    for (let percent = 0; percent <= 100; percent += 20) {
      const y = Math.round(top + ((HIGH - percent) / (HIGH - LOW)) * levels) + 0.5;
      pen.fillText(String(percent), left - 5, y);
      line(pen, left, y, w - right, y, percent % 100 ? "rgba(216,216,216,0.22)" : "rgba(216,216,216,0.5)");
    }
  }

  #vectorscope({ data }) {
    const [pen, w, h] = ready(this.vector);
    const side = Math.min(w, h) - 8, x0 = Math.round((w - side) / 2), y0 = 4;
    const bins = Math.max(16, Math.min(240, Math.floor(side)));
    const { kr, kb } = this.about;
    const points = new Float32Array(data.length / 2);
    let far = 0;
    for (let i = 0, j = 0; i < data.length; i += 4, j += 2) {
      const r = data[i] / 255, g = data[i + 1] / 255, b = data[i + 2] / 255;
      const luma = kr * r + (1 - kr - kb) * g + kb * b;
      points[j] = (b - luma) / (2 * (1 - kb));
      points[j + 1] = (r - luma) / (2 * (1 - kr));
      far = Math.max(far, Math.abs(points[j]), Math.abs(points[j + 1]));
    }
    const reach = [0.1, 0.2, 0.3, 0.5].find((r) => far <= r) ?? 0.5;
    const counts = new Uint32Array(bins * bins);
    for (let j = 0; j < points.length; j += 2) {
      const x = Math.min(bins - 1, Math.max(0, Math.floor(((points[j] + reach) / (2 * reach)) * bins)));
      const y = Math.min(bins - 1, Math.max(0, Math.floor(((reach - points[j + 1]) / (2 * reach)) * bins)));
      counts[y * bins + x] += 1;
    }
    plot(pen, counts, bins, bins, x0, y0, side, side);
    const mx = x0 + side / 2, my = y0 + side / 2;
    line(pen, x0, my, x0 + side, my, "rgba(216,216,216,0.3)");
    line(pen, mx, y0, mx, y0 + side, "rgba(216,216,216,0.3)");
    const angle = (this.about.skin_deg * Math.PI) / 180;
    line(pen, mx, my, mx + (Math.cos(angle) * side) / 2, my - (Math.sin(angle) * side) / 2, "rgba(230,230,230,0.75)");
    pen.fillStyle = "#d8d8d8";
    pen.textAlign = "right";
    pen.textBaseline = "bottom";
    pen.fillText(`\u00b1${reach}`, x0 + side - 3, y0 + side - 2);
    pen.textAlign = "left";
    pen.textBaseline = "top";
    pen.fillText("skin", Math.max(x0 + 2, mx + (Math.cos(angle) * side) / 2 - 4), y0 + 2);
  }
}

function ready(canvas) {
  const ratio = window.devicePixelRatio || 1;
  const w = canvas.clientWidth, h = canvas.clientHeight;
  if (canvas.width !== Math.round(w * ratio) || canvas.height !== Math.round(h * ratio)) {
    canvas.width = Math.round(w * ratio);
    canvas.height = Math.round(h * ratio);
  }
  const pen = canvas.getContext("2d");
  pen.setTransform(ratio, 0, 0, ratio, 0, 0);
  pen.clearRect(0, 0, w, h);
  pen.font = "12px system-ui, sans-serif";
  pen.lineWidth = 1;
  return [pen, w, h];
}

// Counts as a trace on a logarithmic scale, so that thin lines stay visible beside large areas.
function plot(pen, counts, columns, rows, x, y, w, h) {
  const seen = counts.filter((c) => c > 0).sort();
  const top = Math.log1p(seen.length ? seen[Math.floor(seen.length * 0.995)] : 1);
  const image = new ImageData(columns, rows);
  for (let i = 0; i < counts.length; i += 1) {
    const t = Math.min(1, Math.log1p(counts[i]) / top);
    for (let c = 0; c < 3; c += 1) image.data[4 * i + c] = PANEL[c] + t * (240 - PANEL[c]);
    image.data[4 * i + 3] = 255;
  }
  const small = new OffscreenCanvas(columns, rows);
  small.getContext("2d").putImageData(image, 0, 0);
  pen.imageSmoothingEnabled = true;
  pen.drawImage(small, x, y, w, h);
}

function line(pen, x0, y0, x1, y1, colour) {
  pen.strokeStyle = colour;
  pen.beginPath();
  pen.moveTo(x0, y0);
  pen.lineTo(x1, y1);
  pen.stroke();
}

const scopes = new Scopes();
const plots = new Newest(async () => scopes.draw(await stage.read(320)));
let pending = 0;
const soon = () => {
  clearTimeout(pending);
  pending = setTimeout(() => plots.ask(), stage.moving ? 180 : 40);
};

panels.add(
  { id: "wave", title: "Waveform", order: 30, width: 126, grow: 1, large: true, fill: (body) => body.append(scopes.wave), opened: soon },
  { id: "vector", title: "Vectorscope", order: 31, width: 108, grow: 0.6, large: true, fill: (body) => body.append(scopes.vector), opened: soon },
);
bench.on("state", (state) => scopes.setup(state.scopes));
bench.on("drawn", soon);
