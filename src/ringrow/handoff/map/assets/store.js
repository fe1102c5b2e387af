/* What was said on this page, as events of the farm's log, kept in the browser under the map's own id.
   Every page from a disk may share one store, so a key begins with the map's id and nothing is ever
   cleared but what this map wrote. One key an event: two windows cannot write over each other. */
ringrowParts.push((core) => {
  const { data } = core, set = data.set, words = set.words;
  const HEAD = `ringrow:${set.map_id}:`, DRAFT = `${HEAD}draft`, WHO = "ringrow:who", DEVICE = "ringrow:device";
  const ADDING_UP = ["parts", "photo"], SOURCE = "map file";
  const DEFAULTS = { status: "open", note: "", class: null, ground_flag: null, dig: null };
  const base = new Map(data.flags.map((flag) => [flag.id, { ...flag }]));
  const home = new Set(set.home);
  const kinds = new Map(set.kinds.map((kind) => [kind.name, kind]));
  let entries = new Map(), states = new Map(), touched = new Set();

  /* ---- the browser's own store; without it everything is held in memory, and the page says so ---- */
  const memory = new Map();
  const disk = (() => {
    try {
      const key = `${HEAD}try`;
      try { localStorage.setItem(key, "1"); } catch (error) { if (!localStorage.length) throw error; }
      localStorage.removeItem(key);
      return localStorage;
    } catch (error) {
      return null;
    }
  })();
  const read = (key) => (disk ? disk.getItem(key) : memory.get(key) ?? null);
  const write = (key, value) => { if (disk) disk.setItem(key, value); else memory.set(key, value); };
  const remove = (key) => { if (disk) disk.removeItem(key); else memory.delete(key); };
  const keys = () => (disk ? Array.from({ length: disk.length }, (_, i) => disk.key(i)) : [...memory.keys()]);

  /* ---- ids ---- */
  function newId() {
    if (window.crypto.randomUUID) return crypto.randomUUID();
    /* Pages over plain http have no randomUUID: version 4 by hand (RFC 9562). */
    const bytes = crypto.getRandomValues(new Uint8Array(16));
    bytes[6] = (bytes[6] & 0x0f) | 0x40;
    bytes[8] = (bytes[8] & 0x3f) | 0x80;
    const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
    return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
  }
  function device() {
    let name = read(DEVICE);
    if (!/^[a-z2-9]{5}$/.test(name || "")) {
      const letters = "abcdefghjkmnpqrstuvwxyz23456789";
      name = [...crypto.getRandomValues(new Uint8Array(5))].map((byte) => letters[byte % letters.length]).join("");
      try { write(DEVICE, name); } catch (error) { /* Full: a name of this visit only. */ }
    }
    return name;
  }

  /* ---- entries: an event and what the page wants to know beside it ---- */
  const isHome = (entry) => home.has(entry.event.id.slice(0, 13)) || baseHeads(entry.event).some((head) => head.id === entry.event.id);
  const baseHeads = ({ flag, field }) => (set.flags[flag]?.heads[field] || []).map(([id, ms, value]) => ({ id, ms, value }));
  let order = null, byFlag = null;
  const stale = () => { order = byFlag = null; };
  const sorted = () => (order ||= [...entries.values()].sort((a, b) => a.n - b.n || (a.event.id < b.event.id ? -1 : 1)));
  /* Entries of one flag that this map does not hold already. */
  function ownOf(flag) {
    if (!byFlag) {
      byFlag = new Map();
      for (const entry of sorted()) {
        if (entry.home) continue;
        if (!byFlag.has(entry.event.flag)) byFlag.set(entry.event.flag, []);
        byFlag.get(entry.event.flag).push(entry);
      }
    }
    return byFlag.get(flag) || [];
  }
  function load() {
    const known = new Map();
    for (const key of keys()) {
      if (!key.startsWith(`${HEAD}e:`)) continue;
      try {
        const entry = JSON.parse(read(key));
        if (entry.event.id === key.slice(HEAD.length + 2)) known.set(entry.event.id, entry);
      } catch (error) { /* No entry of ours; it stays where it is. */ }
    }
    entries = known;
    for (const entry of entries.values()) entry.home = isHome(entry);
    stale();
  }
  const keep = (entry) => write(`${HEAD}e:${entry.event.id}`, JSON.stringify({ ...entry, home: undefined }));

  /* ---- heads: events that no other names as seen, the displayed one first ---- */
  function headsOf(flag, field) {
    let heads = baseHeads({ flag, field });
    for (const { event } of ownOf(flag)) {
      if (event.field !== field) continue;
      heads = heads.filter((head) => !event.parents.includes(head.id));
      heads.push({ id: event.id, ms: Date.parse(event.when), value: event.value, local: true });
    }
    return heads.sort((a, b) => b.ms - a.ms || (a.id < b.id ? 1 : -1));
  }
  function shownValue(flag, field) {
    const [head] = headsOf(flag, field), known = set.flags[flag];
    if (head && (head.local || head.value !== undefined)) return head.value;
    return known ? known[field] : DEFAULTS[field];
  }
  /* Photos and parts add up; an event of null takes back the ones it names. */
  function standing(flag, field) {
    const own = ownOf(flag).filter(({ event }) => event.field === field);
    const gone = new Set(own.filter(({ event }) => event.value === null).flatMap(({ event }) => event.parents));
    return own.filter(({ event }) => event.value !== null && !gone.has(event.id)).map(({ event }) => event);
  }
  function addParts(rows) {
    const sums = new Map();
    for (const [part, quantity] of rows) {
      const name = part.trim().split(/\s+/).join(" "), key = name.toLowerCase();
      sums.set(key, [sums.get(key)?.[0] || name, (sums.get(key)?.[1] || 0) + quantity]);
    }
    return [...sums.values()];
  }
  function stateOf(flag) {
    const known = set.flags[flag];
    const first = ownOf(flag).find(({ event }) => event.field === "spot");
    const parts = standing(flag, "parts").flatMap((event) => event.value.map((row) => [row.part, row.quantity]));
    const spot = first ? first.event.value : null;
    return {
      id: flag,
      isNew: !known,
      number: base.get(flag)?.number ?? first?.tag ?? "?",
      look: first?.look,
      on: known ? known.on : spot?.on ?? null,
      kind: shownValue(flag, "kind") ?? "other-ground",
      ...Object.fromEntries(Object.keys(DEFAULTS).map((field) => [field, shownValue(flag, field)])),
      parts: addParts([...(known?.parts || []), ...parts]),
      photos: standing(flag, "photo"),
      fields: new Set(ownOf(flag).map(({ event }) => event.field)),
    };
  }

  /* ---- what the map and the list show ---- */
  const kindWords = (name) => kinds.get(name)?.words || name;
  const partWords = (parts) => parts.map(([part, quantity]) => `${quantity} × ${part}`).join(", ");
  function saidHere(state) {
    const lines = [state.isNew ? words.set_here : words.changed_here];
    if (state.fields.has("parts") && state.parts.length) lines.push(core.fill(words.used_here, { list: partWords(state.parts) }));
    if (state.fields.has("dig") && state.dig) lines.push(words.hole_here);
    if (state.photos.length) lines.push(core.fill(words.photos_here, { count: state.photos.length }));
    if (state.fields.has("ground_flag") && state.ground_flag) lines.push(words[`stake_${state.ground_flag}`]);
    return lines;
  }
  function clashesOf(state, was) {
    const before = (set.flags[state.id]?.clashes || []).map((field, index) => [field, was.clashes[index]]);
    const lines = before.filter(([field]) => !state.fields.has(field)).map(([, line]) => line);
    for (const field of state.fields) {
      if (!ADDING_UP.includes(field) && headsOf(state.id, field).length > 1) lines.push(core.fill(words.clash_here, { field: words[`field_${field}`] || field }));
    }
    return lines;
  }
  function shownFlag(state) {
    const was = base.get(state.id) || { id: state.id, number: state.number, touches: [], clashes: [], ring: null, on_move: false, ...state.look };
    const kind = kinds.get(state.kind);
    return {
      ...was,
      status: set.states[state.status] ? state.status : "open",
      state: set.states[state.status] || state.status,
      kind_words: kindWords(state.kind),
      title: core.fill(words.title, { number: state.number, kind: kindWords(state.kind) }),
      class: set.classes[state.class || kind?.class] || was.class,
      note: state.note,
      clashes: clashesOf(state, was),
      touches: [...was.touches, ...saidHere(state)],
    };
  }
  function rebuild() {
    const flags = new Set(sorted().filter(({ event, home: there }) => !there && event.field !== "record").map(({ event }) => event.flag));
    states = new Map([...flags].map((flag) => [flag, stateOf(flag)]));
    const listed = new Map(data.flags.map((flag) => [flag.id, flag]));
    const chosen = core.chosen();
    for (const id of touched) {
      if (flags.has(id)) continue;
      if (base.has(id)) Object.assign(listed.get(id), base.get(id));
      else {
        if (chosen && chosen.id === id) core.choose(null);
        data.flags.splice(data.flags.indexOf(listed.get(id)), 1);
      }
    }
    for (const [id, state] of states) {
      if (state.isNew && !state.look) continue;
      if (listed.has(id)) Object.assign(listed.get(id), shownFlag(state));
      else data.flags.push(shownFlag(state));
    }
    touched = flags;
    core.flagsChanged();
    core.tell("changes", counts());
  }
  /* A change is what somebody said at one time, however many fields of a flag it speaks of. */
  function counts() {
    const owed = new Set(sorted().filter((entry) => !entry.saved && !entry.home).map(({ batch }) => batch));
    const kept = new Set(sorted().map(({ batch }) => batch)).size;
    return { kept, unsaved: owed.size, sent: kept - owed.size, owed };
  }

  /* ---- saying something ---- */
  const nextTag = () => {
    const last = Math.max(Number(read(`${HEAD}tags`)) || 0, ...sorted().map(({ tag }) => Number(String(tag || "").slice(1)) || 0));
    return last + 1;
  };
  /* Changes made together, `{flag, field, value}` each: all of them are kept, or none and false comes back. */
  function add(changes, { undoes = null, look = null, ids = {}, parents = null } = {}) {
    const when = new Date().toISOString(), batch = newId();
    const n = Math.max(Date.now(), ...sorted().map((entry) => entry.n + 1));
    const made = changes.map(({ flag, field, value, before }, index) => ({
      event: {
        id: ids[index] || newId(), flag, field, value, when, who: who(), source: SOURCE,
        parents: parents ? parents[index] : headsOf(flag, field).map(({ id }) => id).sort(),
      },
      n: n + index, batch, undoes, saved: null, home: false,
      before: field === "record" ? before : ADDING_UP.includes(field) || !(flag in set.flags || states.has(flag)) ? undefined : shownValue(flag, field) ?? DEFAULTS[field],
      ...(field === "spot" ? { tag: `a${nextTag()}`, look } : {}),
    }));
    try {
      for (const entry of made) {
        keep(entry);
        if (entry.tag) write(`${HEAD}tags`, entry.tag.slice(1));
      }
    } catch (error) {
      for (const { event } of made) remove(`${HEAD}e:${event.id}`);
      core.tell("trouble", words.full);
      return false;
    }
    for (const entry of made) entries.set(entry.event.id, entry);
    stale();
    rebuild();
    core.tell("trouble", "");
    return true;
  }
  /* The last thing done here that still stands: what belongs together goes together. */
  function last() {
    const all = sorted().filter((entry) => !entry.home), undone = new Set(all.map((entry) => entry.undoes).filter(Boolean));
    const open = all.filter((entry) => !entry.undoes && !undone.has(entry.batch)).pop();
    return open ? all.filter((entry) => entry.batch === open.batch) : [];
  }
  function takeBack() {
    const batch = last();
    if (!batch.length) return false;
    const { flag } = batch[0].event, isNew = batch.some(({ event }) => event.field === "spot");
    const changes = isNew
      ? [{ flag, field: "status", value: "not-a-fault" }]
      : batch.map(({ event, before }) => ({ flag, field: event.field, value: ADDING_UP.includes(event.field) ? null : before ?? null }));
    const parents = isNew ? null : batch.map(({ event }) => (ADDING_UP.includes(event.field) ? [event.id] : headsOf(flag, event.field).map(({ id }) => id).sort()));
    return add(changes, { undoes: batch[0].batch, parents });
  }

  function markSaved(ids, file) {
    for (const id of ids) {
      const entry = entries.get(id);
      if (!entry) continue;
      entry.saved = file;
      /* A mark is no longer than the file's name; where even that does not fit, it counts for this visit. */
      try { keep(entry); } catch (error) { core.tell("trouble", words.full); }
    }
    core.tell("changes", counts());
  }
  async function clear(which) {
    const gone = sorted().filter(which);
    for (const { event } of gone) {
      remove(`${HEAD}e:${event.id}`);
      entries.delete(event.id);
    }
    stale();
    rebuild();
    await photos.drop(gone.filter(({ event }) => event.field === "photo").map(({ event }) => event.id));
    return new Set(gone.map(({ batch }) => batch)).size;
  }

  /* ---- what is being typed: a phone may drop the page for its camera or a call ---- */
  function draft() {
    try {
      const found = JSON.parse(read(DRAFT));
      return found && typeof found === "object" ? found : null;
    } catch (error) {
      return null;
    }
  }
  function keepDraft(value) {
    try { if (value) write(DRAFT, JSON.stringify(value)); else remove(DRAFT); } catch (error) { /* Full: it stays in the form. */ }
  }

  /* ---- who ---- */
  const who = () => (read(WHO) || "").slice(0, 200);
  function setWho(name) {
    try { write(WHO, name.trim().slice(0, 200)); } catch (error) { core.tell("trouble", words.full); }
  }

  /* ---- photos: too large for the small store ---- */
  const photos = (() => {
    const open = () => new Promise((done, failed) => {
      const request = indexedDB.open("ringrow", 1);
      request.onupgradeneeded = () => request.result.createObjectStore("photos");
      request.onsuccess = () => done(request.result);
      request.onerror = () => failed(request.error);
    });
    async function run(mode, act) {
      const box = await open();
      try {
        return await new Promise((done, failed) => {
          /* On the disk before it is called kept, where the browser knows how. */
          const move = box.transaction("photos", mode, { durability: "strict" }), request = act(move.objectStore("photos"));
          move.oncomplete = () => done(request && request.result);
          move.onerror = move.onabort = () => failed(move.error);
        });
      } finally {
        box.close();
      }
    }
    return {
      keep: (id, photo) => run("readwrite", (box) => box.put(photo, id)),
      get: (id) => run("readonly", (box) => box.get(id)).catch(() => undefined),
      drop: (ids) => (ids.length ? run("readwrite", (box) => { for (const id of ids) box.delete(id); }).catch(() => {}) : Promise.resolve()),
    };
  })();

  window.addEventListener("storage", (event) => {
    if (event.key && (!event.key.startsWith(HEAD) || event.key === DRAFT)) return;
    load();
    rebuild();
  });
  window.addEventListener("beforeunload", (event) => { if (!disk && counts().unsaved) event.preventDefault(); });

  core.store = {
    add, takeBack, last, clear, counts, markSaved, newId, device, who, setWho, draft, keepDraft, photos, kindWords, partWords,
    entries: sorted,
    state: (flag) => states.get(flag) || stateOf(flag),
    persistent: Boolean(disk),
  };
  core.shown.changes = () => sorted().map((entry) => ({ ...entry.event, saved: entry.saved, home: entry.home }));
  /* Once all parts stand, so that the list hears of what changed. */
  core.storeReady = () => { load(); rebuild(); };
});
