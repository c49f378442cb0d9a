// The settings: for each thing of the formula its weights as sliders, its other numbers as fields, its choices as lists.
const controls = new Map();

function element(tag, attributes = {}, ...children) {
  const made = document.createElement(tag);
  for (const [name, value] of Object.entries(attributes)) {
    if (value === true) made.setAttribute(name, "");
    else if (value !== false && value !== null && value !== undefined) made.setAttribute(name, value);
  }
  made.append(...children);
  return made;
}

// A product by its id, which is the key, and behind it what it is called.
function called(place) {
  const id = model.products[place], name = model.names[place];
  return name && name !== id ? `${id} (${name})` : id;
}

// What is said of a product, a label or a remark may run in any direction.
function isolated(text) {
  return element("bdi", {}, text);
}

function thingsOf() {
  const outputs = [...model.outputs].sort((a, b) => model.columns.indexOf(a.name) - model.columns.indexOf(b.name));
  const things = outputs.map(output => ({ key: output.address, title: output.label, kind: output.section, output }));
  things.push({ key: "", title: "Scale, ranks, bands, gates and constants", kind: "rules", output: null });
  return things;
}

function belongsTo(address, things) {
  return things.find(thing => thing.key && address.startsWith(thing.key + ".")) ?? things[things.length - 1];
}

function buildControls(host) {
  const things = thingsOf();
  for (const thing of things) {
    thing.rows = [];
    thing.details = element("details", { class: "thing", id: `thing-${things.indexOf(thing)}` });
    thing.count = element("span", { class: "count" });
    thing.details.append(element("summary", {}, isolated(thing.title), " ", thing.count));
  }
  const weights = new Set(model.outputs.flatMap(output => output.parts.map(part => part.weight)).filter(place => place >= 0));
  for (const output of model.outputs) addWeights(things.find(thing => thing.output === output), output);
  model.choices.forEach((choice, place) => {
    if (choice.options.length > 1) addChoice(belongsTo(choice.address, things), choice, place);
  });
  model.numbers.forEach((number, place) => {
    if (!weights.has(place)) addNumber(belongsTo(number.address, things), number, place);
  });
  for (const thing of things) if (thing.rows.length) host.append(thing.details);
  return things;
}

function row(thing, address, label, ...children) {
  const made = element("div", { class: "row", "data-address": address }, label, ...children);
  thing.details.append(made);
  thing.rows.push({ address, made });
  return made;
}

function addWeights(thing, output) {
  const parts = output.parts.filter(part => part.weight >= 0);
  parts.forEach(part => {
    const number = model.numbers[part.weight], id = `w${part.weight}`;
    const slider = element("input", { type: "range", id, min: 0, max: 100, step: 0.1, "aria-describedby": `${id}-share` });
    const share = element("span", { id: `${id}-share`, class: "share" });
    const field = element("input", { type: "text", class: "number", id: `${id}-n`, inputmode: "decimal", autocomplete: "off", "aria-label": `${labelOf(part.source)}, weight in ${output.label}` });
    const label = element("label", { for: id }, isolated(labelOf(part.source)));
    slider.setAttribute("aria-label", `${labelOf(part.source)}, share of the weight of ${output.label}`);
    row(thing, number.address, label, slider, share, field).classList.add("weight");
    slider.addEventListener("input", () => move(made => setShare(made, output, part, Number(slider.value) / 100)));
    slider.addEventListener("change", settle);
    onNumber(field, part.weight);
    controls.set(number.address, setting => {
      const total = parts.reduce((sum, one) => sum + setting.p[one.weight], 0), value = setting.p[part.weight];
      if (document.activeElement !== slider || Math.abs(Number(slider.value) - (100 * value) / total) > 0.06) slider.value = total > 0 ? (100 * value) / total : 0;
      share.textContent = total > 0 ? `${((100 * value) / total).toFixed(1)} %` : "–";
      slider.setAttribute("aria-valuetext", share.textContent);
      if (document.activeElement !== field) field.value = written(value);
    });
  });
}

function labelOf(name) {
  const known = model.outputs.find(output => output.name === name) ?? model.measures.find(measure => measure.name === name);
  return known ? known.label : name;
}

// One part's share of the weight, the others keeping their proportions and the sum of all weights staying as it is.
function setShare(made, output, part, share) {
  const parts = output.parts.filter(one => one.weight >= 0), setting = settingOf(model, made);
  const total = parts.reduce((sum, one) => sum + setting.p[one.weight], 0) || 1;
  const rest = total - setting.p[part.weight], decimals = Math.max(0, 4 - Math.floor(Math.log10(total)));
  for (const one of parts) {
    const proportion = rest > 0 ? setting.p[one.weight] / rest : 1 / (parts.length - 1);
    const value = one === part ? share * total : (1 - share) * total * proportion;
    setNumber(made, one.weight, Number(value.toFixed(Math.min(decimals, 12))));
  }
}

function addChoice(thing, choice, place) {
  const id = `c${place}`;
  const list = element("select", { id });
  choice.options.forEach((option, at) => list.append(element("option", { value: at }, option + (at === 0 ? " (as published)" : ""))));
  row(thing, choice.address, element("label", { for: id }, isolated(wordsFor(choice, thing))), list);
  list.addEventListener("change", () => { move(made => setChoice(made, place, Number(list.value))); settle(); });
  controls.set(choice.address, setting => { list.value = setting.c[place]; });
}

function addNumber(thing, number, place) {
  const id = `n${place}`;
  const field = element("input", { type: "text", class: "number", id, inputmode: "decimal", autocomplete: "off" });
  const unit = number.unit ? element("span", { class: "unit" }, number.unit) : "";
  row(thing, number.address, element("label", { for: id }, isolated(wordsFor(number, thing))), field, unit);
  onNumber(field, place);
  controls.set(number.address, setting => {
    if (document.activeElement !== field || Number(field.value) !== setting.p[place]) field.value = written(setting.p[place]);
  });
}

function wordsFor(noun, thing) {
  const own = thing.key ? noun.address.slice(thing.key.length + 1) : noun.address;
  return noun.words && thing.key ? noun.words : noun.words ? `${noun.words} (${own})` : own;
}

// A field takes plain numbers with a point; what it does not take is said beside it, and changes nothing.
function onNumber(field, place) {
  const told = element("span", { class: "told", id: `${field.id}-told` });
  field.setAttribute("aria-describedby", told.id);
  field.after(told);
  const tell = text => { if (told.textContent !== text) told.textContent = text; };
  field.addEventListener("input", () => {
    const text = field.value.trim(), good = /^[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?$/.test(text) && isFinite(Number(text));
    field.setAttribute("aria-invalid", good ? "false" : "true");
    tell(good ? "" : text.includes(",") ? `Not taken: write ${text.replace(",", ".")}, with a point.` : "Not taken: a plain number is wanted.");
    if (good) move(made => setNumber(made, place, Number(text)));
  });
  field.addEventListener("change", settle);
  field.addEventListener("blur", () => {
    field.removeAttribute("aria-invalid");
    tell("");
    field.value = written(now.setting.p[place]);
  });
}

// Rows that are set are marked; each thing says how many of its numbers and choices are.
function markControls(things, made) {
  const set = new Set(settingsOf(made).map(([address]) => address));
  for (const thing of things) {
    let count = 0;
    for (const { address, made: node } of thing.rows) {
      node.classList.toggle("set", set.has(address));
      if (set.has(address)) count++;
    }
    thing.count.textContent = count ? `(${count} set)` : "";
  }
}

// The settings whose address or words hold a text; what the search opened is closed again after it.
const openedBySearch = new Set();
function searchControls(things, text) {
  const wanted = text.trim().toLowerCase();
  let hits = 0;
  for (const thing of things) {
    let own = 0;
    for (const { address, made } of thing.rows) {
      const hit = !wanted || `${address} ${thing.title} ${made.querySelector("label").textContent}`.toLowerCase().includes(wanted);
      made.hidden = !hit;
      if (hit) own++;
    }
    thing.details.hidden = own === 0;
    hits += own;
    if (wanted && own && !thing.details.open) { thing.details.open = true; openedBySearch.add(thing); }
  }
  if (!wanted) {
    for (const thing of openedBySearch) thing.details.open = false;
    openedBySearch.clear();
  }
  document.getElementById("none").hidden = hits > 0;
}
