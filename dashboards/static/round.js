// Rounds with scripts: the whole walk is loaded once and kept, so that it goes on without a connection; what is entered
// is kept in this browser until the service has it.

import { endsAfter } from "./ends-after.js";
import { forgetOldWalks, isOf, keepAnew, keepingFocus, letItBeOpenedAnyTime, showOver } from "./round-around.js";
import { Box } from "./round-box.js";
import { takingBack } from "./round-entries.js";
import { boxIn, List } from "./round-list.js";
import { Saved } from "./round-saved.js";
import { Sender } from "./round-send.js";
import { openStore } from "./round-store.js";
import { showWhatWaits, whoIsHere } from "./round-waits.js";

const LOOK_AGAIN_MS = 20_000;
const SOON_MS = 500;
const PATIENCE_MS = 20_000;
// So many boxes are named that are here already: an address has a longest length.
const MOST_MARKS = 600;
const main = document.getElementById("round");
const me = whoIsHere(main);
const numbers = main.dataset.walk;
const base = `/rounds/${numbers}`;
const keyIn = (address) => boxIn(base, address);
const places = { walk: document.getElementById("walk"), box: document.getElementById("box") };

class Round {
  constructor(store) {
    this.store = store;
    this.boxes = new Map();
    this.known = new Map();
    this.local = [];
    this.added = 0;
    this.listed = "";
    this.over = null;
    this.sender = new Sender(store, me, () => this.look(), () => this.fetchSoon(), () => this.box.commit());
    this.saved = new Saved(document.getElementById("saved"), this.sender);
    this.list = new List(places.walk);
    this.box = new Box(places.box, {
      me,
      add: (round, box, fields, kept) => this.add(round, box, fields, kept),
      takeBack: (round, box, entry, kept) => this.add(round, box, takingBack(entry), kept),
      addPhoto: (...asked) => this.sender.addPhoto(...asked).then(() => this.look()),
      answer: (what, entry) => this.answer(what, entry),
      next: (...asked) => this.next(...asked),
      warn: (text) => this.saved.warn(text),
    });
  }

  async start() {
    document.documentElement.classList.add("with-scripts");
    this.box.article?.setAttribute("data-who", me.who);
    Object.values(places).forEach((place) => place.addEventListener("click", (event) => this.follow(event)));
    window.addEventListener("popstate", () => this.back());
    document.addEventListener("click", (event) => event.target.closest("nav a[href]") && !this.mayLeave() && event.preventDefault());
    window.addEventListener("online", () => this.fetchAll());
    document.addEventListener("visibilitychange", () => document.hidden || this.fetchAll());
    setInterval(() => document.hidden || this.fetchAll(), LOOK_AGAIN_MS);
    try {
      await this.showAll();
    } finally {
      // Whatever cannot be shown, what waits is sent.
      this.sender.soon();
    }
  }

  async showAll() {
    const kept = await this.store.get("walks", numbers);
    if (kept?.who === me.who) {
      this.takeIn(kept);
    }
    this.go(true);
    await this.look();
    await this.fetchAll();
  }

  // What this browser keeps, read anew and shown.
  async look() {
    let photos, added;
    do { // Once more where somebody entered something while the database answered.
      added = this.added;
      [this.local, photos] = await Promise.all([this.store.all("entries"), this.store.all("photos")]);
    } while (added !== this.added);
    this.saved.show(this.local, photos, me.who, !this.listed);
    showOver(this.over);
    if (this.listed) {
      this.list.mark(this.known, this.local.filter((entry) => isOf(numbers, entry)), me.who);
    }
    if (this.box.article && !places.box.hidden) {
      this.box.show(this.known.get(this.box.key) ?? [], this.local, photos);
      this.box.article.querySelector(".box-progress").textContent = this.list.progress ? `${this.list.progress} done` : "";
    }
  }

  async add(round, box, fields, kept = () => {}) {
    const entry = await this.sender.add(round, box, fields);
    this.added += 1;
    kept();
    await this.look();
    return entry;
  }

  async answer(what, entry) {
    if (what === "take-back") {
      await this.add(this.box.round, this.box.key, takingBack(entry));
    } else if (what === "try-again") {
      await this.sender.tryAgain(entry);
    } else if (what === "drop") {
      await this.store.remove("entries", entry.id);
    } else if (what === "understood") {
      const kept = await this.store.get("entries", entry.id);
      if (kept) {
        await this.store.put("entries", { ...kept, said: [] });
      }
      this.fetchSoon();
    }
    await this.look();
  }

  // The whole walk

  fetchSoon() {
    clearTimeout(this.soon);
    // Not by an answer that is on its way already, which may be older.
    this.soon = setTimeout(() => Promise.resolve(this.fetching).finally(() => this.fetchAll()), SOON_MS);
  }

  fetchAll() {
    this.fetching ??= this.fetchOnce().finally(() => { this.fetching = null; });
    return this.fetching;
  }

  async fetchOnce() {
    try {
      const have = [...this.boxes.values()].map((box) => box.mark).slice(0, MOST_MARKS).join(",");
      const answer = await fetch(`${base}/all?have=${have}`, { headers: { Accept: "application/json" }, cache: "no-store", signal: endsAfter(PATIENCE_MS) });
      this.sender.isSignedOut = answer.status === 401;
      if (answer.ok) {
        await this.takeNew(await answer.json());
        keepAnew(base);
      }
    } catch {
      this.sender.isCutOff = true;
    }
    await this.look();
  }

  async takeNew(whole) {
    await this.sender.becomes(whole);
    this.sender.isCutOff = false;
    whole.boxes = whole.boxes.map((box) => ({ ...this.boxes.get(box.key), ...box }));
    const { guard: _, ...kept } = whole;
    this.takeIn(whole);
    await this.store.put("walks", { id: numbers, kept_ms: Date.now(), ...kept });
    await forgetOldWalks(this.store, numbers, me.who);
    await this.forgetWhatIsKnown();
    const now = this.boxes.get(this.box.key);
    const isOther = this.box.article?.dataset.who !== me.who;
    if (now && !places.box.hidden && (isOther || (now.mark !== this.box.article.dataset.mark && !this.box.isBeingTyped))) {
      this.putBox(now);
    }
    isOther && this.sender.soon();
  }

  takeIn(whole) {
    this.boxes = new Map(whole.boxes.map((box) => [box.key, box]));
    this.known = new Map(whole.boxes.map((box) => [box.key, box.entries]));
    this.over = whole.over ?? null;
    if (this.listed !== whole.list) {
      this.listed = whole.list;
      this.list.show(whole.list);
    }
  }

  // What the service has told back needs no keeping, unless somebody has to read something about it.
  async forgetWhatIsKnown() {
    for (const entry of await this.store.all("entries")) {
      const ids = (this.known.get(entry.box) ?? []).map((known) => known.id);
      if (entry.status === "stored" && !entry.said?.length && (!isOf(numbers, entry) || ids.includes(entry.id))) {
        await this.store.remove("entries", entry.id);
      }
    }
  }

  // To and fro

  follow(event) {
    const link = event.target.closest("a[href]");
    if (!link || event.ctrlKey || event.metaKey || event.shiftKey || !this.boxes.size) {
      return;
    }
    const address = new URL(link.href);
    if (link.dataset.order) {
      event.preventDefault();
      this.list.order = link.dataset.order;
      history.replaceState(null, "", address.pathname + address.search);
      this.look();
    } else if (link.matches(".next")) {
      event.preventDefault();
      this.next(this.box.key);
    } else if (keyIn(address) !== null && this.boxes.has(keyIn(address))) {
      event.preventDefault();
      this.move(address.pathname);
    } else if (address.pathname === base) {
      event.preventDefault();
      this.move(base);
    }
  }

  async next(key, said = "", entry = undefined, here = location.pathname) {
    await this.box.commit();
    if (said) {
      this.saved.offerUndo(said, () => this.add(entry.round, entry.box, { corrects: entry.id }));
    }
    await this.look();
    const isGone = () => location.pathname !== here; // Whoever has gone elsewhere meanwhile stays there.
    if (isGone() || !this.mayLeave()) {
      return;
    }
    if (!this.listed) {
      await this.fetchAll();
    }
    if (isGone()) {
      return;
    }
    if (!this.listed) {
      // The walk is not here yet, so the page itself says what comes next.
      location.assign(this.box.article.querySelector("a.next").href);
      return;
    }
    const row = this.list.after(key);
    this.move(row ? new URL(row.querySelector("a").href).pathname : base);
  }

  mayLeave() {
    return !this.box.article || places.box.hidden || this.box.isWhole();
  }

  async move(path) {
    await this.box.commit();
    if (!this.mayLeave()) {
      return;
    }
    const order = this.list.order === "stand" ? "" : `?order=${this.list.order}`;
    history.pushState(null, "", path + order);
    await this.go();
  }

  // By the phone's own button. What would be lost holds the page as the way on does.
  async back() {
    await this.box.commit();
    return this.mayLeave() ? this.go() : history.pushState(null, "", this.at);
  }

  async go(isFirst = false) {
    const key = keyIn(location);
    const box = key === null ? undefined : this.boxes.get(key);
    if (!isFirst) {
      await this.box.commit();
    }
    if (key !== null && !box) {
      // The page itself has it, or will be loaded anew.
      return isFirst || location.reload();
    }
    this.at = location.pathname + location.search;
    places.walk.hidden = key !== null;
    places.box.hidden = key === null;
    if (box && !(isFirst && this.box.key === key)) {
      this.putBox(box);
      this.box.article.classList.replace("come-back", "just-come");
    }
    await this.look();
    if (!isFirst) {
      scrollTo(0, 0);
      (key === null ? document.getElementById("progress") : this.box.article.querySelector("h1")).focus({ preventScroll: true });
      document.title = key === null ? `Round: ${this.list.progress}` : this.box.article.dataset.label;
    }
  }

  putBox(box) {
    keepingFocus(places.box, () => {
      places.box.innerHTML = box.html;
      Object.assign(this.box.article.dataset, { who: me.who, mark: box.mark });
      this.box.article.classList.add("come-back");
      this.box.show(this.known.get(box.key) ?? [], this.local);
    }, this.box.key === box.key);
  }
}

let moved = () => {};
const store = openStore(() => moved());
if (places.walk) {
  const round = new Round(store);
  moved = () => round.sender.soon();
  await round.start();
} else {
  await showWhatWaits(store, main, me, (works) => { moved = works; });
}
await letItBeOpenedAnyTime(numbers && base);
