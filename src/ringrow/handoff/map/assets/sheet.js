/* Beside the map, on a phone held upright pulled up over it: a bar of buttons, a handle, and below them either the
   list with all that is to be read or one panel. The sheet rests low (all map), half way or high.
   `core.addAction(words, act, {name})` puts a button on the bar and returns it;
   `core.openPanel(title, node, {rest, closed})` shows a panel, in place of any other, `closed` being called
   when it goes; `core.closePanel()`, `core.panel()` (its title or null), `core.rest(name?)` and
   `core.covered()` (pixels of the map under the sheet) do as they say. */
ringrowParts.push((core) => {
  const { map, words, fill, element, button } = core;
  const side = document.getElementById("side"), bar = document.getElementById("bar");
  const handle = document.getElementById("handle"), panel = document.getElementById("panel");
  const sheet = document.getElementById("sheet"), stage = document.getElementById("stage");
  const beside = window.matchMedia("(min-width: 1000px), (min-width: 600px) and (max-height: 500px)");
  const RESTS = ["peek", "half", "full"];
  let rest = "peek", before = "peek", title = "", opener = null, whenClosed = null;
  const told = element("span", "", "what"), next = element("span", "", "act");
  const grip = element("div", "", "grip"), shut = button(words.close, "", () => core.closePanel(), "shut");
  handle.append(told, next);
  handle.replaceWith(grip);
  grip.append(handle, shut);
  shut.hidden = true;
  bar.setAttribute("role", "group");
  bar.setAttribute("aria-label", words.actions);

  /* ---- rests ---- */
  function setRest(name) {
    rest = name;
    side.dataset.rest = name;
    next.textContent = words[`rest_${name}`];
    handle.setAttribute("aria-expanded", String(name !== "peek"));
    core.tell("rest", name);
  }
  function nameHandle() {
    told.textContent = panel.hidden ? title : panel.firstChild.firstChild.textContent;
  }
  /* What stays in sight at the low rest is kept free below the map, so nothing there ever covers it. */
  function measure() {
    const high = bar.offsetHeight + handle.offsetHeight + 3;
    document.documentElement.style.setProperty("--peek", `${high}px`);
  }
  const high = () => ({ peek: bar.offsetHeight + handle.offsetHeight + 3, half: 0.58 * side.parentElement.clientHeight, full: side.parentElement.clientHeight });
  let drag = null;
  handle.addEventListener("pointerdown", (event) => {
    drag = { y: event.clientY, from: side.offsetHeight, moved: false, last: event.clientY, way: 0 };
    handle.setPointerCapture(event.pointerId);
  });
  handle.addEventListener("pointermove", (event) => {
    if (!drag) return;
    const up = drag.y - event.clientY;
    if (!drag.moved && Math.abs(up) < 8) return;
    drag.moved = true;
    drag.way = drag.last - event.clientY || drag.way;
    drag.last = event.clientY;
    side.classList.add("dragged");
    side.style.height = `${Math.max(high().peek, Math.min(high().full, drag.from + up))}px`;
  });
  function drop() {
    if (!drag) return;
    const { moved, way } = drag, now = side.offsetHeight, rests = high();
    side.classList.remove("dragged");
    side.style.height = "";
    if (moved) {
      /* Pulled on the way it was going; let go between two rests it goes on to the next. */
      const there = RESTS.filter((name) => (way >= 0 ? rests[name] >= now - 24 : rests[name] <= now + 24));
      setRest(there[way >= 0 ? 0 : there.length - 1] || rest);
    }
    drag = moved ? { done: true } : null;
    /* The click that ends a drag is no press of the button. */
    if (moved) setTimeout(() => { drag = null; }, 0);
  }
  handle.addEventListener("pointerup", drop);
  handle.addEventListener("pointercancel", drop);
  handle.addEventListener("click", () => {
    if (drag && drag.done) return;
    setRest(RESTS[(RESTS.indexOf(rest) + 1) % 3]);
  });
  handle.addEventListener("keydown", (event) => {
    const step = { ArrowUp: 1, ArrowDown: -1 }[event.key];
    if (!step) return;
    event.preventDefault();
    setRest(RESTS[Math.max(0, Math.min(2, RESTS.indexOf(rest) + step))]);
  });
  /* Whoever comes in with the keyboard, or by a link, sees where they are. */
  for (const part of [sheet, panel]) part.addEventListener("focusin", () => { if (rest === "peek") setRest("half"); });
  document.addEventListener("click", (event) => {
    const link = event.target.closest('a[href^="#"]');
    if (!link || !sheet.querySelector(link.hash)) return;
    core.closePanel();
    setRest("full");
  });

  /* ---- the bar ---- */
  core.addAction = (text, act, { name }) => {
    const made = button(text, "", act);
    made.dataset.action = name;
    bar.append(made);
    measure();
    return made;
  };

  /* ---- panels ---- */
  core.openPanel = (text, node, { rest: wanted = "half", closed = null } = {}) => {
    if (panel.hidden) {
      before = rest;
      opener = document.activeElement;
    } else if (whenClosed) whenClosed();
    whenClosed = closed;
    const head = element("h2", text);
    head.id = "panel-head";
    head.tabIndex = -1;
    const top = element("div", "", "panel-top");
    const name = fill(words.close_what, { what: text });
    top.append(head, button(words.close, name, core.closePanel, "shut"));
    shut.setAttribute("aria-label", name);
    shut.hidden = false;
    panel.replaceChildren(top, node);
    panel.hidden = false;
    panel.scrollTop = 0;
    side.classList.add("paneled");
    nameHandle();
    setRest(wanted);
    head.focus({ preventScroll: true });
    core.tell("panel", text);
  };
  core.closePanel = () => {
    if (panel.hidden) return;
    panel.hidden = shut.hidden = true;
    panel.replaceChildren();
    side.classList.remove("paneled");
    nameHandle();
    setRest(before);
    const back = whenClosed;
    whenClosed = null;
    if (opener && opener.isConnected) opener.focus({ preventScroll: true });
    core.tell("panel", null);
    if (back) back();
  };
  core.panel = () => (panel.hidden ? null : panel.firstChild.firstChild.textContent);
  document.addEventListener("keydown", (event) => {
    if (event.key !== "Escape" || event.defaultPrevented) return;
    if (!panel.hidden) core.closePanel();
    else if (rest !== "peek") {
      if (sheet.contains(document.activeElement)) handle.focus();
      setRest("peek");
    }
  });

  /* ---- the map beside it ---- */
  core.rest = (name) => { if (name) setRest(name); return rest; };
  core.sheetTitle = (text) => { title = text; nameHandle(); };
  /* Pixels of the map that the sheet lies over. */
  core.covered = () => (beside.matches ? 0 : Math.max(0, high()[rest] - high().peek));
  core.covering(core.covered);
  core.hear("going", () => {
    if (!panel.hidden) return;
    /* What has the focus stays in sight: the map takes it over from a row that goes down with the sheet. */
    if (!beside.matches && sheet.contains(document.activeElement)) map.getContainer().focus({ preventScroll: true });
    setRest("peek");
  });
  /* In the next frame: what is measured within one changes sizes that are being told. */
  const later = (act) => new ResizeObserver(() => requestAnimationFrame(act));
  later(measure).observe(bar);
  later(() => {
    document.documentElement.style.setProperty("--stage", `${stage.offsetHeight}px`);
    map.invalidateSize({ animate: false });
  }).observe(stage);
  document.documentElement.classList.add("ready");
  setRest("peek");
  measure();
  core.shown.rest = () => rest;
  core.shown.covered = core.covered;
});
