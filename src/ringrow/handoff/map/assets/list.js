/* The list of flags: the page's own table, put in order, filtered, and written anew where a flag
   changed here. Printed, it is always whole. A flag is an entry of `data.flags`: `id`, `number`,
   `status`, `state` (status in words), `kind_words`, `title`, `class` (in words), `place`, `touches`,
   `note`, `clashes`, `at`, `field`, `system` and, on a route, `stop`. */
ringrowParts.push((core) => {
  const { data, words, fill, element, button } = core;
  const PAGE = 60;
  const section = document.getElementById("flags"), headline = document.getElementById("flags-head");
  let noFlag = null;
  const table = document.querySelector("table.flags") || firstTable();
  /* A page written without flags says so, and gets its table when the first one is set. */
  function firstTable() {
    const made = element("table", "", "flags");
    noFlag = section.querySelector("p");
    section.append(made);
    return made;
  }
  const FILTERS = ["field", "kind", "status", "system"];
  const wanted = Object.fromEntries(FILTERS.map((name) => [name, ""]));
  const rows = new Map(), written = new Map();
  const choosers = {};
  let order = "class", shown = PAGE;

  /* ---- rows ---- */
  const SVG = "http://www.w3.org/2000/svg";
  function svg(name, attributes) {
    const made = document.createElementNS(SVG, name);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    return made;
  }
  function symbol(flag) {
    const { shapes, radius, fills, inks, down } = data.symbols, corners = shapes[flag.status];
    const group = svg("g", { class: "flag" }), number = String(flag.number);
    for (const name of ["halo", "edge"]) {
      const look = { class: name, fill: fills[flag.status] };
      group.append(corners ? svg("polygon", { points: corners.join(" "), ...look }) : svg("circle", { r: radius, ...look }));
    }
    const text = svg("text", { y: down[flag.status], "font-size": number.length < 3 ? 16 : 12, fill: inks[flag.status] });
    text.textContent = number;
    group.append(text);
    return group;
  }
  function icon(flag) {
    const box = svg("svg", { class: "icon", width: 40, height: 40, viewBox: "-26 -27 52 52", "aria-hidden": "true" });
    box.append(symbol(flag));
    return box;
  }
  core.svg = svg;
  core.flagSymbol = symbol;
  const lines = (flag) => [
    ["stop", flag.stop && fill(words.stop_number, { n: flag.stop })], ["what", flag.kind_words], ["place", flag.place], ...(flag.touches || []).map((line) => ["touches", line]),
    ["note", flag.note], ...(flag.clashes || []).map((line) => ["clash", line]),
  ].filter(([, line]) => line);
  const said = (flag) => JSON.stringify([flag.number, flag.status, flag.state, lines(flag)]);
  function write(row, flag) {
    const go = button("", fill(words.show, flag), () => core.goTo(flag), "go");
    go.append(icon(flag));
    const head = element("th"), what = element("td", "", "words"), state = element("td", flag.state, "state");
    head.scope = "row";
    head.append(go);
    what.append(...lines(flag).map(([css, line]) => element("span", line, css)));
    row.replaceChildren(head, what, state);
    written.set(flag.id, said(flag));
  }
  function adopt(flag) {
    const known = document.querySelector(`tr[data-flag="${CSS.escape(flag.id)}"]`);
    const row = known || element("tr");
    row.dataset.flag = flag.id;
    /* All of a row is the button: the finger need not find the symbol. */
    row.addEventListener("click", (event) => { if (!event.target.closest("button")) core.goTo(flag); });
    rows.set(flag.id, row);
    if (!known) return write(row, flag);
    const link = row.querySelector("a.go"), go = button("", fill(words.show, flag), () => core.goTo(flag), "go");
    go.append(...link.childNodes);
    link.replaceWith(go);
    if (flag.stop) row.querySelector(".words").prepend(element("span", lines(flag)[0][1], "stop"));
    return written.set(flag.id, said(flag));
  }

  /* ---- which, and in which order ---- */
  const value = { field: (flag) => flag.field, kind: (flag) => flag.kind_words, status: (flag) => flag.state, system: (flag) => flag.system };
  const fits = (flag, without) => FILTERS.every((name) => name === without || !wanted[name] || (value[name](flag) || words.none) === wanted[name]);
  const byRoute = data.flags.some((flag) => flag.stop);
  const groups = {
    class: (flag) => flag.class,
    route: (flag) => (flag.stop ? words.on_route : words.off_route),
  };
  const classes = Object.values(words.classes);
  const classRank = (flag) => (classes.indexOf(flag.class) + classes.length + 1) % (classes.length + 1);
  function sorted(flags) {
    const places = new Map(data.flags.map((flag, index) => [flag, index]));
    const rank = order === "route" ? (flag) => flag.stop || Infinity : classRank;
    return [...flags].sort((a, b) => (rank(a) === rank(b) ? places.get(a) - places.get(b) : rank(a) - rank(b)));
  }
  function lay() {
    for (const flag of data.flags) {
      if (!rows.has(flag.id)) adopt(flag);
      else if (written.get(flag.id) !== said(flag)) write(rows.get(flag.id), flag);
    }
    const fitting = new Set(data.flags.filter((flag) => fits(flag, null)));
    const bodies = new Map();
    let count = 0;
    for (const flag of sorted(data.flags)) {
      const name = groups[order](flag);
      if (!bodies.has(name)) {
        const body = element("tbody"), line = element("tr"), head = element("th", name, "class");
        head.colSpan = 3;
        head.scope = "rowgroup";
        line.append(head);
        body.append(line);
        bodies.set(name, body);
      }
      const body = bodies.get(name), row = rows.get(flag.id);
      if (fitting.has(flag)) count += 1;
      row.hidden = !fitting.has(flag) || count > shown;
      body.append(row);
    }
    table.classList.toggle("by-route", order === "route");
    const kept = document.activeElement;
    for (const body of bodies.values()) body.firstChild.hidden = ![...body.children].some((row, index) => index && !row.hidden);
    for (const old of [...table.tBodies]) old.remove();
    table.append(...bodies.values());
    if (kept && kept.isConnected && table.contains(kept)) kept.focus({ preventScroll: true });
    more.hidden = count <= shown;
    more.textContent = fill(words.more, { n: Math.min(PAGE, count - shown), left: count - shown });
    const all = data.flags.length, some = fitting.size < all;
    headline.textContent = fill(some ? words.flags_some : words.flags_all, { n: fitting.size, all });
    core.sheetTitle(headline.textContent);
    const open = data.flags.filter((flag) => flag.status === "open").length;
    count_.textContent = fill(all === 1 ? words.head_one : words.head_many, { n: all, open });
    clear.hidden = FILTERS.every((name) => !wanted[name]);
    empty.hidden = fitting.size > 0 || all === 0;
    controls.hidden = all === 0;
    if (noFlag) noFlag.hidden = all > 0;
    FILTERS.forEach(choices);
  }
  /* Counts say how many would be left under the other filters. */
  function choices(name) {
    const counts = new Map(data.flags.map((flag) => [value[name](flag) || words.none, 0]));
    for (const flag of data.flags) {
      if (!fits(flag, name)) continue;
      const key = value[name](flag) || words.none;
      counts.set(key, counts.get(key) + 1);
    }
    const any = [...counts.values()].reduce((sum, count) => sum + count, 0);
    const names = [...counts.keys()].sort((a, b) => a.localeCompare(b, document.documentElement.lang, { numeric: true }));
    const options = [["", fill(words.all_of, { n: any })], ...names.map((key) => [key, `${key} (${counts.get(key)})`])];
    const chooser = choosers[name];
    chooser.replaceChildren(...options.map(([key, text]) => {
      const option = element("option", text);
      option.value = key;
      option.selected = key === wanted[name];
      return option;
    }));
  }

  /* ---- the controls over it ---- */
  function chooser(name, text, act) {
    const label = element("label", "", "pick"), made = element("select");
    made.name = name;
    label.append(element("span", text), made);
    made.addEventListener("change", () => act(made.value));
    return [label, made];
  }
  const controls = element("details", "", "controls"), head = element("summary", words.sort_filter);
  const grid = element("div", "", "picks"), count_ = document.getElementById("count");
  const clear = button(words.clear, "", () => {
    for (const name of FILTERS) wanted[name] = "";
    shown = PAGE;
    lay();
    core.say(headline.textContent);
    choosers.field.focus();
  }, "plain");
  const more = button("", "", () => {
    const first = shown;
    shown += PAGE;
    lay();
    const visible = [...table.querySelectorAll("tr[data-flag]")].filter((row) => !row.hidden);
    visible[first].querySelector("button").focus();
  }, "plain more");
  const empty = element("p", words.none_fit);
  empty.hidden = true;
  controls.append(head, grid);
  if (byRoute) {
    const [label, made] = chooser("order", words.order, (to) => { order = to; shown = PAGE; lay(); core.say(words[`by_${to}`]); });
    made.append(...["class", "route"].map((key) => { const option = element("option", words[`by_${key}`]); option.value = key; return option; }));
    label.classList.add("wide");
    grid.append(label);
  }
  for (const name of FILTERS) {
    const [label, made] = chooser(name, words[`filter_${name}`], (to) => {
      wanted[name] = to;
      shown = PAGE;
      lay();
      core.say(headline.textContent);
    });
    choosers[name] = made;
    grid.append(label);
  }
  grid.append(clear);
  controls.open = window.matchMedia("(min-width: 1000px)").matches;
  table.before(controls, empty);
  table.after(more);
  section.classList.add("living");
  core.hear("flags", lay);
  lay();
  core.shown.listed = () => [...table.querySelectorAll("tr[data-flag]")].filter((row) => !row.hidden).map((row) => row.dataset.flag);
});
