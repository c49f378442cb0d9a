// One curve: what it makes of every value of its measure, as published and as set, over the readings that it meets.
const SVG = "http://www.w3.org/2000/svg";
const WIDTH = 560, HEIGHT = 300, LEFT = 48, RIGHT = 12, TOP = 14, BOTTOM = 62, SAMPLES = 241;

function drawn(tag, attributes, text = "") {
  const made = document.createElementNS(SVG, tag);
  for (const [name, value] of Object.entries(attributes)) made.setAttribute(name, value);
  made.textContent = text;
  return made;
}

function curvesOf() {
  return model.outputs.flatMap(output => output.steps.filter(step => step.kind === "curve").map(step => ({ output, step, source: sourceOf(output, step) }))).filter(one => one.source);
}

function sourceOf(output, step) {
  const part = output.parts.find(one => one.curve && (one.curve === step.address || one.curve.startsWith(step.address + ".")));
  return part ? part.source : null;
}

function valuesMet(result, source) {
  return result.products.map(x => valueOf(model, x, source));
}

function curveValue(setting, x, step, source, at) {
  const run = STEPS[step.codes[combinationOf(model, setting, step.choices)]];
  const measure = model.measures.findIndex(one => one.name === source);
  const moved = { ...x, p: setting.p, m: [...x.m], o: [...x.o] };
  if (measure >= 0) moved.m[measure] = at;
  else moved.o[model.outputs.find(one => one.name === source).place] = at;
  return run(moved);
}

function fillCurve(result) {
  const chosen = curvesOf()[Number(document.getElementById("which").value)], host = document.getElementById("curve-body");
  if (!chosen) return host.replaceChildren(element("p", {}, "No rating has a curve."));
  const { output, step, source } = chosen, met = valuesMet(result, source), known = met.filter(value => !isNaN(value));
  const measure = model.measures.find(one => one.name === source);
  const [low, high] = rangeOf(known, step, measure), x = result.products[0];
  const scale = { low: now.setting.p[output.scale.low], high: output.scale.high < 0 ? NaN : now.setting.p[output.scale.high] };
  const lines = [published.setting, now.setting].map(setting => sampled(setting, x, step, source, low, high));
  const tops = lines.flat().map(point => point[1]).filter(isFinite);
  const least = Math.min(scale.low, ...tops), most = isNaN(scale.high) ? Math.max(...tops) : Math.max(scale.high, ...tops);
  const along = step.ratios && low > 0 ? Math.log : at => at;
  const right = at => LEFT + ((along(at) - along(low)) / (along(high) - along(low) || 1)) * (WIDTH - LEFT - RIGHT), up = value => HEIGHT - BOTTOM - ((value - least) / (most - least || 1)) * (HEIGHT - TOP - BOTTOM);
  const picture = drawn("svg", { viewBox: `0 0 ${WIDTH} ${HEIGHT}`, role: "img", "aria-label": curveWords(output, source, lines[1], known, measure) });
  picture.append(...axes(step.ratios && low > 0 ? ratioTicks(low, high) : niceTicks(low, high), least, most, right, up, output, source, measure), ...rug(met, right));
  picture.append(pathOf(lines[0], right, up, "published"), pathOf(lines[1], right, up, "set"), ...marks(met, result.columns, output, step, source, x, right, up));
  host.replaceChildren(picture, element("p", { class: "small" }, `Solid: as set. Dashed: as published. Ticks: the catalogue's readings.${pinned.map((place, at) => ` ${"AB"[at]}: ${called(place)}.`).join("")}${step.ratios && low > 0 ? " Equal ratios are equally far." : ""}`));
}

function rangeOf(known, step, measure) {
  const anchors = model.numbers.map((number, place) => ({ number, place })).filter(({ number }) => number.along && number.address.startsWith(step.address + ".")).map(({ place }) => now.setting.p[place]);
  const all = [...known, ...anchors].filter(isFinite), low = Math.min(...all), high = Math.max(...all), edge = 0.04 * (high - low || 1);
  if (step.ratios && low > 0) return [low / 1.15, high * 1.15];
  return [measure?.plausible ? Math.max(low - edge, measure.plausible[0]) : low - edge, high + edge];
}

function sampled(setting, x, step, source, low, high) {
  const at = step.ratios && low > 0 ? share => low * (high / low) ** share : share => low + (high - low) * share;
  return Array.from({ length: SAMPLES }, (_, k) => at(k / (SAMPLES - 1))).map(at => [at, curveValue(setting, x, step, source, at)]);
}

function pathOf(points, right, up, kind) {
  const good = points.filter(point => isFinite(point[1]));
  return drawn("path", { class: `line ${kind}`, d: good.map((point, k) => `${k ? "L" : "M"}${right(point[0]).toFixed(1)} ${up(point[1]).toFixed(1)}`).join("") });
}

function rug(met, right) {
  return met.filter(value => !isNaN(value)).map(value => drawn("path", { class: "tick", d: `M${right(value).toFixed(1)} ${HEIGHT - BOTTOM}v-7` }));
}

function marks(met, columns, output, step, source, x, right, up) {
  return pinned.map((place, at) => [met[place], "AB"[at]]).filter(([value]) => !isNaN(value)).flatMap(([value, letter]) => {
    const height = up(curveValue(now.setting, x, step, source, value));
    return [drawn("circle", { class: "mark", cx: right(value).toFixed(1), cy: height.toFixed(1), r: 4 }), drawn("text", { class: "letter", x: (right(value) + 7).toFixed(1), y: (height - 6).toFixed(1) }, letter)];
  });
}

// 1, 2 and 5 times powers of ten.
function ratioTicks(low, high) {
  const ticks = [];
  for (let power = Math.floor(Math.log10(low)); power <= Math.log10(high); power++) for (const k of [1, 2, 5]) ticks.push(Number((k * 10 ** power).toPrecision(3)));
  return ticks.filter(at => at >= low && at <= high);
}

function niceTicks(low, high) {
  const raw = (high - low) / 5, size = 10 ** Math.floor(Math.log10(raw)), step = [1, 2, 5, 10].map(k => k * size).find(one => one >= raw);
  const ticks = [];
  for (let at = Math.ceil(low / step) * step; at <= high + step * 1e-9; at += step) ticks.push(Number(at.toPrecision(12)));
  return ticks;
}

function axes(ticks, least, most, right, up, output, source, measure) {
  const ground = HEIGHT - BOTTOM, found = [drawn("path", { class: "axis", d: `M${LEFT} ${TOP}V${ground}H${WIDTH - RIGHT}` })];
  for (const at of ticks) found.push(drawn("path", { class: "axis", d: `M${right(at).toFixed(1)} ${ground}v4` }), drawn("text", { x: right(at).toFixed(1), y: ground + 18, "text-anchor": "middle" }, String(at)));
  for (const at of niceTicks(least, most)) found.push(drawn("path", { class: "axis", d: `M${LEFT} ${up(at).toFixed(1)}h-4` }), drawn("text", { x: LEFT - 8, y: (up(at) + 4).toFixed(1), "text-anchor": "end" }, String(at)));
  const label = measure ? `${clipped(measure.label, 66)}${measure.unit ? `, ${measure.unit}` : ""}` : clipped(labelOf(source), 66);
  found.push(drawn("text", { x: (LEFT + WIDTH - RIGHT) / 2, y: ground + 40, "text-anchor": "middle" }, label));
  found.push(drawn("text", { transform: `translate(13 ${(TOP + ground) / 2}) rotate(-90)`, "text-anchor": "middle" }, `${clipped(output.label, 30)}, points`));
  return found;
}

function clipped(text, most) {
  const points = Array.from(text);
  return points.length > most ? points.slice(0, most - 1).join("") + "…" : text;
}

function curveWords(output, source, line, known, measure) {
  const good = line.filter(point => isFinite(point[1]));
  if (!good.length) return `${output.label}: no value.`;
  const first = good[0], last = good[good.length - 1], unit = measure?.unit ?? "", figure = value => String(Number(value.toPrecision(4)));
  return `${output.label} goes from ${figure(first[1])} on its scale at ${figure(first[0])} ${unit} to ${figure(last[1])} at ${figure(last[0])} ${unit} of ${labelOf(source)}; ${known.length} readings lie between ${figure(Math.min(...known))} and ${figure(Math.max(...known))} ${unit}.`;
}
