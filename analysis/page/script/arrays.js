// The functions that printed steps call, one product at a time: the counterparts of `scoring/arrays.py` and `rounding.py`.
const inf = Infinity, nan = NaN;
const { exp, log, abs, sqrt, pow } = Math;
const minimum = (a, b) => Math.min(a, b);
const maximum = (a, b) => Math.max(a, b);
const where = (condition, a, b) => (condition ? a : b);
const over = (a, b) => (b === 0 ? NaN : a / b);
const ln = a => (a > 0 ? log(a) : NaN);
const root = a => (a >= 0 ? sqrt(a) : NaN);
const raised = (a, exponent) => (a === 0 && exponent < 0 ? NaN : isNaN(a) ? NaN : pow(a, exponent));

// Conditions have three values: 1, 0 and NaN for undefined. A comparison is one of decimals of 13 significant digits.
const COMPARISONS = {
  "<": (a, b) => a < b,
  "<=": (a, b) => a <= b,
  ">": (a, b) => a > b,
  ">=": (a, b) => a >= b,
  "==": (a, b) => a === b,
  "!=": (a, b) => a !== b,
};
const APART = 2e-12;
const near = (a, b) => a !== b && abs(a - b) <= APART * abs(b);

function compared(a, sign, b) {
  const [left, right] = [Number(a), Number(b)];
  if (isNaN(left - right)) return NaN;
  const [p, q] = near(left, right) ? [cleaned(left), cleaned(right)] : [left, right];
  return COMPARISONS[sign](p, q) ? 1 : 0;
}

const atOrAbove = (x, edge) => compared(x, ">=", edge) === 1;
const both = (...conditions) => (conditions.some(one => Number(one) === 0) ? 0 : conditions.some(isNaN) ? NaN : 1);
const denied = condition => 1 - condition;
const either = (...conditions) => denied(both(...conditions.map(denied)));
const choose = (condition, a, b) => (isNaN(condition) ? NaN : condition > 0 ? a : b);
const clip = (x, low, high) => Math.min(Math.max(x, low), high);
const nonnegative = x => (x < 0 ? NaN : x + 0);
const opposite = population => population.map(value => -value);

function segments(x, xs, ys) {
  let value = ys[0] + 0 * x;
  for (let k = 0; k + 1 < xs.length; k++) {
    const run = xs[k + 1] - xs[k];
    value += run > 0 ? ((ys[k + 1] - ys[k]) / run) * clip(x - xs[k], 0, run) : NaN;
  }
  const anchor = xs.indexOf(clip(x, xs[0], xs[xs.length - 1])); // its own rating, to the last bit, and beyond the outermost
  return anchor >= 0 && !isNaN(value) ? ys[anchor] : value;
}

function beyond(x, xs, ys) {
  const n = xs.length;
  const first = (ys[1] - ys[0]) / (xs[1] - xs[0]);
  const last = (ys[n - 1] - ys[n - 2]) / (xs[n - 1] - xs[n - 2]);
  return first * Math.min(x - xs[0], 0) + last * Math.max(x - xs[n - 1], 0);
}

function varying_steps(x, xs, ys) {
  let value = ys[0] + 0 * x;
  for (let k = 1; k < xs.length; k++) {
    if (atOrAbove(x, xs[k])) value = ys[k];
    if (xs[k] <= xs[k - 1]) value = NaN;
  }
  return isNaN(x) ? NaN : value;
}

function endSlope(h0, h1, d0, d1) {
  const slope = ((2 * h0 + h1) * d0 - h0 * d1) / (h0 + h1);
  if (Math.sign(slope) !== Math.sign(d0)) return 0;
  return Math.sign(d0) !== Math.sign(d1) && abs(slope) > 3 * abs(d0) ? 3 * d0 : slope;
}

function monotoneSlopes(xs, ys) {
  const runs = [], secants = [];
  for (let k = 0; k + 1 < xs.length; k++) {
    runs.push(xs[k + 1] - xs[k]);
    secants.push((ys[k + 1] - ys[k]) / runs[k]);
  }
  const n = secants.length;
  if (n === 1) return [secants[0], secants[0]];
  const slopes = [endSlope(runs[0], runs[1], secants[0], secants[1])];
  for (let k = 0; k + 1 < n; k++) {
    const w0 = 2 * runs[k + 1] + runs[k], w1 = runs[k + 1] + 2 * runs[k];
    slopes.push(secants[k] * secants[k + 1] <= 0 ? 0 : (w0 + w1) / (w0 / secants[k] + w1 / secants[k + 1]));
  }
  slopes.push(endSlope(runs[n - 1], runs[n - 2], secants[n - 1], secants[n - 2]));
  return slopes;
}

function smooth(x, xs, ys) {
  for (let k = 0; k + 1 < xs.length; k++) if (!(xs[k + 1] > xs[k])) return NaN;
  const held = clip(x, xs[0], xs[xs.length - 1]);
  if (isNaN(held)) return NaN;
  const slopes = monotoneSlopes(xs, ys);
  let at = 0;
  while (at + 2 < xs.length && held >= xs[at + 1]) at++;
  const run = xs[at + 1] - xs[at], t = (held - xs[at]) / run, u = 1 - t, rise = t * t * (3 - 2 * t);
  const piece = ys[at] * (1 - rise) + ys[at + 1] * rise + run * t * u * (slopes[at] * u - slopes[at + 1] * t);
  const anchor = xs.indexOf(held); // an anchor's own rating, to the last bit
  return anchor >= 0 ? ys[anchor] : clip(piece, Math.min(ys[at], ys[at + 1]), Math.max(ys[at], ys[at + 1]));
}

function standing(x, population, ties) {
  let below = 0, equal = 0, members = 0;
  for (const member of population) {
    if (isNaN(member)) continue;
    members++;
    if (compared(member, "<", x) === 1) below++;
    else if (compared(member, "==", x) === 1) equal++;
  }
  if (!members || isNaN(x)) return NaN;
  const counted = { mean: below + equal / 2, lowest: below + Math.min(equal, 1), highest: below + equal }[ties];
  return counted / members;
}

// A statistic of a reference population, as `scoring/reference.py` works it out; NaN where too few values are there.
function statisticOf(statistic, values, share = 0) {
  const known = values.filter(value => !isNaN(value)), n = known.length;
  if (n < (statistic === "sd" ? 2 : 1)) return NaN;
  const [least, most] = [Math.min(...known), Math.max(...known)], greatest = compared(most, "==", least) === 1 ? least : most;
  const mean = known.reduce((a, b) => a + b, 0) / n;
  const sd = () => (least === greatest ? 0 : sqrt(known.reduce((sum, value) => sum + (value - mean) ** 2, 0) / (n - 1)));
  const percentile = part => {
    const ordered = known.sort((a, b) => a - b), place = (part / 100) * (n - 1), at = Math.floor(place);
    const [before, after, t] = [ordered[at], ordered[Math.min(at + 1, n - 1)], place - at];
    return t < 0.5 ? before + (after - before) * t : after - (after - before) * (1 - t);
  };
  const median = () => percentile(50);
  return { mean: () => mean, sd, least: () => least, greatest: () => greatest, median, percentile: () => percentile(share) }[statistic]();
}

// Exact rounding in decimal: a double stands for its 13 significant digits, a step for the decimal it prints as.
function decimalOf(text) {
  const [mantissa, exponent] = text.split("e");
  const [whole, fraction = ""] = mantissa.split(".");
  return { digits: BigInt(whole + fraction), power: Number(exponent || 0) - fraction.length };
}

function thirteenDigits(value) {
  const long = abs(value).toExponential(60);
  const tie = long.slice(14, 62) === "5" + "0".repeat(47);
  let short = decimalOf(abs(value).toExponential(12));
  if (tie && short.digits % 2n === 1n) short = { digits: short.digits - 1n, power: short.power };
  return { digits: value < 0 ? -short.digits : short.digits, power: short.power };
}

// The double nearest to the decimal of 13 significant digits that a double stands for.
function cleaned(value) {
  if (!isFinite(value) || value === 0) return value + 0;
  const { digits, power } = thirteenDigits(value);
  return Number(`${digits}e${power}`);
}

const ROUNDING = {
  "half-up": (size, rest2, unit) => size + (rest2 >= unit ? 1n : 0n),
  "half-even": (size, rest2, unit) => size + (rest2 > unit || (rest2 === unit && size % 2n === 1n) ? 1n : 0n),
  down: size => size,
  up: (size, rest2) => size + (rest2 > 0n ? 1n : 0n),
  floor: (size, rest2, unit, negative) => size + (negative && rest2 > 0n ? 1n : 0n),
  ceiling: (size, rest2, unit, negative) => size + (!negative && rest2 > 0n ? 1n : 0n),
};

const FLOAT_ROUNDING = {
  "half-up": q => Math.sign(q) * Math.floor(abs(q) + 0.5),
  "half-even": q => Math.sign(q) * Math.floor(abs(q) + 0.5),
  down: Math.trunc,
  up: q => Math.sign(q) * Math.ceil(abs(q)),
  floor: Math.floor,
  ceiling: Math.ceil,
};

const units = new Map();
function unitOf(step) {
  if (!units.has(step)) units.set(step, decimalOf(String(step)));
  return units.get(step);
}

function round_to(value, step, rule) {
  if (!isFinite(value)) return value;
  if (!(step > 0) || !isFinite(step)) return NaN;
  const unit = unitOf(step), scaled = value / step, size = abs(scaled);
  const clear = abs(scaled - Math.round(2 * scaled) / 2) > 1e-12 * size;
  const whole = clear ? FLOAT_ROUNDING[rule](scaled) * Number(unit.digits) : 0;
  if (clear && abs(whole) < 1e12 && unit.power <= 0 && unit.power >= -22) return whole / 10 ** -unit.power + 0;
  return roundExactly(value, unit, rule);
}

function roundExactly(value, unit, rule) {
  const given = thirteenDigits(value), power = Math.min(given.power, unit.power);
  const n = given.digits * 10n ** BigInt(given.power - power), d = unit.digits * 10n ** BigInt(unit.power - power);
  const negative = n < 0n, size = negative ? -n : n;
  const multiple = ROUNDING[rule](size / d, 2n * (size % d), d, negative);
  const result = Number(`${multiple * unit.digits}e${unit.power}`);
  return negative && result !== 0 ? -result : result;
}

// A rounded figure as it is printed: as many decimals as its step has.
function shownText(value, step) {
  const unit = unitOf(step);
  let decimals = Math.max(0, -unit.power), digits = unit.digits;
  while (decimals > 0 && digits % 10n === 0n) { digits /= 10n; decimals--; }
  return value.toFixed(Math.min(decimals, 100));
}
