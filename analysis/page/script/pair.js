// Two products side by side: their gap, part by part, and what would close it.
const pinned = [];
const STEPS_OUT = 28, HALVINGS = 50, MOST_NAMED = 8;

function pinProduct(place) {
  if (pinned.includes(place)) pinned.splice(pinned.indexOf(place), 1);
  else {
    if (pinned.length === 2) pinned.shift();
    pinned.push(place);
  }
  showTable();
  showPair();
  showCurve();
  say(pinned.length === 2 ? `${pinned.map(called).join(" and ")} are side by side below the table.` : pinned.length ? `${called(pinned[0])} is pinned; pin another.` : "Nothing is pinned.");
}

function fillPair(result, name) {
  ["first", "second"].forEach((id, at) => { document.getElementById(id).value = pinned[at] ?? ""; });
  const host = document.getElementById("pair-body"), closing = document.getElementById("closing");
  closing.replaceChildren();
  document.getElementById("close-gap").disabled = true;
  if (pinned.length < 2) return host.replaceChildren(element("p", {}, "Pin two products in the table, or choose them here."));
  const [a, b] = pinned, column = result.columns[name], { output, parts } = columnsFor(name);
  const gap = column.value[a] - column.value[b];
  const rows = parts.map(part => {
    const own = result.columns[part], weighed = output.parts.find(one => one.source === part);
    return [labelOf(part), shareText(output, weighed), shownIn(own, a), shownIn(own, b), isNaN(own.value[a] - own.value[b]) ? "" : signed(own.value[a] - own.value[b])];
  });
  rows.push([output.label, "", shownIn(column, a), shownIn(column, b), isNaN(gap) ? "" : signed(gap)]);
  host.replaceChildren(pairTable(a, b, rows));
  document.getElementById("close-gap").disabled = isNaN(gap) || gap === 0;
}

function shareText(output, part) {
  if (!part || part.weight < 0) return "";
  const total = output.parts.reduce((sum, one) => sum + (one.weight < 0 ? 1 : now.setting.p[one.weight]), 0);
  return total > 0 ? `${((100 * now.setting.p[part.weight]) / total).toFixed(1)} %` : "";
}

function signed(value) {
  return (value > 0 ? "+" : value < 0 ? "−" : "") + Math.abs(value).toFixed(2);
}

function pairTable(a, b, rows) {
  const titles = ["Part", "Weight", called(a), called(b), "Difference, unrounded"];
  const head = element("tr", {}, ...titles.map(title => element("th", { scope: "col" }, isolated(title))));
  const body = rows.map((cells, at) => element("tr", { class: at === rows.length - 1 ? "total" : "" }, ...cells.map((text, k) => element(k ? "td" : "th", k ? {} : { scope: "row" }, isolated(text)))));
  return element("table", { class: "pair" }, element("caption", {}, "Side by side"), element("thead", {}, head), element("tbody", {}, ...body));
}

// The gap of two products in one score under a setting, and, where `moved` is given, one of their readings moved.
function gapOf(setting, name, a, b, moved = null) {
  const [first, second] = valuesOf(setting, name, [a, b], moved);
  return first - second;
}

// Products' values of one score; NaN for a value off its scale, and for a setting that the formula's reader would refuse.
function valuesOf(setting, name, products, moved) {
  if (brokenRules(model, setting).length) return products.map(() => NaN);
  const readings = readingsUnder(model, setting), figures = figuresUnder(readings), entries = entriesUnder(model, setting);
  const registersOf = product => registersFor(model, setting, readings, figures, product);
  if (model.output_figures.length) outputFigures(model, setting, entries, model.products.map((_, product) => registersOf(product)), figures);
  return products.map(product => {
    const x = registersOf(product);
    if (moved && moved.product === product) x.m[moved.measure] = moved.value;
    let found = NaN;
    workOut(entries, x, setting, ({ output }, status, value) => {
      const there = status <= PARTIAL;
      if (there && !isOnScale(setting, output, value)) return false;
      if (output.name === name && there) found = value;
      return output.name !== name;
    });
    return found;
  });
}

// The nearest value on one side at which `gap` is no longer above 0, written with few digits; null where none is met.
function crossing(gap, from, to) {
  let near = from, far = null;
  for (let k = 1; k <= STEPS_OUT && far === null; k++) {
    const next = from + (to - from) * (k / STEPS_OUT) ** 2, found = gap(next);
    if (isNaN(found)) break;
    if (found <= 0) far = next; else near = next;
  }
  if (far === null) return null;
  for (let k = 0; k < HALVINGS; k++) {
    const middle = (near + far) / 2;
    if (gap(middle) <= 0) far = middle; else near = middle;
  }
  for (let digits = 3; digits <= 12; digits++) {
    const unit = 10 ** (Math.floor(Math.log10(Math.abs(far) || 1)) - digits + 1);
    const out = Number(((far > from ? Math.ceil(far / unit - 1e-9) : Math.floor(far / unit + 1e-9)) * unit).toPrecision(digits));
    if (gap(out) <= 0 && Math.abs(out - far) <= Math.abs(far - from)) return out;
  }
  return far;
}

// Each number and reading that closes the gap by itself, the least relative change first.
function closingChanges(name) {
  const sign = now.result.columns[name].value[pinned[0]] >= now.result.columns[name].value[pinned[1]] ? 1 : -1;
  const [ahead, behind] = sign > 0 ? pinned : [pinned[1], pinned[0]], numbers = [];
  for (const [place, number] of model.numbers.entries()) {
    if (!reaches(number.address, name)) continue;
    const value = now.setting.p[place], span = Math.abs(value) || 1;
    const gap = moved => { const p = Float64Array.from(now.setting.p); p[place] = moved; return gapOf({ p, c: now.setting.c }, name, ahead, behind); };
    for (const to of [value + 3 * span, Math.max(value - 3 * span, isWeight(place) ? 0 : -Infinity)]) {
      const met = crossing(gap, value, to);
      if (met === null) continue;
      const p = Float64Array.from(now.setting.p);
      p[place] = met;
      const [level] = valuesOf({ p, c: now.setting.c }, name, [behind], null);
      numbers.push({ what: ownerOf(number.address), text: `${number.words || number.address}: ${written(value)} → ${written(met)}${unitText(number)} (${called(behind)} is then at ${level.toFixed(2)})`, address: number.address, to: written(met), by: Math.abs(met - value) / span });
    }
  }
  const readings = [behind, ahead].flatMap(product => readingChanges(name, ahead, behind, product));
  const nearest = found => found.sort((a, b) => a.by - b.by).slice(0, MOST_NAMED);
  return { ahead, behind, numbers: nearest(numbers), readings: nearest(readings) };
}

function unitText(noun) {
  return noun.unit ? ` ${noun.unit}` : "";
}

function readingChanges(name, ahead, behind, product) {
  const found = [], readings = readingsUnder(model, now.setting);
  model.measures.forEach((measure, place) => {
    const value = readings[place].values[product], u = readings[place].u[product];
    if (value === null || value === undefined) return;
    const gap = moved => gapOf(now.setting, name, ahead, behind, { product, measure: place, value: moved }), span = Math.abs(value) || 1;
    const [least, most] = measure.plausible ?? [value - 3 * span, value + 3 * span];
    for (const to of [most, least]) {
      const met = crossing(gap, value, to);
      if (met === null) continue;
      const beside = u ? `, ${(Math.abs(met - value) / u).toFixed(1)} times its standard uncertainty` : "";
      found.push({ what: called(product), text: `${measure.label}: ${Number(value.toPrecision(5))} → ${written(met)}${unitText(measure)}${beside}`, by: Math.abs(met - value) / span });
    }
  });
  return found;
}

function isWeight(place) {
  return model.outputs.some(output => output.parts.some(part => part.weight === place));
}

function ownerOf(address) {
  const owner = model.outputs.find(output => address.startsWith(output.address + "."));
  return owner ? owner.label : "Formula";
}

// Whether a number can matter to a score: it stands at the score, or at what goes into it.
function reaches(address, name) {
  const seen = new Set(), open = [name];
  while (open.length) {
    const next = open.pop(), output = model.outputs.find(one => one.name === next);
    if (!output || seen.has(output.name)) continue;
    seen.add(output.name);
    if (address.startsWith(output.address + ".")) return !/\.(scale|missing|round)\./.test(address);
    open.push(...output.parts.map(part => part.source));
  }
  return false;
}

function showClosing() {
  const { ahead, behind, numbers, readings } = closingChanges(now.score);
  const listed = (title, found) => [
    element("h3", {}, title),
    found.length ? element("ul", {}, ...found.map(one => element("li", {}, isolated(one.what), ": ", isolated(one.text)))) : element("p", {}, "None within three times its value that the formula's reader takes."),
  ];
  document.getElementById("closing").replaceChildren(
    element("p", {}, "Each of these by itself brings ", isolated(called(behind)), " level with ", isolated(called(ahead)), ", or above; sorted by the change as a share of the value."),
    ...listed("A number of the formula", numbers), ...listed("A reading", readings),
    element("p", { class: "small" }, "Searched on a grid, so a nearer one may be missed; `steelyard flip` says what is proved."),
  );
}
