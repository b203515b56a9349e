// What is said of the eggs of a box: which ones were tapped, then what they are, then, if somebody likes, a note on them.

import { eggsMissing } from "./round-entries.js";
import { small } from "./round-places.js";

export class EggsOfBox {
  constructor(box) {
    this.box = box;
    // What was said last on this page, so that a note that is typed after it belongs to it.
    this.last = null;
  }

  get named() {
    return [...this.box.article.querySelectorAll("[name=egg]:checked")].map((egg) => egg.value);
  }

  get count() {
    return this.box.control("egg_count").value.trim();
  }

  get note() {
    return this.box.control("egg_note").value.trim();
  }

  get isBegun() {
    if (!this.box.article || !this.box.control("egg_count")) {
      return false;
    }
    return this.named.length > 0 || this.count !== "" || this.box.chosen("egg_state") !== "";
  }

  // `isAsked`: say what is missing.
  say(isAsked) {
    const { box, named, count, note } = this;
    const [state, reason] = [box.chosen("egg_state"), box.chosen("egg_reason")];
    if (isAsked && !this.isBegun && !note && this.isLast) {
      // The tap on what they are has kept them; the button comes after it.
      return this.sayKept();
    }
    const missing = eggsMissing(named, count, state, reason, note);
    box.tell("eggs", isAsked ? missing : "");
    if (missing) {
      return;
    }
    const eggs = { state, which: named.length ? named : Number(count), ...(note ? { note } : {}), ...(state === "removed" ? { reason } : {}) };
    this.keep({ key: box.key, round: box.round, eggs }, "");
    for (const each of box.article.querySelectorAll("[name=egg], [name=egg_state], [name=egg_reason]")) {
      each.checked = false;
    }
    box.control("egg_count").value = "";
    this.clearNote();
    this.sayKept();
  }

  // Whether what was said last is of the box that is on the page, and stands.
  get isLast() {
    const { box, last } = this;
    const isUndone = (each) => each.corrects === last.id || (each.id === last.id && each.status === "refused");
    return last?.key === box.key && last.round === box.round && !(last.id && box.entries.some(isUndone));
  }

  // What was taken back, or not taken by the service, is not to be called kept.
  show() {
    const told = this.box.article.querySelector("[data-field=eggs] :is(.kept, .error)");
    if (this.isLast) {
      told || this.sayKept();
    } else if (told?.matches(".kept")) {
      told.remove();
    }
  }

  sayKept() {
    const { which, state } = this.last.eggs;
    const ofWhich = which.length === undefined ? `${which} of the eggs` : `${which.length === 1 ? "egg" : "eggs"} ${which.join(", ")}`;
    this.box.tell("eggs", `Kept: ${ofWhich}, ${this.box.words("egg_state", state).toLowerCase()}.`, true);
  }

  keep(said) {
    const { box } = this;
    this.last = said;
    const fields = { eggs: [said.eggs], ...(said.corrects ? { corrects: said.corrects } : {}) };
    box.say(box.control("egg_note"), fields, "").then((entry) => {
      said.id = entry.id;
    });
  }

  // A note was typed. The field stands below the states, so that it often comes after what it is about.
  noted() {
    const { box, note } = this.box.control("egg_note") ? this : {};
    if (!note || this.isBegun) {
      return note ? this.say(false) : undefined;
    }
    if (!this.isLast) {
      return undefined;
    }
    this.clearNote();
    return box.turns.take(() => {
      const before = this.last;
      const more = { ...before, eggs: { ...before.eggs, note }, corrects: before.id };
      this.last = more;
      return box.hands.add(more.round, more.key, { eggs: [more.eggs], corrects: more.corrects, ...box.clutch }).then((entry) => {
        more.id = entry.id;
      });
    });
  }

  clearNote() {
    this.box.control("egg_note").value = "";
    small.remove(this.box.draft("egg_note"));
  }

  // False where something of eggs was begun that would be lost by going on; says what is missing.
  isWhole() {
    const { box } = this;
    if (!box.control("egg_note") || !box.hands.me.may || (!this.isBegun && !this.note)) {
      return true;
    }
    const missing = eggsMissing(this.named, this.count, box.chosen("egg_state"), box.chosen("egg_reason"), this.note);
    box.tell("eggs", `Not kept yet, so this box stays open: ${missing || "press Save for these eggs."} Or clear what is chosen here.`);
    box.article.querySelector("[data-field=eggs] .error").scrollIntoView({ block: "center" });
    return false;
  }
}
