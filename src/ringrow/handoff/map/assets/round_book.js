/* What a round has seen, by the same rules as the farm's log: a look says good of many items at once,
   an answer of one; of what was said twice the later stands; what was never said stays missing. */
ringrowParts.push((core) => {
  const { data, store } = core;
  const told = data.round, current = told.round, known = new Set(told.rounds), ANSWERS = ["good", "bad", "none"];
  const towers = ([side, count]) => Array.from({ length: count }, (_, index) => `${side} ${index + 1}`.trim());
  const systems = told.systems.map((system) => ({
    ...system,
    kind: system.kind.replace("_", " "),
    parts: { tower: system.towers.flatMap(towers), zone: system.zones },
    items: system.items.map((index) => told.items[index]),
  }));
  let cache = null;

  /* What makes no sense in a record from elsewhere is passed over, as the farm's log does. */
  const isObject = (value) => Boolean(value) && typeof value === "object" && !Array.isArray(value);
  const listOf = (value, test) => (Array.isArray(value) ? value.filter(test) : []);
  const isText = (value) => typeof value === "string";
  function tidy(value) {
    const { towers, zones, items, except, walking, ...rest } = value, texts = Object.entries(rest);
    const parts = { towers: listOf(towers, isText), zones: listOf(zones, isText), except: listOf(except, isObject) };
    const kept = Object.fromEntries([...texts, ...Object.entries(parts).filter(([, list]) => list.length)]);
    const said = isObject(items) ? Object.entries(items).filter(([, answer]) => isObject(answer) && ANSWERS.includes(answer.answer)) : [];
    const plain = (answer) => Object.fromEntries(Object.entries(answer).filter(([, text]) => isText(text)));
    if (said.length) kept.items = Object.fromEntries(said.map(([item, answer]) => [item, plain(answer)]));
    if (typeof walking === "boolean") kept.walking = walking;
    for (const key of ["note", "zone", "round"]) if (key in kept && !isText(kept[key])) delete kept[key];
    return kept;
  }

  /* ---- records: those of the map's making, and what was said here since ---- */
  function records() {
    if (cache) return cache;
    const all = new Map(told.records.map(({ id, ms, who, heads }) => [id, { id, ms, who, base: true, heads: heads.map(([head, at, value]) => ({ id: head, ms: at, value })) }]));
    for (const { event, home } of store.entries()) {
      if (home || event.field !== "record") continue;
      const record = all.get(event.flag) || { id: event.flag, ms: Infinity, who: "", base: false, heads: [] };
      const ms = Date.parse(event.when);
      if (!record.base && ms < record.ms) Object.assign(record, { ms, who: event.who });
      record.heads = record.heads.filter((head) => !event.parents.includes(head.id));
      record.heads.push({ id: event.id, ms, value: event.value });
      all.set(event.flag, record);
    }
    cache = [...all.values()].map((record) => {
      const heads = [...record.heads].sort((a, b) => b.ms - a.ms || (a.id < b.id ? 1 : -1)), [{ value }] = heads;
      const clash = heads.some((head) => JSON.stringify(head.value) !== JSON.stringify(value));
      return { ...record, heads, value, clash, ms: value && value.at && !record.base ? Date.parse(value.at) : record.ms };
    }).filter(({ value }) => isObject(value) && isText(value.system)).map((record) => ({ ...record, value: tidy(record.value) }));
    /* They stand in the order they were said in: of two dated alike the one said later comes last. */
    cache.sort((a, b) => a.ms - b.ms);
    return cache;
  }
  core.hear("changes", () => { cache = null; });
  const inDays = (ms) => !current || (ms >= current.from_ms && (current.until_ms === null || ms < current.until_ms));
  const inRound = ({ value, ms, base }) => base || (known.has(value.round) ? current && current.ids.includes(value.round) : inDays(ms));
  const isOf = (system, value) => system.names.includes(value.system) && (!value.kind || value.kind === system.kind);
  const own = (system, type) => records().filter((record) => record.value.type === type && isOf(system, record.value) && inRound(record));
  const looksOf = (system) => own(system, "look");
  const readingsOf = (system) => own(system, "reading").filter(({ value }) => system.items.some((item) => item.id === value.item && typeof value[item.key] === "number"));
  const partsOf = ({ value }) => [...(value.towers || []), ...(value.zones || [])];
  const partNames = (system, per) => (per === "system" ? [""] : system.parts[per]);

  /* ---- how an item stands ---- */
  function looked(item, part, looks) {
    for (let i = looks.length - 1; i >= 0; i -= 1) {
      const look = looks[i], parts = partsOf(look), said = (look.value.items || {})[item.id];
      if (parts.length && part && !parts.includes(part)) continue;
      /* Who has looked at towers has not looked at what is asked of the whole machine. */
      if (said || (look.value.nothing_seen === true && item.how === "look" && (part || !parts.length))) {
        return { part, answer: said ? said.answer : "good", said: said || { answer: "good" }, record: look };
      }
    }
    return { part, answer: null };
  }
  function judge(limits, number) {
    if (!limits || ((limits.low ?? null) === null && (limits.high ?? null) === null)) return { ok: null };
    const { low, high } = limits, slack = 1e-9 * Math.max(Math.abs(low || 0), Math.abs(high || 0));
    if (low !== null && number < low - slack) return { ok: false, why: "below" };
    if (high !== null && number > high + slack) return { ok: false, why: "above" };
    return { ok: true, why: "within" };
  }
  function readOf(system, item, part, readings) {
    const last = new Map();
    /* Motors pull the volts down, so those idle say nothing of those walking. */
    for (const record of readings) {
      const { value } = record;
      if (value.item === item.id && (value.zone || "") === part) last.set(item.id === "volts" ? String(value.walking) : "", record);
    }
    const standing = [...last.values()].map((record) => ({ record, ...judge((system.limits[item.id] || {})[part], record.value[item.key]) }));
    if (!standing.length) return { part, answer: null };
    standing.sort((a, b) => a.record.ms - b.record.ms);
    const speaks = standing.find(({ ok }) => ok === false) || standing[standing.length - 1];
    return { part, answer: speaks.ok === null ? "read" : speaks.ok ? "good" : "bad", record: speaks.record, readings: standing };
  }
  function standing(system) {
    const looks = looksOf(system), readings = readingsOf(system);
    const items = system.items.map((item) => {
      const parts = partNames(system, item.per).map((part) => (item.how === "read" ? readOf(system, item, part, readings) : looked(item, part, looks)));
      return { item, parts, missing: parts.filter(({ answer }) => answer === null), bad: parts.filter(({ answer }) => answer === "bad") };
    });
    const done = items.filter(({ missing }) => !missing.length).length;
    return { items, done, all: items.length, bad: items.reduce((sum, { bad }) => sum + bad.length, 0), looks, readings };
  }

  /* ---- saying something ---- */
  /* A new record, or one that takes the place of `former`; null takes it back. */
  function say(value, former = null) {
    const change = { flag: former ? former.id : store.newId(), field: "record", value };
    if (former) change.before = former.value;
    return store.add([change], { parents: [former ? former.heads.map(({ id }) => id).sort() : []] });
  }
  const HOURS_MS = 12 * 3600 * 1000;
  const scopeOf = (system, scope) => (scope ? { [system.parts.tower.length ? "towers" : "zones"]: scope } : {});
  const same = (a, b) => JSON.stringify(a) === JSON.stringify(b);
  /* One visit is one look: it grows while nobody else, and nothing else, was said of the system since. */
  function visit(system, scope) {
    const looks = looksOf(system), look = looks[looks.length - 1];
    if (!look || look.base || look.heads.length > 1 || look.who !== store.who() || Date.now() - look.ms > HOURS_MS) return null;
    if (scope !== undefined && !same(partsOf(look), scope || [])) return null;
    return (look.value.round || null) === (current && current.open ? current.id : null) ? look : null;
  }
  function grow(system, scope, more) {
    const look = visit(system, scope);
    if (look) return say(more(look.value), look);
    const value = { type: "look", system: system.name, kind: system.kind, ...scopeOf(system, scope) };
    if (current && current.open) value.round = current.id;
    return say(more(value));
  }
  const nothing = (system, scope) => grow(system, scope, (value) => ({ ...value, nothing_seen: true }));
  const flagged = (system, scope, entry, rest) => grow(system, scope, (value) => ({ ...value, ...(rest ? { nothing_seen: true } : {}), except: [...(value.except || []), entry] }));
  const answer = (system, item, scope, given) => grow(system, item.per === "system" ? undefined : scope, (value) => ({ ...value, items: { ...value.items, [item.id]: given } }));
  /* What a look said of one item goes; what it said of the others stays. */
  function unsay(system, item, look) {
    const items = { ...look.value.items }, value = { ...look.value, items }, parts = partsOf(look);
    delete items[item.id];
    if (value.nothing_seen && item.how === "look") {
      for (const other of system.items) {
        if (other.how === "look" && other.id !== item.id && !items[other.id] && (other.per !== "system" || !parts.length)) items[other.id] = { answer: "good" };
      }
      delete value.nothing_seen;
    }
    if (!Object.keys(items).length) delete value.items;
    return say(value.items || value.nothing_seen || value.except || value.note ? value : null, look);
  }

  core.round = { systems, current, records, looksOf, readingsOf, partsOf, standing, judge, say, nothing, flagged, answer, unsay, visit };
  core.shown.round = () => systems.map((system) => ({
    name: system.name,
    kind: system.kind,
    items: Object.fromEntries(standing(system).items.map(({ item, parts }) => [item.id, Object.fromEntries(parts.map((each) => [each.part, each.answer]))])),
  }));
});
