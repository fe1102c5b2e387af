/* What is in no file yet, always in sight; the file that goes back to the farm; and clearing. */
ringrowParts.push((core) => {
  const { data, fill, element, button, store } = core;
  const set = data.set, words = set.words;
  const many = (key, n) => fill(words[`${key}_${n === 1 ? "1" : "n"}`], { n });
  const kb = (bytes) => Math.max(1, Math.round(bytes / 1000)).toLocaleString("en-US");
  const LONGEST_TEXT = 60000;

  /* ---- the line in the bar ---- */
  const line = element("p", "", "unsaved"), trouble = element("p", "", "alert"), begun = element("p", "", "begun-line");
  line.setAttribute("aria-live", "polite");
  trouble.setAttribute("role", "alert");
  const open = core.addAction(words.send, show, { name: "send" });
  open.parentElement.append(line, begun, trouble);
  function count({ kept, unsaved }) {
    line.textContent = unsaved ? many("unsaved", unsaved) : kept ? words.all_saved : words.none;
    line.classList.toggle("owed", unsaved > 0);
    open.classList.toggle("owed", unsaved > 0);
  }
  core.hear("changes", count);
  core.hear("trouble", (text) => { trouble.textContent = text; });
  core.hear("begun", (text) => { begun.textContent = text; });

  /* ---- what was done, in words ---- */
  const plain = (text, most) => (text.length > most ? `${text.slice(0, most)}…` : text);
  function numberOf(flag) {
    const shown = data.flags.find((one) => one.id === flag);
    return shown ? shown.number : words.gone_flag;
  }
  function did({ event, undoes, tag }) {
    const { field, value, flag } = event, number = tag || numberOf(flag);
    if (field === "record") return core.recordWords(event, undoes);
    if (undoes) return fill(words.did_undo, { number });
    const says = {
      spot: () => fill(words.did_set, { number, kind: store.kindWords(store.state(flag).kind) }),
      status: () => fill(words.did_status, { number, status: set.states[value] || value }),
      kind: () => fill(words.did_kind, { number, kind: store.kindWords(value) }),
      note: () => fill(words.did_note, { number, note: plain(String(value), 60) }),
      photo: () => fill(words.did_photo, { number }),
      parts: () => fill(words.did_parts, { number, list: store.partWords((value || []).map((row) => [row.part, row.quantity])) }),
      dig: () => fill(words.did_dig, { number }),
      ground_flag: () => (value ? fill(words[`did_ground_${value}`], { number }) : fill(words.did_other, { number, field: words.field_ground_flag })),
    };
    return (says[field] || (() => fill(words.did_other, { number, field })))();
  }
  /* One line for what was said together; a new flag says it all. */
  function history() {
    const batches = new Map();
    for (const entry of store.entries()) {
      if (!batches.has(entry.batch)) batches.set(entry.batch, []);
      batches.get(entry.batch).push(entry);
    }
    const undone = new Set(store.entries().map((entry) => entry.undoes).filter(Boolean));
    return [...batches.values()].reverse().map((batch) => {
      const first = batch.find(({ event }) => event.field === "spot");
      const text = first ? did(first) : batch[0].undoes ? did(batch[0]) : batch.map(did).join("; ");
      const where = batch.every(({ home }) => home) ? words.on_map : batch.every(({ saved, home }) => saved || home) ? words.in_file : words.in_no_file;
      return { text, state: [where, undone.has(batch[0].batch) && words.taken_back].filter(Boolean).join(", ") };
    });
  }

  /* ---- the file ---- */
  const base64 = (buffer) => {
    const bytes = new Uint8Array(buffer), parts = [];
    for (let i = 0; i < bytes.length; i += 24573) parts.push(btoa(String.fromCharCode(...bytes.subarray(i, i + 24573))));
    return parts.join("");
  };
  function fileName() {
    const now = new Date(), two = (number) => String(number).padStart(2, "0");
    const farm = data.farm.normalize("NFKD").replace(/[\u0300-\u036f]/g, "").replace(/[^A-Za-z0-9]+/g, "-").replace(/^-|-$/g, "").toLowerCase() || "farm";
    const time = `${two(now.getHours())}${two(now.getMinutes())}${two(now.getSeconds())}`;
    return `${farm.slice(0, 60)}-${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}-${time}-${store.device()}.geojson`;
  }
  function geometry(flag) {
    const shown = data.flags.find((one) => one.id === flag);
    return shown && shown.at ? { type: "Point", coordinates: shown.at } : null;
  }
  function collection(entries, photos) {
    const byFlag = new Map();
    for (const { event } of entries) {
      if (!byFlag.has(event.flag)) byFlag.set(event.flag, []);
      byFlag.get(event.flag).push(event);
    }
    const features = [...byFlag].map(([flag, events]) => {
      const own = events.map((event) => photos.get(event.id)).filter(Boolean);
      return {
        type: "Feature",
        id: flag,
        geometry: geometry(flag),
        properties: {
          ringrow: { schema: set.schema, map_id: set.map_id, device: store.device() },
          events,
          ...(own.length ? { photos: own } : {}),
        },
      };
    });
    return `${JSON.stringify({ type: "FeatureCollection", features })}\n`;
  }
  const bytesOf = (text) => new TextEncoder().encode(text).length;
  /* All that was said here and is on no map yet: what went before goes again, so a lost file loses nothing.
     Photos are heavy: only those that are in no file, as many as the limit allows. */
  async function build({ again }) {
    const entries = store.entries().filter((entry) => !entry.home);
    const withPhoto = entries.filter(({ event, saved }) => event.field === "photo" && event.value && (again || !saved));
    const photos = new Map(), left = new Set();
    let size = bytesOf(collection(entries, photos)), lost = 0;
    for (const { event, saved } of withPhoto.sort((a, b) => Boolean(a.saved) - Boolean(b.saved))) {
      const kept = await store.photos.get(event.id);
      if (!kept) { lost += 1; continue; }
      const carried = { event: event.id, name: kept.name, type: kept.type, data: `data:${kept.type};base64,${base64(kept.bytes)}` };
      const more = JSON.stringify(carried).length + 40;
      if (size + more > set.limit_bytes) {
        if (!saved) left.add(event.id);
        continue;
      }
      size += more;
      photos.set(event.id, carried);
    }
    /* A photo that did not fit is still in no file: its event waits with it. */
    const going = entries.filter(({ event }) => !left.has(event.id));
    const text = collection(going, photos);
    return { name: fileName(), text, bytes: bytesOf(text), ids: going.map(({ event }) => event.id), left: left.size, lost, photos: photos.size, going };
  }

  /* ---- the panel ---- */
  let again = false, saying = "";
  function show() {
    const box = element("div", "", "send-form"), fileBox = element("div", "", "send-file"), said = element("p", saying);
    said.setAttribute("role", "status");
    saying = "";
    box.append(said, fileBox, changes(), clearing());
    core.openPanel(words.send, box, { rest: "full" });
    fillFile(fileBox, said);
  }
  async function fillFile(box, said) {
    if (!store.entries().some((entry) => !entry.home)) {
      box.replaceChildren(element("p", words.nothing_to_send));
      return;
    }
    box.replaceChildren(element("p", words.building));
    const file = await build({ again });
    const saved = (name) => {
      store.markSaved(file.ids, name);
      saying = fill(words.saved_as, { name });
      show();
    };
    const parts = [element("p", fill(words.file_is, { name: file.name, kb: kb(file.bytes) }), "file")];
    if (file.left) parts.push(element("p", fill(words.not_fitting, { count: file.left, mb: set.limit_bytes / 1e6 }), "alert"));
    if (file.lost) parts.push(element("p", fill(words.photo_lost, { count: file.lost }), "alert"));
    parts.push(buttonsFor(file, saved, said));
    if (store.entries().some(({ event, saved: was }) => event.field === "photo" && event.value && was)) {
      const label = element("label", "", "tick"), tick = element("input");
      tick.type = "checkbox";
      tick.checked = again;
      tick.addEventListener("change", () => { again = tick.checked; fillFile(box, said); });
      label.append(tick, element("span", words.with_photos));
      parts.push(label);
    }
    parts.push(asText(file, saved, said));
    if (!store.persistent) parts.push(element("p", words.refused, "alert"));
    else parts.push(element("p", words.slow));
    box.replaceChildren(...parts);
  }
  function buttonsFor(file, saved, said) {
    const row = element("div", "", "buttons");
    /* Phones refuse to share an unknown ending; this one is read by flag import all the same. */
    const shared = new File([file.text], `${file.name}.txt`, { type: "text/plain" });
    if (navigator.canShare && navigator.canShare({ files: [shared] })) {
      row.append(button(words.share, "", async () => {
        try {
          await navigator.share({ files: [shared] });
          saved(shared.name);
        } catch (error) {
          said.textContent = words.share_failed;
        }
      }, "main"));
    }
    const link = element("a", words.download, "as-button");
    link.href = URL.createObjectURL(new Blob([file.text], { type: "application/geo+json" }));
    link.download = file.name;
    link.addEventListener("click", () => setTimeout(() => saved(file.name), 0));
    row.append(link);
    return row;
  }
  function asText(file, saved, said) {
    const box = element("details"), area = element("textarea");
    box.append(element("summary", words.text));
    const short = file.bytes <= LONGEST_TEXT ? file.text : collection(file.going, new Map());
    if (short !== file.text) box.append(element("p", fill(words.text_too_long, { kb: kb(file.bytes) })));
    area.readOnly = true;
    area.rows = 4;
    area.value = short;
    area.setAttribute("aria-label", words.text);
    const sent = button(words.text_sent, "", () => {
      const ids = short === file.text ? file.ids : file.going.filter(({ event }) => event.field !== "photo" || event.value === null).map(({ event }) => event.id);
      store.markSaved(ids, `${file.name} (text)`);
      saying = fill(words.saved_as, { name: file.name });
      show();
    });
    sent.hidden = true;
    const copy = button(words.copy, "", async () => {
      area.select();
      let done = false;
      try {
        await navigator.clipboard.writeText(short);
        done = true;
      } catch (error) {
        done = document.execCommand("copy");
      }
      said.textContent = done ? words.copied : words.not_copied;
      sent.hidden = false;
    });
    const row = element("div", "", "buttons");
    row.append(copy, sent);
    box.append(area, row);
    return box;
  }
  function changes() {
    const box = element("section"), all = history(), last = store.last();
    box.append(element("h3", words.what_changed), element("p", many("kept", store.counts().kept)));
    if (last.length) {
      box.append(button(words.take_back, "", () => {
        const text = last.map(did).join("; ");
        if (!store.takeBack()) return;
        saying = fill(words.was_taken_back, { what: text });
        show();
      }, "take-back"));
    }
    const list = element("ul", "", "changes");
    for (const { text, state } of all.slice(0, 100)) {
      const item = element("li", text);
      item.append(" ", element("strong", `(${state})`));
      list.append(item);
    }
    if (all.length) box.append(list);
    return box;
  }
  /* Nothing goes by one touch: what is in a file after one question, what is in none only after a second. */
  function clearing() {
    const box = element("section", "", "clearing"), { unsaved, sent, kept, owed } = store.counts();
    if (!kept) return box;
    const question = element("div");
    question.setAttribute("role", "alert");
    const done = async (which) => {
      const count_ = await store.clear(which);
      saying = fill(words.cleared, { count: count_, left: store.counts().unsaved });
      show();
    };
    const row = (...all) => { const made = element("div", "", "buttons"); made.append(...all); return made; };
    const keep = () => button(words.keep, "", () => { question.replaceChildren(); first.focus(); });
    const ask = () => {
      const parts = [element("p", sent ? words.clear_warning : words.clear_none)];
      const choices = [sent && button(fill(words.clear_yes, { count: sent }), "", () => done((entry) => !owed.has(entry.batch))), unsaved && button(words.clear_unsaved, "", askAgain), keep()];
      question.replaceChildren(...parts, row(...choices.filter(Boolean)));
    };
    const askAgain = () => {
      question.replaceChildren(
        element("p", fill(words.clear_unsaved_warning, { count: unsaved })),
        row(button(fill(words.clear_unsaved_yes, { count: unsaved }), "", () => done(() => true)), keep()),
      );
    };
    const first = button(words.clear, "", ask);
    box.append(first, question);
    return box;
  }

  core.storeReady();
  core.tell("ready");
});
