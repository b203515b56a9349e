// What was entered for a box in this round, line by line, each with what became of it and what can be done about it.

import { saysSomething, standing, wordsOf } from "./round-entries.js";

const STANDING_OF = { stored: ["egg", "stored"], waiting: ["gap", "waiting to be sent"], refused: ["caution", "not taken"] };

// `names` gives the words of a value as they stand beside its control.
export function enteredLines(entries, names) {
  const stands = new Set(standing(entries).map((entry) => entry.id));
  return entries.filter((entry) => stands.has(entry.id) || isToBeSeen(entry)).map((entry) => line(entry, stands.has(entry.id), names));
}

// Says at a place what is wrong with its field, or that it is kept; empty for nothing.
export function tellBeside(place, text, isKept = false) {
  place?.querySelectorAll(".error, .kept").forEach((line) => line.remove());
  if (text && place) {
    const line = part("p", isKept ? "kept" : "error", ` ${text}`);
    line.setAttribute("role", isKept ? "status" : "alert");
    line.prepend(mark(isKept ? "egg" : "caution"));
    place.append(line);
  }
}

function isToBeSeen(entry) {
  const isTakenBack = entry.status === "waiting" && !saysSomething(entry);
  return entry.status === "refused" || entry.said?.length > 0 || isTakenBack;
}

function line(entry, stands, names) {
  const one = document.createElement("li");
  const [shape, word] = STANDING_OF[entry.status ?? "stored"];
  const words = wordsOf(entry, names);
  one.className = entry.status === "refused" ? "refused" : "";
  one.append(mark(shape), ` ${words} `);
  one.append(part("span", "fine", `${entry.who}, ${word}${entry.seen_by ? `, seen by ${entry.seen_by}` : ""}`));
  [...(entry.said ?? []), entry.why].filter(Boolean).forEach((text) => one.append(part("p", "why", text)));
  if (entry.status === "refused") {
    one.append(button("Try again", "try-again", entry, words), button("Drop it", "drop", entry, words));
  } else if (entry.said?.length) {
    one.append(button("Understood", "understood", entry, words));
  } else if (stands) {
    one.append(button("Take back", "take-back", entry, words));
  }
  return one;
}

function button(text, what, entry, words) {
  const one = part("button", "quiet", text);
  one.type = "button";
  one.dataset.what = what;
  one.dataset.id = entry.id;
  one.append(part("span", "spoken", `: ${words}`));
  return one;
}

function part(kind, name, text) {
  const one = document.createElement(kind);
  one.className = name;
  one.textContent = text;
  return one;
}

export function mark(shape) {
  const drawing = document.createElementNS("http://www.w3.org/2000/svg", "svg");
  const use = document.createElementNS("http://www.w3.org/2000/svg", "use");
  drawing.setAttribute("class", "shape");
  drawing.setAttribute("aria-hidden", "true");
  use.setAttribute("href", `#shape-${shape}`);
  drawing.append(use);
  return drawing;
}
