// What has been set, how it is undone, and how it is carried away: a link, `--set` options, the formula's text.
function emptyState() {
  return { numbers: new Map(), choices: new Map() };
}

function copyOf(made) {
  return { numbers: new Map(made.numbers), choices: new Map(made.choices) };
}

function sameState(a, b) {
  return JSON.stringify(settingsOf(a)) === JSON.stringify(settingsOf(b));
}

// A number as a person would write it, which reads back as the same double.
function written(value) {
  return String(value).replace("e+", "e");
}

// [address, value] of everything set, in the order of the formula.
function settingsOf(made) {
  const numbers = [...made.numbers].sort((a, b) => a[0] - b[0]);
  const choices = [...made.choices].sort((a, b) => a[0] - b[0]);
  return [
    ...choices.map(([place, option]) => [model.choices[place].address, model.choices[place].options[option]]),
    ...numbers.map(([place, value]) => [model.numbers[place].address, written(value)]),
  ];
}

function setNumber(made, place, value) {
  const stated = settingOf(model, { numbers: new Map(), choices: made.choices }).p[place];
  if (value === stated) made.numbers.delete(place);
  else made.numbers.set(place, value);
}

function setChoice(made, place, option) {
  if (option === 0) made.choices.delete(place);
  else made.choices.set(place, option);
}

// The state that [address, value] pairs describe; what is not known is left out and named.
function stateFrom(pairs) {
  const made = emptyState(), unknown = [];
  for (const [address, value] of pairs) {
    const number = model.numbers.findIndex(one => one.address === address);
    const choice = model.choices.findIndex(one => one.address === address);
    const option = choice >= 0 ? model.choices[choice].options.indexOf(value) : -1;
    if (number >= 0 && value.trim() !== "" && isFinite(Number(value))) made.numbers.set(number, Number(value));
    else if (option >= 0) setChoice(made, choice, option);
    else unknown.push(`${address}=${value}`);
  }
  return { made, unknown };
}

function hashOf(made, score, where) {
  const parts = new URLSearchParams();
  parts.append("score", score);
  for (const [address, value] of settingsOf(made)) parts.append("set", `${address}=${value}`);
  for (const { attribute, word } of where) parts.append("where", `${attribute.name}=${word}`);
  return "#" + parts.toString();
}

function stateFromHash(hash) {
  const parts = new URLSearchParams(hash.replace(/^#/, ""));
  const pairs = parts.getAll("set").map(text => {
    const at = text.indexOf("=");
    return [text.slice(0, at), text.slice(at + 1)];
  });
  return { score: parts.get("score"), where: parts.getAll("where"), ...stateFrom(pairs) };
}

// Quoted for a POSIX shell where need be.
function optionsText(made) {
  const quoted = text => (/^[\w.%+:,/@=-]+$/.test(text) ? text : `'${text.replaceAll("'", "'\\''")}'`);
  return settingsOf(made).map(([address, value]) => `--set ${quoted(`${address}=${value}`)}`).join(" ");
}

// The formula's texts with everything set written in, comments and layout kept. Texts are counted in code points, as the
// spots are. Numbers inside one expression are written together; two keys that are not there yet and would go to one place
// cannot be: null. What the chosen options leave behind, such as the exponent of another blend, is taken out.
function changedSources(made) {
  const gone = model.choices.flatMap((choice, place) => choice.left_behind?.[made.choices.get(place) ?? 0] ?? []);
  const goes = spot => gone.some(one => one.source === spot.source && one.start <= spot.start && spot.end <= one.end);
  const edits = [
    ...[...made.numbers].map(([place, value]) => ({ spot: model.numbers[place].spot, old: model.numbers[place].text, value: written(value) })),
    ...[...made.choices].map(([place, option]) => ({ spot: model.choices[place].spot, old: "", value: model.choices[place].written[option] })),
  ].filter(edit => !goes(edit.spot)).filter((edit, _, all) => !all.some(other => isInside(edit.spot, other.spot)));
  edits.push(...gone.map(spot => ({ spot, old: "", value: "" })));
  const groups = new Map();
  for (const edit of edits) {
    const key = `${edit.spot.source}:${edit.spot.start}`;
    groups.set(key, [...(groups.get(key) ?? []), edit]);
  }
  if ([...groups.values()].some(group => group.length > 1 && group.some(edit => edit.spot.raw))) return null;
  const texts = model.sources.map(source => ({ name: source.name, points: Array.from(source.text), changed: false }));
  for (const group of [...groups.values()].sort((a, b) => b[0].spot.start - a[0].spot.start)) {
    const { spot } = group[0], text = texts[spot.source];
    text.points.splice(spot.start, spot.end - spot.start, ...scalarWith(group));
    text.changed = true;
  }
  return texts.filter(text => text.changed).map(text => ({ name: text.name, text: text.points.join("") }));
}

// Whether one spot lies in a wider one: what is written there goes when that is written over.
function isInside(spot, other) {
  return spot.source === other.source && other.start <= spot.start && spot.end <= other.end && other.end - other.start > spot.end - spot.start;
}

// One scalar with its numbers set; quoted where it is more than words and figures.
function scalarWith(group) {
  const { spot, value } = group[0];
  if (spot.raw) return spot.before + value + spot.after;
  let text = spot.before + group[0].old + spot.after;
  for (const edit of [...group].sort((a, b) => b.spot.before.length - a.spot.before.length)) {
    text = text.slice(0, edit.spot.before.length) + edit.value + text.slice(text.length - edit.spot.after.length);
  }
  return /^[\w.+%-][\w.+% -]*$/.test(text) && !text.startsWith("- ") ? text : JSON.stringify(text);
}
