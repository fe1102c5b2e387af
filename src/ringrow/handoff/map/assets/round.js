/* Walking a round: the list of systems, and of one system its checklist. Every answer is kept at once. */
ringrowParts.push((core) => {
  const { data, fill, element, button, store } = core;
  const told = data.round, words = told.words, book = core.round, language = document.documentElement.lang;
  const { labelled, input, select, buttons } = core.setFlag;
  const whose = new Map(told.whose), machines = new Map(data.set.machines.map((machine) => [machine.name, machine]));
  /* What was typed and not kept waits for who comes back. */
  const views = new Map();
  let view = null, onlyLeft = false;
  const keyed = (key, made) => { made.dataset.key = key; return made; };
  const pressed = (made, on) => { made.setAttribute("aria-pressed", String(on)); return made; };
  const named = (made, name) => { made.setAttribute("aria-label", name); return made; };
  const line = (text, css) => element("p", text, css);

  /* ---- words ---- */
  const when = (ms) => new Date(ms).toLocaleString(language, { month: "short", day: "numeric", hour: "2-digit", minute: "2-digit" });
  const by = ({ who, ms }) => fill(words.by, { who: who || words.not_said, when: when(ms) });
  const sideless = (part) => part.replace(/^(left|right) /, (whole, side) => `${words[side]} `);
  /* Names of towers in runs, each side by itself; of zones one after the other. */
  function runs(parts) {
    const found = [];
    for (const part of parts) {
      const [, side, count] = /^((?:left |right )?)(\d+)$/.exec(part) || [], last = found[found.length - 1];
      if (last && count && last.side === side && Number(count) === last.to + 1) last.to += 1;
      else found.push({ part, side, from: Number(count), to: Number(count) });
    }
    return found.map(({ part, from, to }) => (from < to ? `${sideless(part)}–${to}` : sideless(part))).join(", ");
  }
  const number = (value) => value.toLocaleString("en-US", { maximumFractionDigits: Math.abs(value) >= 10 ? 1 : 2 });
  const toKept = (value, unit, item) => (unit === "°F" ? ((value - 32) * 5) / 9 : value * item.units[unit]);
  const toShown = (value, unit, item) => (unit === "°F" ? (value * 9) / 5 + 32 : value / item.units[unit]);
  function valueSaid(item, kept, walking) {
    const value = `${number(toShown(kept, item.unit, item))} ${item.unit}`;
    return walking === undefined ? value : fill(walking ? words.value_walking : words.value_idle, { value });
  }
  function verdict(item, limits, kept, walking) {
    const value = valueSaid(item, kept, walking), { ok, why } = book.judge(limits, kept);
    const { low_words: low, high_words: high, missing } = limits || {};
    if (ok === null) return fill(words.read_unjudged, { value, why: missing || words.read_kept });
    if (!ok) return fill(why === "below" ? words.read_below : words.read_above, { value, low, high });
    return fill(low && high ? words.read_within : low ? words.read_least : words.read_most, { value, low, high });
  }
  const limitsOf = (system, item, zone) => (system.limits[item.id] || {})[zone || ""];
  const itemOf = (system, id) => system.items.find((item) => item.id === id);
  const zoned = (item, zone) => (zone ? fill(words.ask_zone, { item: item.words, zone }) : item.words);
  function failedSaid(said) {
    return [
      said.said, said.why && fill(words.why_short, { why: said.why }), said.next && fill(words.next_short, { step: said.next }),
      said.whose && fill(words.whose_short, { whose: whose.get(said.whose) || said.whose }), said.needed_by && fill(words.needed_short, { day: said.needed_by }),
    ].filter(Boolean).join("; ");
  }
  /* One record in a line. */
  function recordSaid(system, value) {
    const item = itemOf(system, value.item);
    if (value.type === "reading") return item && typeof value[item.key] === "number" ? `${zoned(item, value.zone)}: ${verdict(item, limitsOf(system, item, value.zone), value[item.key], value.walking)}` : `${value.item}: ${value.said || ""}`;
    const parts = value.towers || value.zones || [], flags = (value.except || []).map(({ said }) => said).join("; ");
    return [
      parts.length && fill(!value.towers ? words.of_zones : parts.length > 1 ? words.of_towers : words.of_tower, { parts: runs(parts) }),
      ...Object.entries(value.items || {}).map(([id, said]) => `${itemOf(system, id)?.words || id}: ${failedSaid(said) || words[`is_${said.answer}`]}`),
      value.nothing_seen ? (flags ? fill(words.except_short, { what: flags }) : words.seen_short) : flags && fill(words.flag_short, { what: flags }),
      value.note,
    ].filter(Boolean).join("; ");
  }
  const systemOf = (value) => book.systems.find((system) => system.names.includes(value.system) && (!value.kind || value.kind === system.kind));
  core.recordWords = ({ flag, value }, undoes) => {
    const said = value || store.entries().map(({ event }) => event).filter((event) => event.flag === flag && event.value).pop()?.value || told.records.find(({ id }) => id === flag)?.heads[0][2] || {};
    const system = systemOf(said), name = said.system || "?";
    if (undoes || !value) return fill(words.did_undo, { system: name });
    const known = system && (value.type === "look" || value.type === "reading");
    return fill(words.did, { system: name, what: known ? recordSaid(system, value) : fill(words.did_record, { type: value.type }) });
  };

  /* ---- who ---- */
  let asking = !store.who();
  function whoPart() {
    if (asking) return labelled(words.who, keyed("who", input("text", store.who(), store.setWho, { maxlength: 200, autocomplete: "name" })));
    const box = element("div", "", "who");
    box.append(element("span", fill(words.who_is, { who: store.who() })), keyed("who-other", button(words.who_other, "", () => { asking = true; draw("who"); })));
    return box;
  }

  /* ---- drawing: all anew, with the finger, the text being typed and the place kept ---- */
  const box = element("div", "", "set-form round");
  function draw(focus) {
    if (!box.isConnected) return;
    const active = document.activeElement, key = focus || (box.contains(active) && active.dataset.key), panel = document.getElementById("panel");
    const at = !focus && active && typeof active.selectionStart === "number" ? active.selectionStart : null, scrolled = panel.scrollTop;
    box.replaceChildren(...(view ? systemParts(view.system) : listParts()));
    panel.scrollTop = scrolled;
    const next = key && box.querySelector(`[data-key="${CSS.escape(key)}"]`);
    if (!next) return;
    next.focus({ preventScroll: !focus });
    if (at !== null && next.setSelectionRange) next.setSelectionRange(at, at);
  }
  function open(title, from = null) {
    core.openPanel(title, box, { rest: "full" });
    draw();
    const back = from && box.querySelector(`[data-key="${CSS.escape(from)}"]`);
    if (back) back.focus();
  }
  const idOf = (system) => `system ${system.kind} ${system.name}`;
  function showList() {
    const from = view && idOf(view.system);
    view = null;
    if (store.who()) asking = false;
    open(words.walk, from);
  }
  function showSystem(system, kept = null) {
    if (!views.has(system)) views.set(system, { system, scope: null, drafts: new Map(), bad: null, reading: new Map(), said: "" });
    view = kept || Object.assign(views.get(system), { said: "" });
    if (store.who()) asking = false;
    open(system.name);
  }
  core.hear("changes", () => draw());

  /* ---- the list of systems ---- */
  function roundSaid() {
    const { current } = book;
    if (!current || !current.open) return words.no_round;
    return fill(words.round_line, { name: current.name, day: new Date(current.started_ms).toLocaleDateString(language, { year: "numeric", month: "short", day: "numeric" }), who: current.who || words.not_said });
  }
  const lacks = ({ done, all, bad }) => [done === all ? fill(words.all_done, { all }) : fill(words.done_of, { done, all }), bad && fill(words.bad_n, { n: bad })].filter(Boolean);
  function cautions(lines) {
    const made = element("details", "", "cautions"), list = element("ul");
    list.append(...lines.map((text) => element("li", text)));
    made.append(element("summary", words.cautions), list);
    return made;
  }
  function isTyped(system) {
    const { reading, drafts } = views.get(system) || { reading: new Map(), drafts: new Map() };
    return [...reading.values()].some((draft) => draft.number.trim()) || [...drafts.values()].some((draft) => draft.touched);
  }
  function listParts() {
    const [shut, ...rest] = told.safety, states = book.systems.map((system) => [system, book.standing(system)]);
    const left = states.filter(([, { done, all }]) => done < all).length;
    const parts = [line(roundSaid(), "state"), line(shut, "shut-door"), cautions(rest), whoPart()];
    parts.push(pressed(keyed("left", button(`${words.only_left} (${left})`, "", () => { onlyLeft = !onlyLeft; draw(); })), onlyLeft));
    let heading = null;
    for (const [system, state] of states) {
      if (onlyLeft && state.done === state.all) continue;
      const field = system.field || words.wells;
      if (field !== heading) parts.push(element("h3", heading = field));
      const row = keyed(idOf(system), button("", "", () => showSystem(system), "system"));
      row.classList.toggle("done", state.done === state.all);
      row.append(element("strong", system.name), element("span", `${system.kind_words}: ${lacks(state).join(", ")}`));
      if (isTyped(system)) row.append(element("span", words.typed, "typed-only"));
      parts.push(row);
    }
    if (onlyLeft && !left) parts.push(line(words.nothing_left));
    return parts;
  }

  /* ---- one system ---- */
  function kept(what, worked, focus) {
    if (!worked) return;
    view.said = fill(words.kept, { what });
    core.say(view.said);
    draw(focus);
  }
  function systemParts(system) {
    const state = book.standing(system), said = line(view.said, "kept");
    const parts = [keyed("back", button(words.all_systems, "", showList)), line(lacks(state).join(", "), "state")];
    if (!store.who() || asking) parts.push(whoPart());
    parts.push(...scopePart(system), ...nothingPart(system, said), ...state.items.map((each, index) => card(system, each, state.items[index - 1])), saidPart(system, state));
    const next = book.systems.slice(book.systems.indexOf(system) + 1).find((each) => { const { done, all } = book.standing(each); return done < all; });
    const row = buttons(keyed("back-below", button(words.all_systems, "", showList)));
    if (next) row.append(keyed("next", button(fill(words.next_left, { system: next.name }), "", () => showSystem(next))));
    parts.push(row);
    return parts;
  }
  /* Which towers, or which zone, the buttons below speak of; null = all. */
  function scopePart(system) {
    const { tower, zone } = system.parts, to = (scope) => { view.scope = scope; draw(); };
    if (zone.length) return [labelled(words.zones, keyed("zone", select([["", words.all_zones], ...zone.map((name) => [name, name])], (view.scope || [""])[0], (name) => to(name ? [name] : null))))];
    if (tower.length < 2) return [];
    const first = view.scope ? tower.indexOf(view.scope[0]) : 0, last = view.scope ? tower.indexOf(view.scope[view.scope.length - 1]) : tower.length - 1;
    const names = tower.map((name, index) => [String(index), sideless(name)]), pair = element("div", "", "range");
    const range = (from, upTo) => to(from === 0 && upTo === tower.length - 1 ? null : tower.slice(from, upTo + 1));
    pair.append(
      labelled(words.from_tower, keyed("from", select(names, String(first), (from) => range(Number(from), Math.max(last, Number(from)))))),
      labelled(words.to_tower, keyed("to", select(names, String(last), (upTo) => range(Math.min(first, Number(upTo)), Number(upTo))))),
    );
    return [pair];
  }
  const scopeSaid = (system) => {
    const { scope } = view;
    if (!scope) return "";
    return fill(system.parts.zone.length ? words.of_zones : scope.length > 1 ? words.of_towers : words.of_tower, { parts: runs(scope) });
  };
  function nothingPart(system, said) {
    const seen = system.items.filter((item) => item.how === "look" && (item.per !== "system" || !view.scope)), scoped = scopeSaid(system);
    const text = scoped ? fill(words.nothing_of, { parts: scoped }) : words.nothing_seen;
    const tap = () => {
      const look = book.visit(system, view.scope);
      if (look && look.value.nothing_seen) { view.said = words.already; core.say(view.said); draw(); return; }
      kept(text, book.nothing(system, view.scope), "nothing");
    };
    const except = keyed("except", button(words.except, "", () => setFlag(system, true)));
    if (!seen.length) return [said];
    const hint = line(`${fill(words.says_good_of, { items: seen.map((item) => item.words).join("; ") })} ${words.not_by_tap}`, "hint"), main = keyed("nothing", button(text, "", tap, "main"));
    /* What the tap did stands right under it, and nothing moves under the finger. */
    return view.said ? [main, said, except, hint] : [main, said, hint, except];
  }
  /* The block fills the map, so that a tap there is as good as it can be. */
  function showGround(name) {
    const boxes = data.areas.filter((area) => area.kind === "wetted-area" && area.name === name).flatMap((area) => area.boxes_w);
    const corner = (x, y) => L.CRS.EPSG3857.pointToLatLng(L.point(x, y), 0);
    const all = boxes.flatMap(([left, top, right, bottom]) => [corner(left, top), corner(right, bottom)]);
    if (all.length) core.map.fitBounds(L.latLngBounds(all), { animate: false, padding: [12, 12] });
  }
  /* A flag on this system, by the form for flags; the look then names it. */
  function setFlag(system, rest) {
    const kept_ = view, { scope } = view;
    const done = (flag, look, { kind, note }) => {
      const said = [`${look.place}: ${store.kindWords(kind)}`, note].filter(Boolean).join(", ").slice(0, 2000);
      showSystem(system, kept_);
      kept(fill(words.flag_short, { what: said }), book.flagged(system, scope, { said, flag }, rest));
    };
    const draft = { done, back: () => showSystem(system, kept_) };
    if (system.kind === "well") { core.setFlag.form({ ...draft, on: "well", well: system.name }); return; }
    const machine = [system.name, ...system.names].map((name) => machines.get(name)).find(Boolean);
    if (!machine) { showGround(system.name); core.setFlag.place(draft); return; }
    const said = core.setFlag.firstSaid(machine), at = scope && /^(?:(left|right) )?(\d+)$/.exec(scope[0]);
    if (at) Object.assign(said, { tower: at[2], ...(at[1] ? { side: at[1] } : {}) });
    core.setFlag.form({ ...draft, on: "machine", said });
  }

  /* ---- an item ---- */
  const scoped = (item, parts) => (item.per === "system" || !view.scope ? parts : parts.filter(({ part }) => view.scope.includes(part)));
  function card(system, { item, parts }, before) {
    const made = element("section", "", "item"), head = element("h3", item.words);
    made.append(head);
    /* A caution that the item above has too stands there. */
    if (item.caution && !(before && before.item.caution === item.caution)) made.append(line(fill(words.caution, { text: item.caution }), "hint"));
    made.append(...standsParts(system, item, parts));
    if (item.how === "read") made.append(...readingParts(system, item, parts));
    else made.append(...answerParts(system, item, scoped(item, parts)));
    return made;
  }
  /* What stands, towers of one answer in one line. */
  function standsParts(system, item, parts) {
    const groups = new Map();
    for (const each of parts) {
      const text = each.answer === null ? words.is_not_yet : item.how === "read" ? "" : failedSaid(each.said) || words[`is_${each.answer}`], key = `${each.answer} ${text} ${each.record ? each.record.id : ""}`;
      if (!groups.has(key)) groups.set(key, { ...each, text, names: [] });
      groups.get(key).names.push(each.part);
    }
    return [...groups.values()].filter(({ text }) => text).map(({ answer, text, names, record }) => {
      const all = names.length === parts.length, said = all ? text : fill(words.part_is, { parts: runs(names), answer: text });
      return line(record ? `${said} (${by(record)})` : said, `stands ${answer === "bad" ? "bad" : answer === null ? "due" : "fine"}`);
    });
  }
  function answerParts(system, item, parts) {
    const row = element("div", "", "answers"), answers = new Set(parts.map(({ answer }) => answer)), only = answers.size === 1 ? [...answers][0] : undefined;
    row.setAttribute("role", "group");
    row.setAttribute("aria-label", item.words);
    const give = (answer) => () => {
      const key = `${item.id} ${answer}`, look = book.visit(system, item.per === "system" ? undefined : view.scope);
      view.bad = answer === "bad" ? item.id : null;
      if (only === answer && (answer === "bad" || look?.value.items?.[item.id]?.answer === answer)) { view.said = words.already; draw(key); return; }
      kept(`${item.words}: ${words[`is_${answer}`]}`, book.answer(system, item, view.scope, { answer }), key);
    };
    const unsay = () => {
      const [record] = new Set(parts.map((each) => each.record).filter(Boolean));
      view.bad = null;
      if (record) kept(fill(words.gone, { what: `${item.words} (${by(record)})` }).replace(/\.$/, ""), book.unsay(system, item, record), `${item.id} not_yet`);
    };
    for (const [answer, act] of [["good", give("good")], ["bad", give("bad")], ["none", give("none")], ["not_yet", unsay]]) {
      row.append(pressed(keyed(`${item.id} ${answer}`, button(words[answer], "", act)), only === (answer === "not_yet" ? null : answer)));
    }
    const bad = parts.find(({ answer }) => answer === "bad");
    return [row, ...(bad ? [failedPart(system, item, bad)] : [])];
  }
  /* What is to become of it: asked at once, and again whenever somebody opens it. */
  function failedPart(system, item, { said, record }) {
    const made = element("details", "", "failed"), typed = view.drafts.get(item.id), draft = typed && typed.touched ? typed : { ...said };
    view.drafts.set(item.id, draft);
    made.open = view.bad === item.id;
    made.addEventListener("toggle", () => { if (made.open) view.bad = item.id; else if (view.bad === item.id) view.bad = null; });
    const problem = line("", "alert");
    problem.setAttribute("role", "alert");
    const ask = (key, text, attributes = {}, type = "text") => labelled(text, keyed(`${item.id} ${key}`, input(type, draft[key], (value) => { Object.assign(draft, { [key]: value, touched: true }); }, { maxlength: 2000, ...attributes })));
    const keep = () => {
      if (draft.needed_by && !/^\d{4}-\d\d-\d\d$/.test(draft.needed_by)) { problem.textContent = words.bad_day; return; }
      const told_ = { answer: "bad" };
      for (const key of ["said", "why", "next", "whose", "needed_by"]) if ((draft[key] || "").trim()) told_[key] = draft[key].trim();
      view.bad = null;
      view.drafts.delete(item.id);
      const whole = { ...record.value, items: { ...record.value.items, [item.id]: told_ } };
      kept(`${item.words}: ${failedSaid(told_) || words.is_bad}`, book.say(whole, record), `${item.id} bad`);
    };
    made.append(
      element("summary", words.becomes),
      item.how === "try" ? ask("why", words.why) : ask("said", words.what_wrong),
      ask("next", words.next),
      labelled(words.whose, keyed(`${item.id} whose`, select([["", words.whose_unsaid], ...told.whose], draft.whose || "", (value) => { Object.assign(draft, { whose: value, touched: true }); }))),
      ask("needed_by", words.needed_by, {}, "date"),
      problem,
      buttons(keyed(`${item.id} keep`, button(words.keep_it, "", keep, "main")), keyed(`${item.id} flag`, button(words.set_flag, "", () => setFlag(system, false)))),
    );
    return made;
  }

  /* ---- readings ---- */
  function readingParts(system, item, parts) {
    if (item.numbers > 1) return [line(words.not_asked)];
    const found = parts.flatMap((each) => (each.readings || []).map((reading) => ({ ...reading, part: each.part })));
    const standing = found.map(({ record, ok, part }) => line(`${part ? `${part}: ` : ""}${verdict(item, limitsOf(system, item, part), record.value[item.key], record.value.walking)} (${by(record)})`, `stands ${ok === false ? "bad" : "fine"}`));
    const wanted = parts.map(({ part }) => part), free = parts.find(({ answer }) => answer === null);
    const draft = view.reading.get(item.id) || { number: "", unit: item.unit, walking: undefined, zone: undefined, former: null };
    view.reading.set(item.id, draft);
    const zone = draft.zone ?? (view.scope && wanted.includes(view.scope[0]) ? view.scope[0] : (free || parts[0]).part), limits = limitsOf(system, item, zone) || {};
    const form = element("form", "", "reading"), live = line("", "verdict"), problem = line("", "alert"), key = (name) => `${item.id} ${name}`;
    live.setAttribute("role", "status");
    problem.setAttribute("role", "alert");
    form.noValidate = true;
    const judgeIt = () => {
      const kept_ = numberOf(item, draft);
      live.textContent = kept_.problem || kept_.value === undefined ? "" : verdict(item, limits, kept_.value, draft.walking);
      const outside = kept_.value !== undefined && book.judge(limits, kept_.value).ok === false;
      live.classList.toggle("bad", outside);
      if (outside) live.append(" ", element("strong", words.open_item));
    };
    if (wanted.length > 1 || wanted[0]) form.append(labelled(words.zone, keyed(key("zone"), select(wanted.map((name) => [name, name]), zone, (name) => { draft.zone = name; draw(); }))));
    const both = limits.low_words && limits.high_words, limit = limits.low_words || limits.high_words;
    const good = limit ? fill(both ? words.limits_both : limits.low_words ? words.limits_low : words.limits_high, { low: limits.low_words, high: limits.high_words }) : "";
    form.append(line(good ? `${good} (${limits.source})` : limits.missing || words.read_kept, "hint"));
    const units = Object.keys(item.units).filter((unit) => unit !== "lps"), pair = element("div", "", "number");
    pair.append(
      labelled(units.length > 1 ? words.number : `${words.number}, ${units[0]}`, keyed(key("number"), input("text", draft.number, (value) => { draft.number = value; problem.textContent = ""; judgeIt(); }, { inputmode: "decimal", maxlength: 20, autocomplete: "off" }))),
      ...(units.length > 1 ? [labelled(words.unit, keyed(key("unit"), select(units.map((unit) => [unit, unit]), draft.unit, (unit) => { draft.unit = unit; judgeIt(); })))] : []),
    );
    form.append(pair);
    if (item.state) {
      const row = element("div", "", "answers two");
      row.setAttribute("role", "group");
      row.setAttribute("aria-label", words.state);
      const say = (walking) => () => { draft.walking = walking; draw(); };
      row.append(pressed(keyed(key("walking"), button(words.walking, "", say(true))), draft.walking === true), pressed(keyed(key("idle"), button(words.idle, "", say(false))), draft.walking === false));
      form.append(row);
    }
    const save = keyed(key("save"), button(draft.former ? words.keep_correction : words.keep_reading, fill(words.part_is, { parts: item.words, answer: draft.former ? words.keep_correction : words.keep_reading }), () => {}));
    save.type = "submit";
    const row = buttons(save);
    if (draft.former) row.append(keyed(key("cancel"), button(words.cancel, "", () => { view.reading.delete(item.id); draw(key("number")); })));
    form.append(live, problem, row);
    form.addEventListener("submit", (event) => {
      event.preventDefault();
      const read = numberOf(item, draft);
      problem.textContent = read.problem || (read.value === undefined ? words.bad_number : "") || (item.state && draft.walking === undefined ? words.ask_state : "");
      if (problem.textContent) return;
      const value = { type: "reading", system: system.name, kind: system.kind, item: item.id, [item.key]: read.value, said: `${draft.number.trim()} ${draft.unit}` };
      if (item.state) value.walking = draft.walking;
      if (zone) value.zone = zone;
      /* A correction says what was read, not when or in which round. */
      const { note, at, round } = draft.former ? draft.former.value : {};
      const former = draft.former && book.records().find(({ id }) => id === draft.former.id);
      view.reading.delete(item.id);
      kept(`${zoned(item, zone)}: ${verdict(item, limits, read.value, value.walking)}`, book.say({ ...value, ...(note ? { note } : {}), ...(at ? { at } : {}), ...(round ? { round } : {}) }, former || null), key("save"));
    });
    judgeIt();
    return [...standing, form];
  }
  /* The number as typed in the unit of its record; nothing for nothing typed. */
  function numberOf(item, { number: typed, unit }) {
    const text = typed.trim(), plain = /^[+-]?\d{1,3}(,\d{3})+(\.\d+)?$/.test(text) ? text.replace(/,/g, "") : text;
    if (!text) return {};
    if (!/^[+-]?(\d+(\.\d*)?|\.\d+)$/.test(plain)) return { problem: words.bad_number };
    const value = toKept(Number(plain), unit, item), shown = (kept_) => number(toShown(kept_, unit, item));
    if (!(value >= item.least && value <= item.most)) return { problem: fill(words.bad_range, { low: shown(item.least), high: shown(item.most), unit }) };
    return { value };
  }

  /* ---- what was said of it: each can be taken back, a reading corrected ---- */
  function saidPart(system, { looks, readings }) {
    const made = element("section", "", "said-of"), all = [...looks, ...readings].sort((a, b) => b.ms - a.ms);
    made.append(element("h3", words.said_of_it));
    if (!all.length) made.append(line(words.nothing_said));
    const list = element("ul");
    for (const record of all) {
      const row = element("li"), text = recordSaid(system, record.value), what = `${text} (${by(record)}${record.base ? "" : `, ${words.on_phone}`})`;
      row.append(line(what));
      if (record.clash) row.append(line(words.clash, "alert"));
      const back = named(keyed(`back ${record.id}`, button(words.take_back, "", () => {
        view.drafts.clear();
        if (!book.say(null, record)) return;
        view.said = fill(words.gone, { what: text });
        core.say(view.said);
        draw("back-below");
      })), fill(words.take_back_what, { what: text }));
      const item = record.value.type === "reading" && itemOf(system, record.value.item);
      const correct = item && named(keyed(`correct ${record.id}`, button(words.correct, "", () => {
        const { value } = record, typed = number(toShown(value[item.key], item.unit, item)).replace(/,/g, "");
        view.reading.set(item.id, { number: typed, unit: item.unit, walking: value.walking, zone: value.zone, former: record });
        draw(`${item.id} number`);
      })), fill(words.correct_what, { what: text }));
      row.append(buttons(correct, back));
      list.append(row);
    }
    if (all.length) made.append(list);
    return made;
  }

  core.addAction(words.round, showList, { name: "round" });
});
