// Sends what is kept, one after the other, each until the service says that it has it. The service knows an entry by
// its id, so what is sent twice counts once.

import { endsAfter } from "./ends-after.js";
import { small } from "./round-places.js";
import { newId, sendable } from "./round-entries.js";
import { oneAtATime } from "./round-turns.js";

const FIRST_PAUSE_MS = 1_000;
const LONGEST_PAUSE_MS = 30_000;
const PATIENCE_MS = 15_000;
const PHOTO_PATIENCE_MS = 120_000;
// What the service could not take so often lets the others pass, and is tried again after a while.
const OFTEN = 3;
const ASIDE_MS = 60_000;
const NOT_FOR_THE_SERVICE = new Set(["status", "why", "said", "tried", "at_ms"]);

export class Sender {
  // `me`: who is signed in, with the guard of the session. `changed` is called whenever something is to be shown anew.
  // `arrived`: with something that the service answers in its own words: eggs, photos, corrections. `leaving`: before
  // somebody else is signed in here, so that what was typed is kept as entered by whoever typed it.
  constructor(store, me, changed, arrived = () => {}, leaving = () => {}) {
    this.store = store;
    this.me = me;
    this.changed = changed;
    this.arrived = arrived;
    this.leaving = leaving;
    this.isSignedOut = false;
    this.isCutOff = false;
    this.pauseMs = FIRST_PAUSE_MS;
    this.timer = 0;
    this.failed = new Map();
    this.looking = null;
    this.sendEntries = oneAtATime(() => this.sendAll("entries"));
    this.sendPhotos = oneAtATime(() => this.sendAll("photos"));
    window.addEventListener("online", () => this.soon());
    document.addEventListener("visibilitychange", () => document.hidden || this.soon());
  }

  async add(round, box, fields) {
    const entry = {
      id: newId(), round, box, who: this.me.who, device: device(), seq: nextNumber(), made_ms: this.moment(),
      status: "waiting", tried: this.isCutOff, ...sendable(fields),
    };
    await this.store.put("entries", entry);
    this.soon();
    return entry;
  }

  // The clock of a demo is another one than that of the phone: there it counts when something arrives.
  moment() {
    return this.me.isDemo ? null : Date.now();
  }

  // `clutch`: what the page showed in that box.
  async addPhoto(round, box, data, clutch) {
    const photo = {
      id: newId(), round, box, who: this.me.who, seq: nextNumber(), made_ms: this.moment(), data, status: "waiting", ...clutch,
    };
    await this.store.put("photos", photo);
    this.soon();
  }

  soon() {
    this.pauseMs = FIRST_PAUSE_MS;
    this.send();
  }

  // A photo may be on its way for minutes; no entry waits for it.
  async send() {
    clearTimeout(this.timer);
    await this.sendEntries();
    this.sendPhotos();
  }

  async sendAll(kind) {
    try {
      while (await this.sendOne(kind)) {
        this.pauseMs = FIRST_PAUSE_MS;
      }
    } catch {
      // What is kept could not be read or written just now.
      this.comeBack();
    } finally {
      this.changed();
    }
  }

  // True where another one may follow at once. A photo may be of a round that an entry begins.
  async sendOne(kind) {
    const [next] = await this.waiting(kind);
    if (next && (kind === "entries" || !(await this.waiting("entries")).length)) {
      return this.sendThis(kind, next);
    }
    this.comeBackForAside();
    return false;
  }

  async waiting(kind) {
    const kept = await this.store.all(kind);
    const mine = kept.filter((each) => each.status === "waiting" && each.who === this.me.who && !this.isAside(each));
    return mine.sort((one, other) => one.seq - other.seq);
  }

  isAside(each) {
    return (this.failed.get(each.id)?.until ?? 0) > performance.now();
  }

  comeBackForAside() {
    const untils = [...this.failed.values()].map((one) => one.until).filter((until) => until > performance.now());
    if (untils.length) {
      this.timer = setTimeout(() => this.send(), Math.min(...untils) - performance.now() + 1);
    }
  }

  // The service is there and failed at this very one. True where it lets the others pass.
  async setAside(kind, next, status) {
    const count = (this.failed.get(next.id)?.count ?? 0) + 1;
    const until = count < OFTEN ? 0 : performance.now() + ASIDE_MS;
    this.failed.set(next.id, { count, until });
    if (count >= OFTEN) {
      const { asked: _, ...kept } = next;
      const why = `The service could not take this (${status}). It is kept in this phone and tried again; tell the keeper.`;
      await this.store.put(kind, { ...kept, tried: true, why });
      this.changed();
    }
    return count >= OFTEN;
  }

  async sendThis(kind, next) {
    let answer;
    try {
      answer = await (kind === "entries" ? this.post(next) : this.postPhoto(next));
    } catch {
      return this.wait(kind, next);
    }
    this.isCutOff = false;
    if (answer.status === 401) {
      this.isSignedOut = true;
      return false;
    }
    if (answer.status >= 500 || answer.status === 429 || answer.status === 408) {
      return (answer.status >= 500 && (await this.setAside(kind, next, answer.status))) || this.wait(kind, next);
    }
    this.failed.delete(next.id);
    let said = {};
    try {
      said = await answer.json();
    } catch {
      // What is no JSON was answered by something in between.
      if (answer.ok) {
        return this.wait(kind, next);
      }
    }
    if (answer.status === 403 && !next.asked) {
      // The guard is that of an older session: whoever is signed in now has another one.
      return (await this.lookWhoIsHere()) ? this.sendAgain(kind, next) : this.wait(kind, next);
    }
    this.isSignedOut = false;
    await this.settle(kind, next, answer, said);
    this.changed();
    return true;
  }

  sendAgain(kind, next) {
    return next.who === this.me.who ? this.sendThis(kind, { ...next, asked: true }) : true;
  }

  async settle(kind, next, answer, said) {
    const { asked: _, why: __, ...kept } = next;
    if (answer.ok && ["stored", "already"].includes(said.result)) {
      await (kind === "photos"
        ? this.store.remove(kind, next.id)
        : this.store.put(kind, { ...kept, status: "stored", said: said.said ?? [] }));
      if (kind === "photos" || kept.eggs || kept.corrects) {
        this.arrived();
      }
      return;
    }
    const hint = typeof said.detail === "string" ? said.detail : said.hint ?? "";
    const why = said.reason ? `${said.reason}. ${hint}` : hint || `The service did not take it (${answer.status}).`;
    await this.store.put(kind, { ...kept, status: "refused", why });
  }

  async wait(kind, next) {
    this.isCutOff = true;
    // Who made them may be gone when they arrive. The one that was tried may have arrived all the same.
    for (const each of kind === "entries" ? await this.store.all(kind) : []) {
      if (each.status === "waiting" && each.who === next.who && !each.tried) {
        await this.store.put(kind, { ...each, tried: true });
      }
    }
    this.comeBack();
    return false;
  }

  comeBack() {
    clearTimeout(this.timer);
    this.timer = setTimeout(() => this.send(), this.pauseMs);
    this.pauseMs = Math.min(this.pauseMs * 2, LONGEST_PAUSE_MS);
  }

  post(entry) {
    const whole = Object.entries(entry).filter(([name]) => !NOT_FOR_THE_SERVICE.has(name) && name !== "asked");
    const body = JSON.stringify({ ...Object.fromEntries(whole), waited: Boolean(entry.tried) });
    return this.fetched("/rounds/entries", body, "application/json", PATIENCE_MS);
  }

  postPhoto(photo) {
    const { id, round, box, who, made_ms, clutch_id } = photo;
    // A photo that was kept by an older page has none.
    const more = { ...(clutch_id === undefined ? {} : { clutch_id }), ...(made_ms === null ? {} : { made_ms }) };
    const asked = new URLSearchParams({ id, round, box, who, ...more });
    return this.fetched(`/rounds/photos?${asked}`, photo.data, "image/jpeg", PHOTO_PATIENCE_MS);
  }

  fetched(address, body, type, patience) {
    const headers = { "Content-Type": type, Accept: "application/json", "Clutchwarden-Guard": this.me.guard };
    return fetch(address, { method: "POST", body, headers, cache: "no-store", signal: endsAfter(patience) });
  }

  // Asks who is signed in now, once for all who want to know; false where nobody can say.
  lookWhoIsHere() {
    this.looking ??= this.askWhoIsHere().finally(() => {
      this.looking = null;
    });
    return this.looking;
  }

  async askWhoIsHere() {
    try {
      const answer = await fetch("/rounds/who", { headers: { Accept: "application/json" }, cache: "no-store", signal: endsAfter(PATIENCE_MS) });
      this.isSignedOut = answer.status === 401;
      if (!answer.ok) {
        return false;
      }
      await this.becomes(await answer.json());
      return true;
    } catch {
      return false;
    }
  }

  // Whoever is signed in now, with the guard of the session.
  async becomes({ who, guard, may }) {
    if (who !== this.me.who) {
      await this.leaving();
    }
    Object.assign(this.me, { who, guard, may });
  }

  // Somebody else has this phone now, and sends what another one saw.
  async takeOver(who) {
    for (const kind of ["entries", "photos"]) {
      for (const each of await this.store.all(kind)) {
        if (each.status === "waiting" && each.who === who) {
          const more = kind === "entries" ? { seen_by: each.seen_by || who } : {};
          await this.store.put(kind, { ...each, ...more, who: this.me.who });
        }
      }
    }
    this.soon();
  }

  async tryAgain(entry) {
    const { why: _, ...kept } = entry;
    await this.store.put("entries", { ...kept, status: "waiting" });
    this.soon();
  }
}

function device() {
  const known = small.get("device") ?? newId();
  small.set("device", known);
  return known;
}

let lastNumber = 0;

// Rises with each entry, also where the clock of the phone is set back.
function nextNumber() {
  lastNumber = Math.max(lastNumber, Number(small.get("seq") ?? 0), 0) + 1;
  small.set("seq", String(lastNumber));
  return lastNumber;
}
