// The list of boxes: what is done by what this browser knows, in the order that somebody chose.

import { merged, stateOf } from "./round-entries.js";

const MARKS = {
  open: ["ring", "to do", "plain"],
  begun: ["gap", "begun: say medium and lid", "plain"],
  seen: ["egg", "done", "well"],
  skipped: ["untold", "left out", "plain"],
};
const OPEN = ["open", "begun"];

export class List {
  constructor(place) {
    this.place = place;
    this.order = new URLSearchParams(location.search).get("order") ?? "stand";
  }

  get rows() {
    return [...this.place.querySelectorAll("#rows > li[data-key]")];
  }

  show(html) {
    const made = document.createElement("template");
    made.innerHTML = html;
    if (made.innerHTML === this.place.innerHTML) {
      // It stays: a finger may be on it.
      return;
    }
    const focused = document.activeElement?.closest("#walk") ? document.activeElement : null;
    const key = focused?.closest("li")?.dataset.key;
    const id = focused?.id;
    this.place.innerHTML = html;
    const again = key ? this.rows.find((row) => row.dataset.key === key)?.querySelector("a") : document.getElementById(id ?? "");
    again?.focus({ preventScroll: true });
  }

  // `known`: entries that the service has, by box; `local`: all that this browser keeps.
  mark(known, local, who) {
    for (const row of this.rows) {
      const here = local.filter((entry) => entry.box === row.dataset.key);
      const { done: found } = stateOf(merged(known.get(row.dataset.key) ?? [], here), who);
      // What is not to be opened was seen through its lid, as far as it can be.
      const done = found === "begun" && row.dataset.venomous ? "seen" : found;
      if (row.dataset.done !== done) {
        row.dataset.done = done;
        const [shape, word, tone] = MARKS[done];
        const flag = row.querySelector(".flag");
        flag.className = `flag tone-${tone}`;
        flag.querySelector("use").setAttribute("href", `#shape-${shape}`);
        flag.querySelector(".word").textContent = word;
      }
    }
    this.arrange();
    const counted = this.rows.filter((row) => !row.dataset.empty);
    const done = counted.filter((row) => !OPEN.includes(row.dataset.done)).length;
    this.progress = `${done} of ${counted.length}`;
    const head = document.getElementById("progress");
    if (head) {
      head.textContent = `${this.progress} done`;
    }
    this.showWayOn();
  }

  arrange() {
    const list = document.getElementById("rows");
    const by = this.order === "need" ? "rank" : "stand";
    const rows = this.rows.sort((one, other) => one.dataset[by] - other.dataset[by]);
    if (rows.some((row, at) => list.children[at] !== row)) {
      list.append(...rows);
    }
    rows.forEach((row) => {
      row.hidden = this.order === "short" && !row.dataset.short;
    });
    for (const link of this.place.querySelectorAll("[data-order]")) {
      link.toggleAttribute("aria-current", link.dataset.order === this.order);
      if (link.dataset.order === this.order) {
        link.setAttribute("aria-current", "true");
      }
    }
  }

  showWayOn() {
    const link = document.getElementById("go-on");
    const next = this.after("");
    if (link && next) {
      link.href = next.querySelector("a").getAttribute("href");
      link.textContent = "Go on";
    } else if (link) {
      link.href = document.getElementById("to-end").getAttribute("href");
      link.textContent = "All are done: to the end";
    }
  }

  // The next box that is open, from this one on and then from the start; by need from the start at once.
  after(key) {
    const rows = this.rows.filter((row) => !row.hidden);
    const at = this.order === "need" ? 0 : rows.findIndex((row) => row.dataset.key === key) + 1;
    const later = [...rows.slice(at), ...rows.slice(0, at)];
    return later.find((row) => OPEN.includes(row.dataset.done) && !row.dataset.empty && row.dataset.key !== key);
  }
}

// The box that an address of a walk leads to; null for the list.
export function boxIn(base, address) {
  const start = `${base}/box/`;
  return address.pathname.startsWith(start) ? decodeURIComponent(address.pathname.slice(start.length)) : null;
}
