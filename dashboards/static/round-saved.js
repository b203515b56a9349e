// The line that says what has arrived and what waits, in this browser, with a shape and a word.

import { keepingFocus } from "./round-around.js";
import { mark } from "./round-entered.js";

const UNDO_MS = 20_000;

export class Saved {
  // `isQuiet`: not to be seen while there is nothing to do.
  constructor(place, sender, isQuiet = false) {
    this.place = place;
    this.isQuiet = isQuiet;
    this.sender = sender;
    this.said = place.querySelector("#saved-said");
    this.more = place.querySelector("#saved-more");
    this.undo = null;
    this.undos = 0;
    this.warned = "";
    this.shown = "";
  }

  // `isLoading`: the boxes are not kept here yet, so that nothing would go on without a connection.
  show(entries, photos, who, isLoading = false) {
    const all = [...entries, ...photos];
    const waiting = all.filter((each) => each.status === "waiting" && each.who === who).length;
    const others = new Map();
    for (const each of all.filter((one) => one.status === "waiting" && one.who !== who)) {
      others.set(each.who, (others.get(each.who) ?? 0) + 1);
    }
    const refused = all.filter((each) => each.status === "refused");
    const [shape, text] = this.standing(waiting, isLoading, refused.length, others.size);
    const now = JSON.stringify([who, [...others], refused.map((each) => each.id), this.undo?.number, this.warned, this.sender.isSignedOut && [waiting, location.href]]);
    const isNothing = shape === "egg" && !others.size && !refused.length && !this.undo && !this.warned && !this.sender.isSignedOut;
    this.place.hidden = this.isQuiet && isNothing;
    this.place.dataset.waiting = String(waiting);
    if (this.said.textContent !== ` ${text}`) {
      this.said.replaceChildren(mark(shape), ` ${text}`);
    }
    if (now === this.shown) {
      return;
    }
    this.shown = now;
    const lines = [...others].map(([name, count]) => this.ofAnother(name, count, who));
    const shown = [...this.undoLine(), ...this.warning(), ...this.signIn(waiting), ...lines, ...refused.map((each) => this.refusal(each))];
    keepingFocus(this.more, () => this.more.replaceChildren(...shown));
  }

  standing(waiting, isLoading, refused, others) {
    if (this.sender.store.keepsNothing) {
      return ["caution", `This browser keeps nothing: leave this page only when all is stored. Waiting: ${waiting}.`];
    }
    if (waiting === 0 && this.sender.store.isHalf) {
      return ["caution", "What this phone kept before cannot be read just now, and may wait in it still. Load the page again in a moment."];
    }
    if (waiting === 0 && isLoading) {
      return this.sender.isCutOff ? ["caution", "No connection, and the other boxes are not in this phone."] : ["gap", "Loading the boxes into this phone."];
    }
    if (waiting === 0 && refused && !this.sender.isCutOff) {
      return ["caution", `Not taken: ${refused}, see below. All else of yours is stored.`];
    }
    if (waiting === 0 && others && !this.sender.isCutOff) {
      return ["gap", "All of yours is stored. What others entered waits, see below."];
    }
    if (waiting === 0) {
      return this.sender.isCutOff ? ["gap", "No connection. What you enter is kept in this phone."] : ["egg", "All is stored."];
    }
    const kept = "It is kept in this phone.";
    return this.sender.isSignedOut || this.sender.isCutOff ? ["gap", `Waiting to be sent: ${waiting}. ${kept}`] : ["gap", `Waiting to be sent: ${waiting}.`];
  }

  signIn(waiting) {
    if (!this.sender.isSignedOut) {
      return [];
    }
    const link = document.createElement("a");
    link.className = "far";
    link.id = "sign-in-again";
    link.href = `/sign-in?to=${encodeURIComponent(location.pathname + location.search)}`;
    link.textContent = waiting ? "You are not signed in any more. Sign in, then what waits is sent." : "You are not signed in any more. Sign in again.";
    return [line(link)];
  }

  ofAnother(name, count, who) {
    const text = `${count} ${count === 1 ? "entry" : "entries"} by ${name} ${count === 1 ? "waits" : "wait"} here until ${name} signs in on this phone.`;
    const button = document.createElement("button");
    button.type = "button";
    button.className = "quiet take-over";
    button.textContent = `Send as ${who}, seen by ${name}`;
    button.addEventListener("click", () => this.sender.takeOver(name));
    return who && !this.sender.isSignedOut ? line(mark("gap"), ` ${text} `, button) : line(mark("gap"), ` ${text}`);
  }

  refusal(each) {
    const link = document.createElement("a");
    link.className = "far";
    link.href = `/rounds/${each.round}/box/${each.box}`;
    link.textContent = each.box;
    const drop = document.createElement("button");
    drop.type = "button";
    drop.className = "quiet drop-photo";
    drop.textContent = "Drop the photo";
    drop.addEventListener("click", async () => {
      await this.sender.store.remove("photos", each.id);
      this.sender.changed();
    });
    return line(mark("caution"), ` Not taken: ${each.why} `, link, ...(each.data ? [" ", drop] : []));
  }

  offerUndo(text, work) {
    const undo = { text, work, number: ++this.undos };
    this.undo = undo;
    setTimeout(() => {
      if (this.undo === undo) {
        this.undo = null;
        this.sender.changed();
      }
    }, UNDO_MS);
  }

  // What was not kept of boxes that are on the page no more, until somebody has read it; empty once they have.
  warn(text) {
    this.warned = text && [this.warned, text].filter(Boolean).join(" ");
    this.sender.changed();
  }

  warning() {
    const read = document.createElement("button");
    read.type = "button";
    read.className = "quiet warned";
    read.textContent = "Understood";
    read.addEventListener("click", () => this.warn(""));
    return this.warned ? [line(mark("caution"), ` Not kept: ${this.warned} `, read)] : [];
  }

  undoLine() {
    if (this.undo === null) {
      return [];
    }
    const undo = this.undo;
    const button = document.createElement("button");
    button.type = "button";
    button.className = "quiet undo";
    button.textContent = "Undo";
    button.addEventListener("click", async () => {
      // Once, also by a double tap while it is being kept.
      if (this.undo === undo) {
        this.undo = null;
        await undo.work();
        this.sender.changed();
      }
    });
    return [line(`${undo.text} `, button)];
  }
}

function line(...parts) {
  const one = document.createElement("p");
  one.append(...parts);
  return one;
}
