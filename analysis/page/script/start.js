// The page: what is set, what comes of it, and what is said of it.
model.populationRegisters = model.populations.map(asNumbers);
const published = (() => { const setting = settingOf(model, emptyState()); return { setting, ...evaluate(model, setting) }; })();
const now = { made: emptyState(), setting: published.setting, result: published, score: model.columns[0] };
const history = { back: [], forward: [], before: null };
const things = buildControls(document.getElementById("things"));

function say(text) {
  document.getElementById("said").textContent = text;
}

// A change while a slider or a field is being moved; `settle` makes it one step of undo.
function move(change) {
  if (history.before === null) history.before = copyOf(now.made);
  change(now.made);
  recompute();
}

function settle() {
  if (history.before !== null && !sameState(history.before, now.made)) {
    history.back.push(history.before);
    history.forward.length = 0;
  }
  history.before = null;
  showSettings();
  carry();
  say(summary());
}

function restore(made, kept) {
  kept.push(copyOf(now.made));
  now.made = made;
  history.before = null;
  recompute();
  carry();
  say(summary());
}

function recompute() {
  now.setting = settingOf(model, now.made);
  now.result = evaluate(model, now.setting);
  showSettings();
  showTable();
  showPair();
  showCurve();
  showFaults();
}

function showSettings() {
  for (const thing of things) if (thing.details.open) for (const { address } of thing.rows) controls.get(address)(now.setting);
  markControls(things, now.made);
  document.getElementById("undo").disabled = history.back.length === 0;
  document.getElementById("redo").disabled = history.forward.length === 0;
  const set = settingsOf(now.made);
  document.getElementById("reset").disabled = set.length === 0;
  document.getElementById("set-options").textContent = set.length ? optionsText(now.made) : "Nothing is set: the figures are those published.";
}

function showTable() {
  fillTable(now.result, now.score);
}

function showPair() {
  fillPair(now.result, now.score);
}

function showCurve() {
  if (document.getElementById("curves").open) fillCurve(now.result);
}

function showFaults() {
  const host = document.getElementById("wrong"), text = faultsText();
  host.hidden = text === "";
  if (host.textContent !== text) host.textContent = text;
}

// Why no table would be published with this, "" where one would be.
function faultsText() {
  const broken = [...new Set(brokenRules(model, now.setting).map(rule => `${rule.of}: ${rule.says}`))], wrong = now.result.wrong;
  if (broken.length) return `No table would be published with this. The formula must keep: ${broken.slice(0, 4).join("; ")}.`;
  if (!wrong.length) return "";
  const named = wrong.slice(0, 4).map(one => `${labelOf(one.name)} of ${called(one.product)} (${one.what})`).join(", ");
  return `No table would be published with this: ${named}${wrong.length > 4 ? `, and ${wrong.length - 4} more` : ""}.`;
}

function summary() {
  const column = now.result.columns[now.score], was = published.columns[now.score];
  if (faultsText()) return `${column.output.label}: no table would be published with this.`;
  const moved = model.products.filter((_, place) => movedText(was.rank[place], column.rank[place]) !== "").length;
  const first = model.products.map((_, place) => place).filter(place => column.rank[place] === 1).map(called);
  const set = settingsOf(now.made).length;
  const text = `${column.output.label}: ${set ? `${set} set, ${moved} of ${model.products.length} products moved` : "as published"}; first: ${first.join(", ") || "none"}.`;
  return filters().length ? `${text} ${amongText(column)}` : text;
}

// Who is first among the products that the menus choose, and of how many.
function amongText(column) {
  const chosen = chosenByFilters(), ranks = column.placesAmong(chosen), places = model.products.map((_, place) => place);
  const words = filters().map(({ attribute, word }) => `${attribute.label} ${word.replaceAll("_", " ") || "not stated"}`).join(", ");
  const first = places.filter(place => ranks[place] === 1).map(called).join(", ") || "none";
  return `Among ${words} (${places.filter(chosen).length} of ${places.length} products), first: ${first}.`;
}

// The address bar holds the state; a page that may not change it still works.
function carry() {
  const hash = hashOf(now.made, now.score, filters());
  try { window.history.replaceState(null, "", hash); } catch { location.hash = hash; }
}

// What a link sets; what it names and this page does not know is said, and not dropped in silence.
function readHash() {
  const { score, where, made, unknown } = stateFromHash(location.hash);
  const strange = setFilters(location.hash.length > 1 ? where : model.where).map(text => `where=${text}`);
  const lost = [...(score && !model.columns.includes(score) ? [`score=${score}`] : []), ...unknown, ...strange];
  if (score && model.columns.includes(score)) now.score = score;
  now.made = made;
  document.getElementById("score").value = now.score;
  chooseScore(now.score);
  const host = document.getElementById("lost");
  host.hidden = lost.length === 0;
  host.textContent = lost.length ? `The link names what this page does not know, and that is left out: ${lost.join(", ")}.` : "";
  say(summary());
}

function chooseScore(name) {
  now.score = name;
  buildTable(name);
  const own = model.outputs.find(output => output.name === name);
  for (const thing of things) thing.details.open = thing.output === own;
  recompute();
}

async function copy(text, done) {
  try {
    await navigator.clipboard.writeText(text);
    say(done);
  } catch {
    const box = document.getElementById("set-options"), range = document.createRange();
    box.textContent = text;
    range.selectNodeContents(box);
    getSelection().removeAllRanges();
    getSelection().addRange(range);
    say("Copying is not allowed here: the text is selected below, copy it from there.");
  }
}

const TRIAL = "# A trial, written by the live page: not the published edition, whatever its name and version say below.\n";

function download() {
  const texts = changedSources(now.made);
  if (texts === null) return say("Two of the settings are keys that are not written yet and would go to one place: use the --set options instead.");
  const told = [];
  for (const { name, text } of texts) {
    const own = name.split(/[\\/]/).pop(), main = name === model.sources[0].name;
    const called = main ? own.replace(/(\.[^.]*)?$/, "-trial$1") : own;
    const link = element("a", { href: URL.createObjectURL(new Blob([TRIAL + text], { type: "text/yaml" })), download: called });
    link.click();
    URL.revokeObjectURL(link.href);
    told.push(called);
  }
  say(`Downloaded ${told.join(", ")}.`);
}

function fillLists() {
  const score = document.getElementById("score"), which = document.getElementById("which");
  for (const name of model.columns) score.append(element("option", { value: name }, `${labelOf(name)}${model.outputs.find(one => one.name === name).section === "ratings" ? " (rating)" : ""}`));
  curvesOf().forEach(({ output, source }, at) => which.append(element("option", { value: at }, `${output.label}: ${clipped(labelOf(source), 60)}`)));
  for (const id of ["first", "second"]) {
    const list = document.getElementById(id);
    list.append(element("option", { value: "" }, "none"), ...model.products.map((_, place) => element("option", { value: place }, clipped(called(place), 60))));
    list.addEventListener("change", () => { const at = id === "first" ? 0 : 1; pinned.splice(at, 1, ...(list.value === "" ? [] : [Number(list.value)])); showTable(); showPair(); showCurve(); });
  }
  const filters = document.getElementById("filters");
  model.attributes.forEach((attribute, at) => {
    const words = [...new Set(attribute.words)].sort();
    if (words.length < 2 || words.length > 40) return;
    const list = element("select", { id: `is-${at}`, "data-attribute": at }, element("option", { value: "" }, "any"), ...words.map(word => element("option", { value: "=" + word }, word.replaceAll("_", " ") || "not stated")));
    list.addEventListener("change", () => { showTable(); carry(); say(summary()); });
    filters.append(element("label", { for: `is-${at}` }, isolated(attribute.label)), " ", list, " ");
  });
}

function fillAbout() {
  const list = document.getElementById("cautions");
  list.append(...model.cautions.map(text => element("li", {}, text)));
  document.getElementById("made-from").textContent = `${model.formula.name} ${model.formula.version}, formula sha256 ${model.formula.sha256}, catalogue sha256 ${model.catalogue.sha256}, made by ${model.tool}.`;
  document.getElementById("left-out").append(...model.left_out.map(({ why, addresses }) => element("li", {}, `${addresses.length} addresses (${why}): `, element("span", { class: "addresses" }, addresses.join(", ")))));
}

// The page's own arithmetic against what was published; a difference is said and not hidden.
function checkPublished() {
  const wrong = model.columns.filter(name => model.published[name].shown.some((shown, place) => {
    const found = published.columns[name].shown[place];
    return shown === null ? !isNaN(found) : shown !== found;
  }));
  if (wrong.length) {
    const host = document.getElementById("differs");
    host.hidden = false;
    host.textContent = `This browser's arithmetic gives other figures than those published for ${wrong.join(", ")}: do not rely on this page.`;
  }
}

for (const thing of things) thing.details.addEventListener("toggle", showSettings);
fillLists();
fillAbout();
checkPublished();
document.getElementById("score").addEventListener("change", event => { chooseScore(event.target.value); carry(); say(summary()); });
document.getElementById("undo").addEventListener("click", () => { if (history.back.length) restore(history.back.pop(), history.forward); });
document.getElementById("redo").addEventListener("click", () => { if (history.forward.length) restore(history.forward.pop(), history.back); });
document.getElementById("reset").addEventListener("click", () => { history.forward.length = 0; restore(emptyState(), history.back); });
document.getElementById("copy-set").addEventListener("click", () => copy(optionsText(now.made), "The --set options are copied."));
document.getElementById("copy-link").addEventListener("click", () => copy(location.href.split("#")[0] + hashOf(now.made, now.score, filters()), "The link is copied."));
document.getElementById("download").addEventListener("click", download);
document.getElementById("find").addEventListener("input", showTable);
document.getElementById("search").addEventListener("input", event => searchControls(things, event.target.value));
document.getElementById("close-gap").addEventListener("click", showClosing);
document.getElementById("curves").addEventListener("toggle", showCurve);
document.getElementById("which").addEventListener("change", showCurve);
document.addEventListener("keydown", event => {
  if (!(event.ctrlKey || event.metaKey) || event.key.toLowerCase() !== "z" || event.target.matches("input[type=search]")) return;
  event.preventDefault();
  document.getElementById(event.shiftKey ? "redo" : "undo").click();
});
window.addEventListener("hashchange", readHash);
narrow.addEventListener("change", () => { buildTable(now.score); showTable(); });
readHash();
// For a console, and for the tests: the same functions that the page itself calls.
const arithmetic = { over, ln, root, raised, compared, both, either, denied, choose, cleaned };
window.steelyard = { arithmetic, model, settingOf, evaluate, stateFrom, changedSources, optionsText, round_to, closingChanges, brokenRules, state: () => now };
