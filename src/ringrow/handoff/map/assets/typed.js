/* Latitude and longitude as people type them or copy them: the same forms as `ringrow where --at`. */
ringrowParts.push((core) => {
  const { fill } = core, words = core.words.here.panel;
  const SIGNS = [
    [/[\u2212\u2010-\u2014\ufe63\uff0d]/g, "-"], [/[\u2032\u2019\u2018\u02bc\u02b9\u00b4`\u201b\uff07]/g, "'"],
    [/[\u2033\u201d\u201c\u201e\u02ba\u3003\uff02]/g, '"'], [/[\u00ba\u02da\u2070\u1d52]/g, "\u00b0"],
    [/[\u200e\u200f\u200b\ufeff\u202a\u202c]/g, ""], [/\uff0c/g, ","], [/[\uff1b|/]/g, ";"],
    [/\bgeo:/gi, " "], [/[()[\]{}]/g, " "], [/\b(?:latitude|lat|longitude|long|lng|lon)\b\s*[.:=]*/gi, " "],
    [/degrees?\b|degs?\b/gi, "\u00b0"], [/minutes?\b|mins?\b/gi, "'"], [/seconds?\b|secs?\b/gi, '"'],
    [/north\b/gi, "N"], [/south\b/gi, "S"], [/east\b/gi, "E"], [/west\b/gi, "W"],
    [/(\d)\s*d(?=[\s\d])/gi, "$1\u00b0"], [/''/g, '"'], [/\s+/g, " "],
  ];
  const NUMBER = "\\d+(?:\\.\\d+)?";
  const ANGLE = new RegExp(
    `^\\s*(?<before>[NSEW])?\\s*(?<sign>[-+])?\\s*(?<degrees>${NUMBER})(?:(?:\\s*\u00b0\\s*|\\s+)(?<minutes>${NUMBER})` +
    `(?:(?:\\s*'\\s*|\\s+)(?<seconds>${NUMBER})\\s*"?|\\s*'?))?\\s*\u00b0?\\s*(?<after>[NSEW])?\\s*$`,
  );
  const plain = (text) => SIGNS.reduce((now, [sign, by]) => now.replace(sign, by), text)
    .replace(/[nsew]/g, (letter) => letter.toUpperCase()).replace(/^[ ,;]+|[ ,;]+$/g, "");
  const places = (text, sign) => [...text.matchAll(sign)].map((found) => found.index);
  const digit = (letter) => letter >= "0" && letter <= "9";
  /* Commas that do not stand between two digits. */
  const clear = (text) => places(text, /,/g).filter((at) => !(digit(text[at - 1] || "") && digit(text[at + 1] || "")));

  /* The ways to part the two, the clearest first. */
  const SPLITS = [
    (text) => { const parts = text.split(";"); return parts.length === 2 ? parts : null; },
    (text) => { const found = clear(text); return found.length === 1 ? [text.slice(0, found[0]), text.slice(found[0] + 1)] : null; },
    (text) => {
      const found = places(text, /[NSEW]/g);
      if (found.length !== 2) return null;
      const cut = found[0] === 0 ? found[1] : found[0] + 1;
      return [text.slice(0, cut), text.slice(cut).replace(/^[ ,]+/, "")];
    },
    (text) => {
      const found = places(text, /,/g);
      if (found.length === 1 && (text.includes(".") || !text.includes(" "))) return [text.slice(0, found[0]), text.slice(found[0] + 1)];
      return found.length === 3 && !text.includes(".") ? [text.slice(0, found[1]), text.slice(found[1] + 1)] : null;
    },
    (text) => {
      const found = places(text, /[-+]?(?:\d+(?:[.,]\d*)?|\.\d+)/g);
      if (!found.length || found.length % 2) return null;
      const cut = found[found.length / 2];
      return " \u00b0'\"".includes(text[cut - 1]) ? [text.slice(0, cut), text.slice(cut)] : null;
    },
  ];
  function halves(text) {
    for (const split of SPLITS) {
      const found = split(text);
      if (found) return found.map((half) => half.replace(/(\d),(?=\d)/g, "$1."));
    }
    return null;
  }
  function refuse(message, values) {
    throw new RangeError(fill(message, values));
  }
  function degrees(angle, text) {
    const { before = "", after = "", sign } = angle, letter = before + after;
    if (letter.length > 1) refuse(words.letters, { text });
    if ((letter === "N" || letter === "E") && sign === "-") refuse(words.both_signs, { text });
    const parts = [angle.degrees, angle.minutes, angle.seconds].filter((part) => part !== undefined).map(Number);
    const last = parts.length - 1;
    /* Some phones round 59.99 up to 60 and leave it there: the last number may be 60 itself. */
    if (parts.some((part, i) => i && (part > 60 || (part === 60 && i < last))) || parts.some((part, i) => i < last && part % 1)) refuse(words.minutes, { text });
    const size = parts.reduce((sum, part, i) => sum + part / 60 ** i, 0);
    return sign === "-" || letter === "S" || letter === "W" ? -size : size;
  }
  /* Latitude and longitude of a text; what is wrong with it is thrown as a RangeError in words. */
  core.readTyped = (typed) => {
    const text = [...typed.replace(/\s+/g, " ").trim()].slice(0, 80).join("");
    const found = (halves(plain(text)) || []).map((half) => ANGLE.exec(half));
    if (found.length !== 2 || found.includes(null)) refuse(words.unread, { text });
    const [first, second] = found.map(({ groups }) => groups), letters = [first, second].map((one) => one.before || one.after || "");
    if ("EW".includes(letters[0] || "-") || "NS".includes(letters[1] || "-")) refuse(words.letters, { text });
    const lat = degrees(first, text), lon = degrees(second, text);
    if (Math.abs(lat) <= 90 && Math.abs(lon) <= 180) return { lat, lon };
    const at = `${lat}, ${lon}`;
    return refuse(Math.abs(lat) <= 180 && Math.abs(lon) <= 90 ? words.swapped : words.range, { at, other: `${lon}, ${lat}` });
  };
  core.shown.readTyped = core.readTyped;
});
