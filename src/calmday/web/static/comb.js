// How fast does the engine turn? The comb of `reduction/engine_comb.py`, simplified for one second at a time: all lines
// of a spectrum that fit one engine speed count together, and where none stands out, nothing is said.
"use strict";
const calmdayComb = (() => {
  const STEP = 0.005, TOP_HZ = 1500, DYNAMIC_RANGE = 30, SEEN_FROM = 2.5, THERE = 4;
  const STRENGTHS = [2, 6, 20, 60, 200];
  const KINDS = [
    { present: 0.75, most: 6, minor: 0 },    // firing
    { present: 0.45, most: 4, minor: 0 },    // firing, below 55 Hz
    { present: 0.30, most: 6, minor: 0 },    // firing, after the first four
    { present: 0.15, most: 1.0, minor: 0.5 },  // whole orders
    { present: 0.10, most: 0.8, minor: 0.5 },  // half orders
    { present: 0.10, most: 0.0, minor: 2.5 },  // half way between firing lines
  ];
  const RIVALS = [1 / 4, 1 / 3, 1 / 2, 2 / 3, 3 / 4, 4 / 3, 3 / 2, 2, 3, 4];
  const NOTHING = 1.5, LOSE = 0.02, FIND = 0.08, FRESH_S = 0.35;

  function evidence(kind, z) {
    let ratio = 0;
    for (const s of STRENGTHS) ratio += Math.exp(Math.min(z, 40) * s / (1 + s)) / (1 + s) / STRENGTHS.length;
    let told = Math.min(Math.log(1 - kind.present + kind.present * ratio), kind.most);
    if (kind.minor) told -= (kind.most + kind.minor) * Math.min(Math.max((z - 8) / 14, 0), 1);
    return told;
  }
  const TABLES = KINDS.map((kind) => Float32Array.from({ length: 801 }, (_, i) => evidence(kind, i / 20)));
  const look = (table, z) => table[Math.min(Math.round(z * 20), 800)];

  function seenFaint(z) {
    const at = [0, 1.5, 3, 6, 12], told = [-0.4, -0.2, 0.3, 2, 6];
    for (let i = 1; i < at.length; i += 1) {
      if (z < at[i]) return told[i - 1] + (told[i] - told[i - 1]) * (z - at[i - 1]) / (at[i] - at[i - 1]);
    }
    return told[told.length - 1];
  }

  // Power of a real signal of 2^n samples, bell-shaped window, by the transform of Cooley and Tukey.
  function power(sound, size) {
    const re = new Float64Array(size), im = new Float64Array(size), n = sound.length;
    for (let i = 0; i < n; i += 1) re[i] = sound[i] * (0.5 - 0.5 * Math.cos(2 * Math.PI * i / (n - 1)));
    for (let i = 1, j = 0; i < size; i += 1) {
      let bit = size >> 1;
      for (; j & bit; bit >>= 1) j ^= bit;
      j ^= bit;
      if (i < j) { const t = re[i]; re[i] = re[j]; re[j] = t; }
    }
    for (let len = 2; len <= size; len <<= 1) {
      const half = len >> 1, cos = Math.cos(-2 * Math.PI / len), sin = Math.sin(-2 * Math.PI / len);
      for (let start = 0; start < size; start += len) {
        let wr = 1, wi = 0;
        for (let k = start; k < start + half; k += 1) {
          const xr = re[k + half] * wr - im[k + half] * wi, xi = re[k + half] * wi + im[k + half] * wr;
          re[k + half] = re[k] - xr; im[k + half] = im[k] - xi;
          re[k] += xr; im[k] += xi;
          const next = wr * cos - wi * sin;
          wi = wr * sin + wi * cos; wr = next;
        }
      }
    }
    return Float64Array.from({ length: size / 2 }, (_, k) => re[k] * re[k] + im[k] * im[k]);
  }

  // The noise between the lines: the 30 % quantile of bands that widen with frequency.
  function floorOf(spectrum, binHz, bins) {
    const centres = [], floors = [];
    for (let at = 0; at < bins * binHz;) {
      const half = Math.max(60, 0.2 * at) / 2;
      let low = Math.max(Math.floor((at - half) / binHz), Math.floor(12 / binHz));
      const high = Math.max(Math.min(Math.floor((at + half) / binHz), bins), low + 12);
      low = Math.min(low, bins - 12);
      const part = Array.from(spectrum.slice(low, Math.min(high, bins))).sort((a, b) => a - b);
      floors.push(Math.log(Math.max(part[Math.floor(0.3 * part.length)] / -Math.log(0.7), 1e-12)));
      centres.push((low + Math.min(high, bins)) / 2);
      at += half;
    }
    const out = new Float64Array(bins);
    for (let bin = 0, i = 0; bin < bins; bin += 1) {
      while (i < centres.length - 2 && bin > centres[i + 1]) i += 1;
      const share = Math.min(Math.max((bin - centres[i]) / (centres[i + 1] - centres[i]), 0), 1);
      out[bin] = Math.exp(floors[i] + share * (floors[i + 1] - floors[i]));
    }
    return out;
  }

  function loudestNearby(over, reach) {
    const step = Math.max(Math.floor(reach / 2.5), 1), blocks = Math.ceil(over.length / step), tops = new Float64Array(blocks);
    over.forEach((value, bin) => { const b = Math.floor(bin / step); if (value > tops[b]) tops[b] = value; });
    return Float64Array.from(over, (_, bin) => {
      const b = Math.floor(bin / step);
      let top = 0;
      for (let k = Math.max(b - 2, 0); k <= Math.min(b + 2, blocks - 1); k += 1) top = Math.max(top, tops[k]);
      return top;
    });
  }

  class Comb {
    constructor({ cylinders, strokes, lowest, highest, rate }) {
      Object.assign(this, { cylinders, perCycle: strokes / 2, rate });
      const slowest = lowest / 0.75 / 60 / this.perCycle;
      this.samples = 2 * Math.round(Math.min(Math.max(4.5 / slowest, 0.4), 0.9) * rate / 2);
      this.size = 1 << Math.ceil(Math.log2(2 * this.samples));
      this.binHz = rate / this.size;
      this.bins = Math.min(Math.floor(TOP_HZ / this.binHz) + 2, this.size / 2);
      const spacing = highest / 60 * cylinders / this.perCycle;
      this.topHz = Math.min(Math.max(3 * spacing, 600), (this.bins - 2) * this.binHz);
      this.reach = Math.min(Math.max(0.6 * spacing, 60), 400) / this.binHz;
      const count = Math.floor(Math.log(highest / lowest) / STEP) + 2;
      this.grid = Float64Array.from({ length: count }, (_, i) => lowest * Math.exp(STEP * i));
      this.belief = new Float64Array(count).fill(0.5 / count);
      this.nothing = 0.5;
      this.ahead = new Float64Array(RIVALS.length).fill(NaN);
    }

    // Evidence for every speed of the grid, nats against noise alone.
    weigh(over, shade) {
      const { cylinders, binHz } = this;
      return Float64Array.from(this.grid, (rpm) => {
        const cycle = rpm / 60 / this.perCycle, last = Math.min(Math.floor(this.topHz / cycle), 20 * cylinders);
        let sum = 0;
        const halves = cylinders % 2 ? 2 : 1;  // odd counts: half way between firing lines lies no line at all
        for (let k2 = halves === 2 ? 1 : 2; k2 <= 2 * last; k2 += 3 - halves) {
          const tooth = k2 / 2, between = (2 * tooth) % cylinders === 0 && cylinders !== 2;
          if (!Number.isInteger(tooth) && !between) continue;
          const bin = Math.round(tooth * cycle / binHz), z = over[bin] / shade[bin];
          if (Number.isInteger(tooth) && tooth % cylinders === 0) {
            if (shade[bin] > SEEN_FROM) sum += seenFaint(z) - (over[bin] < THERE ? 0.8 : 0);
            else sum += look(TABLES[tooth * cycle < 55 ? 1 : tooth <= 4 * cylinders ? 0 : 2], z);
          } else sum += look(TABLES[between ? 5 : tooth % this.perCycle === 0 ? 3 : 4], z);
        }
        return sum - this.against(over, cycle * cylinders);
      });
    }

    // Firing lines that take turns in strength, and lines as strong between them: see `_against` in engine_comb.py.
    against(over, firing) {
      const mean = (numbers) => {
        let sum = 0, count = 0;
        for (const number of numbers) {
          const hz = number * firing;
          if (hz >= this.topHz) continue;
          sum += Math.log(Math.max(over[Math.round(hz / this.binHz)], 1)); count += 1;
        }
        return count ? sum / count : 0;
      };
      const bounded = (value) => Math.min(Math.max(value, 0), 14);
      const twelve = Array.from({ length: 12 }, (_, i) => i + 1), six = twelve.slice(0, 6), every = mean(six);
      let out = 0;
      for (const [m, start] of [[2, 1.4], [3, 1.6]]) {
        if (m * firing < this.topHz) out += bounded(4 * (mean(twelve.filter((n) => n % m === 0)) - mean(twelve.filter((n) => n % m)) - start));
      }
      for (const set of [six.map((n) => n - 0.5), six.flatMap((n) => [n - 1 / 3, n - 2 / 3])]) {
        const between = mean(set);
        out += bounded(4 * Math.min(between - every + 1, between - 0.8));
      }
      return out;
    }

    // One look at the newest sound; `passed` seconds since the last. Gives { rpm, sure } with rpm null where not known.
    hear(sound, passed) {
      let level = 0;
      for (const value of sound) level += value * value;
      const spectrum = power(sound, this.size).subarray(0, this.bins);
      const floor = floorOf(spectrum, this.binHz, this.bins);
      const over = Float64Array.from(spectrum, (value, bin) => value / floor[bin]);
      const shade = loudestNearby(over, this.reach).map((top) => 1 + top / DYNAMIC_RANGE);
      const told = this.weigh(over, shade);
      this.follow(told, passed, level / sound.length < 1e-10);
      return this.answer(over, shade, told, passed);
    }

    // A belief over speeds, moved on by what an engine can do in the time, then weighed by what is heard now.
    follow(told, passed, silent) {
      const n = this.grid.length, moved = new Float64Array(n), near = Math.max(0.12 * passed / STEP, 1);
      const reach = Math.min(Math.ceil(0.8 * passed / STEP), n);
      const kernel = Float64Array.from({ length: 2 * reach + 1 }, (_, i) => {
        const off = (i - reach) / near;
        return Math.exp(-0.5 * off * off) + 0.02 / (1 + off * off);
      });
      const total = kernel.reduce((a, b) => a + b, 0);
      let engine = 0;
      for (let i = 0; i < n; i += 1) {
        engine += this.belief[i];
        if (this.belief[i] < 1e-9) continue;
        for (let k = -reach; k <= reach; k += 1) {
          if (i + k >= 0 && i + k < n) moved[i + k] += this.belief[i] * kernel[k + reach] / total;
        }
      }
      const weight = Math.min(passed / FRESH_S, 1), flat = this.nothing * FIND / n;
      let top = NOTHING;
      for (const value of told) top = Math.max(top, value);
      this.nothing = (this.nothing * (1 - FIND) + engine * LOSE) * Math.exp(weight * (NOTHING - top));
      let sum = 0;
      for (let i = 0; i < n; i += 1) {
        this.belief[i] = silent ? 0.1 / n : (moved[i] * (1 - LOSE) + flat) * Math.exp(weight * (told[i] - top));
        sum += this.belief[i];
      }
      if (silent) this.nothing = 0.9;
      for (let i = 0; i < n; i += 1) this.belief[i] /= sum + this.nothing;
      this.nothing /= sum + this.nothing;
    }

    answer(over, shade, told, passed) {
      let best = 0, local = 0;
      this.belief.forEach((value, i) => { if (value > this.belief[best]) best = i; });
      for (let i = Math.max(best - 6, 0); i <= Math.min(best + 6, this.belief.length - 1); i += 1) local += this.belief[i];
      const around = (at) => { let top = -Infinity; for (let k = -3; k <= 3; k += 1) top = Math.max(top, told[at + k] ?? -Infinity); return top; };
      const keep = Math.exp(-passed / 1.5);
      let worst = Infinity;
      RIVALS.forEach((times, r) => {
        const at = best + Math.round(Math.log(times) / STEP);
        if (at < 3 || at >= told.length - 3) { this.ahead[r] = NaN; return; }
        const lead = around(best) - around(at);
        this.ahead[r] = Number.isNaN(this.ahead[r]) ? lead : keep * this.ahead[r] + (1 - keep) * lead;
        worst = Math.min(worst, this.ahead[r]);
      });
      const sure = local / (1 + Math.exp(-1.6 * (worst - 3)));
      return { rpm: sure >= 0.9 ? this.refined(over, shade, this.grid[best]) : null, sure, likeliest: this.grid[best] };
    }

    // Between the steps of the grid: every clear line by its own summit.
    refined(over, shade, rpm) {
      const cycle = rpm / 60 / this.perCycle / this.binHz, lobe = Math.max(Math.round(0.8 * this.size / this.samples), 1);
      let sum = 0, weight = 0;
      for (let tooth = 1; tooth * cycle < this.bins - lobe - 2 && tooth <= 60; tooth += 1) {
        const place = Math.round(tooth * cycle);
        if (over[place] < 5 * shade[place]) continue;
        let top = place;
        for (let bin = Math.max(place - lobe, 1); bin <= place + lobe; bin += 1) if (over[bin] > over[top]) top = bin;
        const [a, b, c] = [top - 1, top, top + 1].map((bin) => Math.log(over[bin] + 1e-12)), bend = a - 2 * b + c;
        const found = (top + (bend < 0 ? Math.min(Math.max(0.5 * (a - c) / bend, -0.5), 0.5) : 0)) / tooth;
        if (Math.abs(found / cycle - 1) > 0.02) continue;
        const w = tooth * tooth * Math.min(over[top], 1e4);
        sum += w * found; weight += w;
      }
      return weight ? sum / weight * this.binHz * this.perCycle * 60 : rpm;
    }
  }

  // Every `keep`-th sample after a low pass (windowed sinc), block by block.
  class Thinner {
    constructor(rate) {
      this.keep = Math.max(Math.floor(rate / 5000), 1);
      this.rate = rate / this.keep;
      const reach = 8 * this.keep;
      const taps = Array.from({ length: 2 * reach + 1 }, (_, i) => {
        const x = 0.9 * (i - reach) / this.keep, bell = 0.5 - 0.5 * Math.cos(2 * Math.PI * (i + 1) / (2 * reach + 2));
        return (x === 0 ? 1 : Math.sin(Math.PI * x) / (Math.PI * x)) * bell;
      });
      const total = taps.reduce((a, b) => a + b, 0);
      this.taps = Float32Array.from(taps, (tap) => tap / total);
      this.held = new Float32Array(0);
    }

    take(block) {
      if (this.keep === 1) return block;
      const all = new Float32Array(this.held.length + block.length);
      all.set(this.held); all.set(block, this.held.length);
      const count = Math.max(Math.floor((all.length - this.taps.length) / this.keep) + 1, 0), out = new Float32Array(count);
      for (let i = 0; i < count; i += 1) {
        let sum = 0;
        for (let k = 0, at = i * this.keep; k < this.taps.length; k += 1, at += 1) sum += all[at] * this.taps[k];
        out[i] = sum;
      }
      this.held = all.slice(count * this.keep);
      return out;
    }
  }

  return { Comb, Thinner };
})();
