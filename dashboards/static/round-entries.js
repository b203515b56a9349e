// What entries say, and what they come to. Nothing here knows the page, the network or the clock.

const SAYS = ["medium", "lid", "wiped", "water_ml", "looked_at_eggs", "treated", "remark", "skipped", "all_well"];
const ABOUT_BOX = ["medium", "lid", "wiped", "water_ml", "all_well"];

// An id as RFC 9562 writes one. The browser's own maker of them is there only for https.
export function newId() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = Array.from(bytes, (byte) => byte.toString(16).padStart(2, "0")).join("");
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join("-");
}

const HALF = /\p{Surrogate}/gu;

// The same without halves of characters, which cannot be sent: a keyboard or a paste may leave one behind.
export function sendable(fields) {
  return JSON.parse(JSON.stringify(fields, (_name, part) => (typeof part === "string" ? part.replace(HALF, "\ufffd") : part)));
}

// Which control of the page an entry is of. One that says several things at once is of none.
export function groupOf(entry) {
  const said = SAYS.filter((name) => entry[name]);
  if (entry.eggs?.length) {
    said.push("eggs");
  }
  return said.length === 1 ? said[0] : "";
}

// What the service has, then what it does not have yet, without what somebody corrected.
export function merged(known, local) {
  const ids = new Set(known.map((entry) => entry.id));
  const more = local.filter((entry) => !ids.has(entry.id));
  const said = new Map(local.map((entry) => [entry.id, entry.said]));
  return [...known.map((entry) => ({ ...entry, said: said.get(entry.id) })), ...more.sort((one, other) => one.seq - other.seq)];
}

export function standing(entries) {
  const counting = entries.filter((entry) => entry.status !== "refused");
  const corrected = new Set(counting.map((entry) => entry.corrects).filter(Boolean));
  return counting.filter((entry) => !entry.gone && !corrected.has(entry.id) && saysSomething(entry));
}

export function saysSomething(entry) {
  return SAYS.some((name) => entry[name]) || Boolean(entry.eggs?.length);
}

// As `findLast`, which phones that get no newer browser do not have.
function lastThat(list, test) {
  return [...list].reverse().find(test);
}

export function lastOf(entries, group, who) {
  return lastThat(standing(entries), (entry) => entry.who === who && groupOf(entry) === group);
}

// What the controls of a box show: of medium and lid what was said last by anybody, of the rest one's own.
export function stateOf(entries, who) {
  const all = standing(entries);
  const mine = all.filter((entry) => entry.who === who);
  const last = (name) => lastThat(all, (entry) => entry[name])?.[name] ?? "";
  const own = (name) => lastOf(entries, name, who)?.[name] ?? "";
  const looked = all.filter((entry) => !entry.skipped);
  const water = lastOf(entries, "water_ml", who);
  const well = lastThat(all, (entry) => entry.all_well);
  // Only eggs were spoken of: whoever opened the box has not said yet how medium and lid are.
  const isBegun =
    looked.some((entry) => entry.eggs?.length) &&
    !looked.some((entry) => ABOUT_BOX.some((name) => entry[name]));
  return {
    medium: last("medium") || (well && !well.through_lid ? "clumps" : ""),
    lid: last("lid") || (well ? "dry" : ""),
    wiped: mine.some((entry) => entry.wiped),
    looked_at_eggs: mine.some((entry) => entry.looked_at_eggs),
    water_ml: water?.water_ml ?? "",
    water_where: water?.water_where ?? "",
    treated: own("treated"),
    remark: own("remark"),
    skipped: own("skipped"),
    done: looked.length ? (isBegun ? "begun" : "seen") : all.length ? "skipped" : "open",
  };
}

// What eggs are by entries that the service has not told back yet.
export function eggsSaid(entries) {
  const said = new Map();
  for (const entry of standing(entries)) {
    for (const eggs of entry.status ? entry.eggs ?? [] : []) {
      for (const name of Array.isArray(eggs.which) ? eggs.which : []) {
        said.set(name, eggs.state);
      }
    }
  }
  return said;
}

// `names` gives the words of a value as they stand beside its control.
export function wordsOf(entry, names) {
  if (entry.words) {
    return entry.words;
  }
  if (!saysSomething(entry)) {
    return "taken back";
  }
  const parts = [
    entry.all_well && "all well",
    entry.medium && `medium ${names("medium", entry.medium)}`,
    entry.lid && `lid ${names("lid", entry.lid)}`,
    entry.wiped && "lid wiped",
    entry.water_ml && `water ${entry.water_ml} ml ${names("water_where", entry.water_where)}`.trim(),
    entry.looked_at_eggs && "eggs looked at, nothing found",
    ...(entry.eggs ?? []).map((eggs) => eggsWords(eggs, names)),
    entry.treated && `treated: ${entry.treated}`,
    entry.skipped && `left out: ${entry.skipped}`,
    entry.remark,
  ];
  return parts.filter(Boolean).join("; ");
}

function eggsWords(eggs, names) {
  const which = Array.isArray(eggs.which) ? `egg ${eggs.which.join(", ")}` : `${eggs.which} eggs`;
  return `${which}: ${names("egg_state", eggs.state)}${eggs.reason ? `, ${names("egg_reason", eggs.reason)}` : ""}`;
}

// What is missing before something can be said of eggs; empty for nothing.
export function eggsMissing(named, count, state, reason, note) {
  if (named.length && count) {
    return "Say which eggs, or how many of them, not both.";
  }
  if (!named.length && !/^\d{1,6}$/.test(count)) {
    return count ? "Write in digits how many eggs." : "Tap the eggs first, or say how many of them.";
  }
  if (!state) {
    return "Say what these eggs are.";
  }
  if (state === "removed" && !reason) {
    return "Say why they are removed.";
  }
  return reason === "other" && state === "removed" && !note ? "Say in the note what it was." : "";
}

// The fields of an entry that takes this one back.
export function takingBack(entry) {
  return { corrects: entry.id, ...(entry.trained_handler ? { trained_handler: true } : {}) };
}
