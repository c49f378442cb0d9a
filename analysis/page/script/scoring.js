// The model's steps over every product: what is there, the steps in order, gates, shown figures, ranks and bands.
// `model` is the page's document, `STEPS` the printed steps, each a function of one product's registers `x`.
const DUST = 1e-9, OFF_SCALE = 1e-9;
const RATED = 0, PARTIAL = 1, UNRATED = 2, NOT_APPLICABLE = 3, WITHHELD = 4;

// The value of every number and the option of every choice: as stated, save for what `made` sets, and for numbers that
// follow an option as long as they are not set themselves. `made` has `numbers` and `choices`, maps from place to value.
function settingOf(model, made) {
  const p = Float64Array.from(model.numbers, number => number.value), c = model.choices.map(() => 0);
  for (const [place, option] of made.choices) c[place] = option;
  for (const follower of model.followers) if (c[follower.choice] === follower.option) p[follower.number] = follower.value;
  for (const [place, value] of made.numbers) p[place] = value;
  return { p, c };
}

function optionOf(model, setting, choice) {
  return model.choices[choice].options[setting.c[choice]];
}

// Which combination of choices holds, the last turning fastest.
function combinationOf(model, setting, choices) {
  return choices.reduce((code, choice) => code * model.choices[choice].options.length + setting.c[choice], 0);
}

function settledSteps(model, setting, steps) {
  return steps.map(step => ({ to: step.to, run: STEPS[step.codes[combinationOf(model, setting, step.choices)]] }));
}

function readingsUnder(model, setting) {
  return model.measures.map(measure => measure.variants[combinationOf(model, setting, measure.choices)]);
}

function figuresUnder(readings) {
  const figures = [];
  for (const variant of readings) for (const [place, value] of variant.figures) figures[place] = asNumbers(value);
  return figures;
}

function asNumbers(value) {
  return Array.isArray(value) ? value.map(member => member ?? NaN) : value ?? NaN;
}

function registersFor(model, setting, readings, figures, product) {
  const x = { m: [], h: [], a: [], w: [], f: figures, r: model.populationRegisters, p: setting.p, o: [], s: [], v: NaN };
  for (const place of model.constants) x.h[place] = x.a[place] = 1;
  model.measures.forEach((measure, place) => {
    x.m[place] = readings[place].values[product] ?? NaN;
    x.h[measure.here] = readings[place].here[product];
    x.a[measure.here] = readings[place].applies[product];
  });
  model.words.forEach((word, place) => {
    x.w[place] = word.is[product];
    x.h[word.here] = word.stated[product];
    x.a[word.here] = 1;
  });
  return x;
}

// Every product's registers, made once for each way of reading the catalogue: an evaluation writes only its own into them.
const registersMade = new Map();
function registersUnder(model, setting, readings, figures) {
  const key = model.measures.map(measure => combinationOf(model, setting, measure.choices)).join();
  if (!registersMade.has(key)) registersMade.set(key, model.products.map((_, product) => registersFor(model, setting, readings, figures, product)));
  return registersMade.get(key);
}

// How an output stands for one product; the rule is that of `scoring/missing.py`.
function standingOf({ output, lowest, asksForAll }, x, standings, setting) {
  let total = 0, gone = 0, fits = true, partial = false;
  for (const part of output.parts) {
    const weight = part.weight < 0 ? 1 : setting.p[part.weight];
    total += weight * x.a[part.here];
    gone += weight * (x.a[part.here] && !x.h[part.here] ? 1 : 0);
    fits = fits && Boolean(x.a[part.here]);
    partial = partial || (weight > 0 && !x.h[part.here]) || standings[part.here] === PARTIAL;
  }
  const share = total > 0 ? gone / total : 0;
  let absent = share > setting.p[output.absent_above] + DUST, nothing = total <= 0;
  if (output.is_value) {
    absent = lowest ? absent : gone > 0;
    nothing = !fits;
  } else if (!lowest) absent = absent || share >= 1 - DUST;
  if (asksForAll && !output.is_value) nothing = nothing || output.parts.some(part => (part.weight < 0 ? 1 : setting.p[part.weight]) > 0 && !x.a[part.here]);
  for (const needed of output.needs) {
    absent = absent || Boolean(x.a[needed] && !x.h[needed]);
    nothing = nothing || !x.a[needed];
  }
  return nothing ? NOT_APPLICABLE : absent ? UNRATED : partial ? PARTIAL : RATED;
}

function runSteps(steps, x) {
  x.v = NaN;
  for (const step of steps) {
    if (step.to >= 0) x.s[step.to] = step.run(x);
    else x.v = step.run(x);
  }
  return x.v;
}

// What is done with a part that does not apply: as it is said, or else by whether the blend is a total.
function notApplicableUnder(model, setting, output) {
  const { choice, is_said, blend, totals } = output.not_applicable;
  if (choice >= 0 && (is_said || setting.c[choice] !== 0)) return optionOf(model, setting, choice);
  return blend >= 0 && totals.includes(optionOf(model, setting, blend)) ? "absent" : "reweight";
}

// Every output with its steps and its missing rule as they are under a setting.
function entriesUnder(model, setting) {
  return model.outputs.map(output => ({
    output,
    steps: settledSteps(model, setting, output.steps),
    given: settledSteps(model, setting, output.given),
    lowest: optionOf(model, setting, output.otherwise) === "lowest",
    asksForAll: notApplicableUnder(model, setting, output) === "absent",
  }));
}

// One product's outputs in order of need. Each is told as it is worked out; `told` may end it by answering false.
function workOut(entries, x, setting, told) {
  const standings = [];
  for (const entry of entries) {
    const { output } = entry, standing = standingOf(entry, x, standings, setting), value = runSteps(entry.steps, x);
    const asked = entry.given.length > 0 && standing <= PARTIAL && output.parts.every(part => x.h[part.here]);
    const status = asked && runSteps(entry.given, x) === 0 ? UNRATED : standing;
    standings[output.here] = status;
    x.h[output.here] = status <= PARTIAL ? 1 : 0;
    x.a[output.here] = status !== NOT_APPLICABLE ? 1 : 0;
    x.o[output.place] = value;
    if (told(entry, status, value) === false) return;
  }
}

function isOnScale(setting, output, value) {
  const low = setting.p[output.scale.low], high = output.scale.high < 0 ? Infinity : setting.p[output.scale.high];
  return isFinite(value) && value >= low - OFF_SCALE && value <= high + OFF_SCALE;
}

// The figures of ratings and scores that live references take, worked out in order of need over all products.
function outputFigures(model, setting, entries, products, figures) {
  for (const figure of model.output_figures) {
    const values = products.map(x => {
      let found = NaN;
      workOut(entries, x, setting, (entry, status, value) => {
        if (entry.output.name !== figure.output) return true;
        if (status <= PARTIAL) found = value;
        return false;
      });
      return found;
    });
    figures[figure.place] = figure.statistic === "population" ? values : statisticOf(figure.statistic, values, figure.share);
  }
}

// Every output of every product under a setting, with what is wrong.
function evaluate(model, setting) {
  const readings = readingsUnder(model, setting), figures = figuresUnder(readings), n = model.products.length;
  const outputs = entriesUnder(model, setting).map(entry => ({ ...entry, value: new Float64Array(n), status: new Uint8Array(n) }));
  const products = registersUnder(model, setting, readings, figures);
  for (const x of products) [x.p, x.f] = [setting.p, figures];
  outputFigures(model, setting, outputs, products, figures);
  products.forEach((x, product) => {
    workOut(outputs, x, setting, (entry, status, value) => {
      entry.value[product] = status <= PARTIAL ? value : NaN;
      entry.status[product] = status;
    });
  });
  const wrong = faultsOf(model, setting, outputs, products);
  const passages = model.gates.map(gate => passGate(model, setting, gate, products, readings));
  const columns = {};
  for (const name of model.columns) {
    const entry = outputs.find(e => e.output.name === name), column = columnOf(model, setting, entry, passages);
    columns[name] = column;
    entry.output.band_limits.forEach(limit => limitBands(model, setting, column, limit, products));
  }
  return { columns, wrong, products };
}

// What the formula's reader would refuse: rules that numbers must keep and do not.
function brokenRules(model, setting) {
  return model.rules.filter(rule => {
    const sum = rule.terms.reduce((total, [factor, place]) => total + factor * setting.p[place], rule.constant);
    return rule.relation === ">" ? !(sum > 0) : rule.relation === ">=" ? !(sum >= 0) : sum === 0 || isNaN(sum);
  });
}

// Values that no table would publish: not finite, off the scale, or beyond a curve that refuses what lies beyond.
function faultsOf(model, setting, outputs, products) {
  const wrong = [];
  for (const { output, value, status } of outputs) {
    value.forEach((found, product) => {
      if (status[product] <= PARTIAL && !isOnScale(setting, output, found)) wrong.push({ product, name: output.name, what: "no number on the scale" });
    });
  }
  for (const domain of model.domains) {
    const [refusesBelow, refusesAbove] = [domain.below, domain.above].map(choice => optionOf(model, setting, choice) === "error");
    if (!refusesBelow && !refusesAbove) continue;
    if (domain.apply >= 0 && optionOf(model, setting, domain.apply) !== "always") continue;
    const ends = [setting.p[domain.low], setting.p[domain.high]], low = Math.min(...ends), high = Math.max(...ends);
    products.forEach((x, product) => {
      const found = valueOf(model, x, domain.source);
      const beyond = (refusesBelow && compared(found, "<", low) === 1) || (refusesAbove && compared(found, ">", high) === 1);
      if (beyond) wrong.push({ product, name: domain.source, what: `outside ${domain.curve}` });
    });
  }
  return wrong;
}

function valueOf(model, x, name) {
  const measure = model.measures.findIndex(one => one.name === name);
  if (measure >= 0) return x.m[measure];
  const output = model.outputs.find(one => one.name === name);
  return x.h[output.here] ? x.o[output.place] : NaN;
}

function passGate(model, setting, gate, products, readings) {
  const steps = settledSteps(model, setting, gate.steps);
  const met = x => runSteps(steps, x) > 0.5;
  const withholds = optionOf(model, setting, gate.unknown) === "withhold";
  const withheld = [], remarks = [];
  products.forEach((x, product) => {
    const known = gate.names.every(place => x.h[place]), hasValue = known && !isNaN(runSteps(steps, x));
    const closes = hasValue && met(x);
    const near = hasValue && !closes && gate.guard >= 0 && nearTo(setting, gate, x, readings, product, met);
    withheld.push(hasValue ? closes && Boolean(gate.withhold) : withholds);
    if (!hasValue) remarks.push(known ? gate.without_value : gate.missing);
    else remarks.push(closes ? gate.withhold || gate.remark : near ? gate.near : "");
  });
  return { gate, withheld, remarks };
}

// Whether the gate would close if the measure lay the guard band further on, to either side.
function nearTo(setting, gate, x, readings, product, met) {
  const value = x.m[gate.measure], reach = setting.p[gate.guard] * (readings[gate.measure].u[product] ?? NaN);
  const near = [value - reach, value + reach].some(moved => {
    x.m[gate.measure] = moved;
    return met(x);
  });
  x.m[gate.measure] = value;
  return near;
}

function columnOf(model, setting, entry, passages) {
  const { output } = entry, n = model.products.length;
  const own = output.section === "scores" || !model.outputs.some(one => one.section === "scores") ? passages : [];
  const gates = own.filter(({ gate }) => !gate.scores.length || gate.scores.includes(output.name));
  const value = Float64Array.from(entry.value), status = Uint8Array.from(entry.status), remarks = [];
  for (let product = 0; product < n; product++) {
    if (gates.some(gate => gate.withheld[product]) && status[product] <= UNRATED) status[product] = WITHHELD;
    if (status[product] === WITHHELD) value[product] = NaN;
    remarks.push(gates.map(gate => gate.remarks[product]).filter(Boolean));
  }
  const step = setting.p[output.scale.step], rule = optionOf(model, setting, output.scale.rule);
  const shown = Float64Array.from(value, found => round_to(found, step, rule));
  const option = choice => optionOf(model, setting, choice);
  const { ranks } = output, ranked = option(ranks.on) === "shown" ? shown : value, bands = bandsUnder(model, setting, output);
  const placesOf = values => rankOf(values, option(ranks.best), option(ranks.ties));
  return {
    output, value, shown, status, remarks, step, bands, limited: [],
    rank: placesOf(ranked),
    within: placesWithin(model, option(ranks.within), ranked, placesOf),
    placesAmong: chosen => placesOf(ranked.map((found, product) => (chosen(product) ? found : NaN))),
    band: bandsOf(bands, setting, option(model.bands_on) === "shown" ? shown : value),
  };
}

// Places, 1 for the best; values that agree in 12 significant digits are tied.
function rankOf(values, best, ties) {
  const known = [], rank = new Float64Array(values.length).fill(NaN);
  values.forEach((value, product) => {
    if (!isNaN(value)) known.push({ product, key: Number(value.toPrecision(12)) * (best === "highest" ? -1 : 1) });
  });
  known.sort((a, b) => a.key - b.key);
  for (let from = 0, dense = 1; from < known.length; dense++) {
    let to = from;
    while (to < known.length && known[to].key === known[from].key) to++;
    const place = { "shared-best": from + 1, "shared-mean": (from + to + 1) / 2, dense }[ties];
    for (; from < to; from++) rank[known[from].product] = place;
  }
  return rank;
}

// No band better than a limit of bands lets through where its condition holds, or where nothing says whether it does.
function limitBands(model, setting, column, limit, products) {
  const { bands, band, output } = column, highest = optionOf(model, setting, output.ranks.best) === "highest";
  const best = optionOf(model, setting, limit.best), place = bands.findIndex(one => best !== "none" && one.name === best);
  const edge = at => setting.p[bands[at].edge], steps = settledSteps(model, setting, limit.steps);
  const isBetter = at => at >= 0 && (place < 0 || (highest ? edge(at) > edge(place) : edge(at) < edge(place)));
  products.forEach((x, product) => {
    const met = runSteps(steps, x), unknown = isNaN(met) && limit.names.every(name => x.a[name]);
    if (!isBetter(band[product]) || !(met > 0.5 || unknown)) return;
    band[product] = place;
    column.remarks[product] = [...column.remarks[product].filter(one => !column.limited.includes(one)), limitText(model, setting, limit, best, unknown)];
    column.limited.push(column.remarks[product].at(-1));
  });
}

// What is said beside a band that was lowered, with the numbers of the condition as they are set.
function limitText(model, setting, { when }, best, unknown) {
  const { pieces, numbers } = when, said = numbers.map(place => (setting.p[place] === model.numbers[place].value ? model.numbers[place].text : String(setting.p[place])));
  const condition = pieces.map((piece, at) => piece + (said[at] ?? "")).join("").split(/\s+/).filter(Boolean).join(" ");
  return `no band${best === "none" ? "" : ` better than ${best}`}: ${unknown ? `whether ${condition} is not known` : condition}`;
}

// Places within each class, the words of an attribute, and how many of the class have one; null where none are counted.
function placesWithin(model, attribute, ranked, placesOf) {
  if (attribute === "none") return null;
  const known = model.attributes.find(one => one.name === attribute), words = known?.words ?? model.products.map(() => "");
  const rank = new Float64Array(words.length).fill(NaN), of = new Float64Array(words.length).fill(NaN);
  for (const word of new Set(words)) {
    if (word === "") continue;
    const members = words.flatMap((one, product) => (one === word ? [product] : []));
    const places = placesOf(members.map(product => ranked[product])), count = places.filter(place => !isNaN(place)).length;
    members.forEach((product, at) => {
      rank[product] = places[at];
      if (!isNaN(places[at])) of[product] = count;
    });
  }
  return { label: known?.label ?? attribute, words, rank, of };
}

// The bands of an output: its own, none, or the formula's.
function bandsUnder(model, setting, output) {
  const { choice, own } = output.bands, whose = choice < 0 ? "formula" : optionOf(model, setting, choice);
  return { own, formula: model.bands, none: [] }[whose];
}

// The band whose lower edge is the highest that a figure reaches; -1 for none.
function bandsOf(bands, setting, values) {
  const edges = bands.map((band, place) => ({ place, edge: setting.p[band.edge] })).sort((a, b) => b.edge - a.edge);
  return Array.from(values, value => {
    const found = edges.find(({ edge }) => atOrAbove(value, edge));
    return found ? found.place : -1;
  });
}
