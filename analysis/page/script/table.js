// The table: a row a product, moved about as places change.
const tableRows = [];
// The rows are grids of one set of widths, so that rows out of sight need no layout.
const WIDTHS = { rank: 3.6, within: 7.4, among: 4.6, move: 5, product: 9, value: 6.4, was: 6.4, band: 6.2, part: 5.6, is: 8, remarks: 14 };
const NARROW = { ...WIDTHS, rank: 3.4, move: 4.6, product: 8.6, value: 4.4 };
const narrow = matchMedia("(max-width: 40rem)");
let order = { key: "rank", down: false };
// Which columns stand there besides those of every score: places within classes, and among the products that menus choose.
let extraColumns = [];

function columnsFor(name) {
  const output = model.outputs.find(one => one.name === name);
  const parts = output.parts.map(part => part.source).filter(source => model.columns.includes(source));
  return { output, parts: [...new Set(parts)] };
}

// The columns of other places than those in the whole table.
function extrasOf(column) {
  const within = column.within ? [["within", `In ${column.within.label}`]] : [];
  return [...within, ...(filters().length ? [["among", "Among these"]] : [])];
}

function buildTable(name) {
  extraColumns = extrasOf(now.result.columns[name]);
  const { output, parts } = columnsFor(name), head = document.getElementById("head"), body = document.getElementById("body");
  const columns = [
    ["rank", "Place"], ...extraColumns, ["move", "Moved"], ["product", "Product"], ["value", output.label], ["was", "Published"], ["band", "Band"],
    ["remarks", "Remarks"], ...parts.map(part => [`part:${part}`, labelOf(part)]), ...model.attributes.map(one => [`is:${one.name}`, one.label]),
  ];
  head.replaceChildren(element("tr", { role: "row" }, ...columns.map(([key, label]) => headCell(key, label))));
  const room = { ...(narrow.matches ? NARROW : WIDTHS), ...(model.names.some(name => name) && { product: narrow.matches ? 11 : 15 }) };
  const widths = columns.map(([key]) => room[key.split(":")[0]]), table = document.getElementById("table").style;
  table.setProperty("--columns", widths.map(width => `${width}rem`).join(" "));
  table.setProperty("--width", `${widths.reduce((sum, width) => sum + width, 0)}rem`);
  tableRows.length = 0;
  model.products.forEach(() => tableRows.push(buildRow(parts)));
  body.replaceChildren(...tableRows.map(one => one.node));
  if (!columns.some(([key]) => key === order.key)) order = { key: "rank", down: false };
  showOrder();
}

function headCell(key, label) {
  const button = element("button", { type: "button" }, isolated(label));
  const cell = element("th", { scope: "col", role: "columnheader", "data-key": key, class: key.split(":")[0] }, button);
  button.addEventListener("click", () => { order = { key, down: order.key === key ? !order.down : false }; showOrder(); showTable(); });
  return cell;
}

// A row of the table: it shows whichever product stands there, so that only what changes is drawn anew.
function buildRow(parts) {
  const text = () => document.createTextNode(""), cells = [];
  const cell = (kind, tag = "td") => {
    const made = { text: text() };
    const any = kind === "product" || kind === "is" || kind === "remarks" || kind === "band";
    made.node = element(tag, { class: kind, role: tag === "th" ? "rowheader" : "cell" }, any ? element("bdi", {}, made.text) : made.text);
    cells.push(made);
    return made;
  };
  const rank = cell("rank"), extras = Object.fromEntries(extraColumns.map(([key]) => [key, cell(key)]));
  const found = { rank, ...extras, move: cell("move"), product: cell("product", "th"), value: cell("value"), was: cell("was"), band: cell("band"), remarks: cell("remarks") };
  Object.assign(found, { parts: parts.map(() => cell("part")), is: model.attributes.map(() => cell("is")) });
  const pin = element("button", { type: "button", class: "pin", "aria-pressed": "false" }, "pin");
  found.product.node.setAttribute("scope", "row");
  found.product.node.append(" ", pin);
  const one = { cells: found, pin, parts, place: -1, moved: false, hidden: false, node: element("tr", { role: "row" }, ...cells.map(made => made.node)) };
  pin.addEventListener("click", () => pinProduct(one.place));
  return one;
}

function put(cell, text) {
  if (cell.text.data !== text) cell.text.data = text;
}

function shownIn(column, place) {
  if (isNaN(column.value[place])) return model.statuses[column.status[place]];
  return shownText(column.shown[place], column.step) + (column.status[place] === PARTIAL ? "*" : "");
}

function movedText(was, now) {
  if (isNaN(was) && isNaN(now)) return "";
  if (isNaN(was)) return "new";
  if (isNaN(now)) return "gone";
  return was === now ? "" : was > now ? `up ${was - now}` : `down ${now - was}`;
}

// A place within a class in words, as the printed tables have it.
function withinText(within, place) {
  const rank = within.rank[place], of = within.of[place];
  if (within.words[place] === "") return "no class stated";
  if (isNaN(rank)) return "";
  if (of === 1) return "alone in its class";
  return rank === 1 ? `first of ${of}` : `${rank} of ${of}`;
}

function fillTable(result, name) {
  const column = result.columns[name], was = published.columns[name];
  if (String(extrasOf(column)) !== String(extraColumns)) buildTable(name);
  column.among = filters().length ? column.placesAmong(chosenByFilters()) : null;
  const sorted = sortedProducts(result, column, was);
  let seen = 0;
  const wanted = wantedProducts();
  tableRows.forEach((one, at) => {
    const place = sorted[at], hidden = !wanted(place);
    if (one.hidden !== hidden) one.node.hidden = one.hidden = hidden;
    if (!hidden) seen++;
    fillRow(one, place, result, column, was);
  });
  const count = document.getElementById("seen"), products = tableRows.length === 1 ? "product" : "products";
  count.textContent = seen === tableRows.length ? `${seen} ${products}` : `${seen} of ${tableRows.length} ${products}`;
}

function fillRow(one, place, result, column, was) {
  const { cells } = one, rank = column.rank[place], moved = movedText(was.rank[place], rank);
  if (one.place !== place) {
    one.place = place;
    put(cells.product, called(place));
    if (model.names[place]) cells.product.node.title = called(place);
    one.pin.setAttribute("aria-label", `Pin ${called(place)}`);
    model.attributes.forEach((attribute, k) => put(cells.is[k], attribute.words[place].replaceAll("_", " ")));
  }
  const pressed = String(pinned.includes(place));
  if (one.pin.getAttribute("aria-pressed") !== pressed) one.pin.setAttribute("aria-pressed", pressed);
  put(cells.rank, isNaN(rank) ? "" : String(rank));
  if (cells.within) put(cells.within, withinText(column.within, place));
  if (cells.among) put(cells.among, isNaN(column.among[place]) ? "" : String(column.among[place]));
  put(cells.move, moved);
  put(cells.value, shownIn(column, place));
  put(cells.was, shownIn(was, place));
  put(cells.band, column.band[place] < 0 ? "" : column.bands[column.band[place]].name);
  one.parts.forEach((part, k) => put(cells.parts[k], shownIn(result.columns[part], place)));
  put(cells.remarks, remarksFor(column, result.products[place], place).join("; "));
  if (one.moved !== (moved !== "")) one.node.classList.toggle("moved", (one.moved = moved !== ""));
}

function remarksFor(column, x, place) {
  const missing = column.output.parts.filter(part => !x.h[part.here]).map(part => `${labelOf(part.source)} ${x.a[part.here] ? "is missing" : "does not apply"}`);
  return [...column.remarks[place], ...missing];
}

function sortKey(result, column, was, place) {
  const [key, name] = order.key.split(":");
  switch (key) {
    case "rank": return column.rank[place];
    case "within": return column.within.rank[place];
    case "among": return column.among[place];
    case "move": return was.rank[place] - column.rank[place];
    case "product": return model.products[place];
    case "value": return column.value[place];
    case "was": return was.value[place];
    case "band": return column.band[place] < 0 ? NaN : column.band[place];
    case "part": return result.columns[name].value[place];
    case "is": return model.attributes.find(attribute => attribute.name === name).words[place];
    default: return remarksFor(column, result.products[place], place).join("; ");
  }
}

// Best first for figures, the alphabet for words; what has no figure comes last either way.
function sortedProducts(result, column, was) {
  const figures = ["move", "value", "was", "band", "part"].includes(order.key.split(":")[0]), sign = (order.down ? -1 : 1) * (figures ? -1 : 1);
  const keys = model.products.map((_, place) => sortKey(result, column, was, place));
  const by = (a, b) => {
    if (typeof keys[a] === "string") return sign * (keys[a] < keys[b] ? -1 : keys[a] > keys[b] ? 1 : 0) || a - b;
    if (isNaN(keys[a]) || isNaN(keys[b])) return isNaN(keys[a]) - isNaN(keys[b]) || a - b;
    return sign * (keys[a] - keys[b]) || a - b;
  };
  return model.products.map((_, place) => place).sort(by);
}

function showOrder() {
  for (const cell of document.querySelectorAll("#head th")) {
    if (cell.dataset.key === order.key) cell.setAttribute("aria-sort", order.down ? "descending" : "ascending");
    else cell.removeAttribute("aria-sort");
  }
}

// What the menus choose by: each attribute with its word.
function filters() {
  const lists = [...document.querySelectorAll("#filters select")].filter(list => list.value);
  return lists.map(list => ({ attribute: model.attributes[list.dataset.attribute], word: list.value.slice(1) }));
}

function chosenByFilters() {
  const asked = filters();
  return place => asked.every(({ attribute, word }) => attribute.words[place] === word);
}

// Sets the menus to "ATTRIBUTE=WORD" texts; what no menu has is given back.
function setFilters(where) {
  const lists = [...document.querySelectorAll("#filters select")];
  for (const list of lists) list.value = "";
  return where.filter(text => {
    const at = text.indexOf("="), name = text.slice(0, at), value = text.slice(at);
    const list = lists.find(one => model.attributes[one.dataset.attribute].name === name);
    const known = at > 0 && list !== undefined && [...list.options].some(option => option.value === value);
    if (known) list.value = value;
    return !known;
  });
}

function wantedProducts() {
  const text = document.getElementById("find").value.trim().toLowerCase(), chosen = chosenByFilters();
  return place => called(place).toLowerCase().includes(text) && chosen(place);
}
