// One box under a thumb: every touch is an entry of its own, kept at once; a second touch corrects the first.

import { keepingFocus } from "./round-around.js";
import { EggsOfBox } from "./round-eggs.js";
import { enteredLines, tellBeside } from "./round-entered.js";
import { eggsSaid, lastOf, merged, stateOf } from "./round-entries.js";
import { heldOpen, showWaiting, smallPhoto } from "./round-photo.js";
import { small } from "./round-places.js";
import { Presses, Turns } from "./round-turns.js";
import { WaterOfBox } from "./round-water.js";

const TEXTS = ["treated", "remark", "skipped"];
const TICKS = ["wiped", "looked_at_eggs"];
const TWICE_MS = 600;

export class Box {
  // `hands` has what the box asks for: add, takeBack, drop, tryAgain, understood, addPhoto, next, me.
  constructor(place, hands) {
    this.place = place;
    this.hands = hands;
    this.known = [];
    this.local = [];
    this.photos = [];
    this.turns = new Turns();
    this.eggs = new EggsOfBox(this);
    this.water = new WaterOfBox(this);
    this.presses = new Presses();
    this.answers = new Presses(TWICE_MS);
    place.addEventListener("change", (event) => this.changed(event.target));
    place.addEventListener("input", (event) => this.typed(event.target));
    place.addEventListener("click", (event) => this.clicked(event));
    place.addEventListener("submit", (event) => this.submitted(event));
    document.addEventListener("visibilitychange", () => document.hidden && this.commit());
  }

  get article() {
    return this.place.querySelector("article.box");
  }

  get key() {
    return this.article?.dataset.key ?? "";
  }

  get round() {
    return Number(this.article.dataset.round);
  }

  get entries() {
    return merged(this.known, this.local);
  }

  // The clutch that the page shows, 0 for an empty box.
  get clutch() {
    return { clutch_id: Number(this.article.dataset.clutch) };
  }

  control(name) {
    return this.article.querySelector(`[name="${name}"]`);
  }

  chosen(name) {
    return this.article.querySelector(`[name="${name}"]:checked`)?.value ?? "";
  }

  get isBeingTyped() {
    const here = document.activeElement;
    const isText = here?.matches("input[type=text], textarea, input:not([type])") && this.place.contains(here);
    const isOpen = Boolean(this.article?.querySelector("details.by-count[open], details.trained[open]"));
    return isText || isOpen || this.eggs.isBegun || this.water.isWrong || this.turns.areOpen;
  }

  // Fills the controls with what stands, and lists what was entered.
  show(known, local, photos = this.photos) {
    heldOpen(this);
    this.photos = photos;
    this.known = known;
    this.local = local.filter((entry) => entry.box === this.key && entry.round === this.round);
    // What somebody has just tapped stays as it is tapped.
    if (!this.turns.areOpen) {
      this.fillAll();
    }
    this.showEggs();
    this.showTrained();
    this.showEntered();
    showWaiting(this, photos);
  }

  fillAll() {
    const state = stateOf(this.entries, this.hands.me.who);
    for (const name of ["medium", "lid", "water_where"]) {
      for (const each of this.article.querySelectorAll(`[name="${name}"]`)) {
        each.checked = state[name] ? each.value === state[name] : name === "water_where" && each.checked;
      }
    }
    TICKS.forEach((name) => this.fill(name, (field) => { field.checked = state[name]; }));
    this.fill("egg_note", (field) => this.fillText(field, small.get(this.draft("egg_note")) ?? field.value));
    this.fill("water_ml", (field) => this.water.isWrong || this.fillText(field, String(state.water_ml)));
    TEXTS.forEach((name) => this.fill(name, (field) => this.fillText(field, small.get(this.draft(name)) ?? state[name])));
  }

  fill(name, work) {
    const field = this.control(name);
    if (field) {
      work(field);
    }
  }

  fillText(field, text) {
    if (document.activeElement !== field) {
      field.value = text;
    }
  }

  showEggs() {
    this.eggs.show();
    const said = eggsSaid(this.entries);
    for (const chip of this.article.querySelectorAll("[data-egg]")) {
      const state = said.get(chip.dataset.egg);
      if (state) {
        chip.dataset.state = state;
        chip.querySelector(".is").textContent = this.words("egg_state", state);
      }
    }
  }

  showTrained() {
    const hand = this.article.querySelector("fieldset.hand");
    if (hand) {
      hand.disabled = !this.control("trained_handler").checked;
    }
  }

  words(name, value) {
    const control = value && this.article.querySelector(`[name="${name}"][value="${value}"]`);
    return control ? control.parentElement.textContent.trim() : value ?? "";
  }

  // What is right as it is stays, since a finger or the keyboard may be on it.
  showEntered() {
    const place = this.article.querySelector(".entered");
    const lines = enteredLines(this.entries, (name, value) => this.words(name, value));
    if (place.innerHTML !== lines.map((each) => each.outerHTML).join("")) {
      keepingFocus(place, () => place.replaceChildren(...lines));
    }
  }

  // What the controls say

  say(control, fields, group) {
    const { round, key, clutch } = this;
    const trained = control?.closest(".hand") ? { trained_handler: true } : {};
    return this.turns.take((kept) => {
      const before = group && key === this.key ? lastOf(this.entries, group, this.hands.me.who) : undefined;
      return this.hands.add(round, key, { ...fields, ...clutch, ...trained, ...(before ? { corrects: before.id } : {}) }, kept);
    });
  }

  unsay(group) {
    const { round, key } = this;
    return this.turns.take((kept) => {
      const before = key === this.key ? lastOf(this.entries, group, this.hands.me.who) : undefined;
      return before ? this.hands.takeBack(round, key, before, kept) : undefined;
    });
  }

  changed(control) {
    const { name, value } = control;
    if (name === "medium" || name === "lid") {
      this.say(control, { [name]: value }, name);
    } else if (TICKS.includes(name)) {
      control.checked ? this.say(control, { [name]: true }, name) : this.unsay(name);
    } else if (name === "water_ml" || name === "water_where") {
      this.water.say(control);
    } else if (TEXTS.includes(name)) {
      this.commit();
    } else if (name === "egg_note") {
      this.eggs.noted();
    } else if (name === "egg_state" || name === "egg_reason") {
      this.eggs.say(false);
    } else if (name === "trained_handler") {
      this.showTrained();
    } else if (name === "photo") {
      this.takePhoto(control);
    }
  }

  typed(control) {
    if (TEXTS.includes(control.name) || control.name === "egg_note") {
      small.set(this.draft(control.name), control.value);
    }
  }

  draft(name) {
    return `draft:${this.round}:${this.key}:${this.hands.me.who}:${name}`;
  }

  // Keeps what stands in the text fields of the box. Called also when somebody leaves it.
  commit() {
    this.committing = (this.committing ?? Promise.resolve()).catch(() => {}).then(() => this.keepTexts());
    return this.committing;
  }

  async keepTexts() {
    await this.turns.last;
    if (!this.article || !this.hands.me.may) {
      return;
    }
    this.eggs.noted();
    await this.turns.last;
    const state = stateOf(this.entries, this.hands.me.who);
    for (const name of TEXTS) {
      const field = this.control(name);
      const text = field?.value.trim() ?? "";
      const draft = this.draft(name);
      if (field && text !== state[name]) {
        await (text ? this.say(field, { [name]: text }, name) : this.unsay(name));
      }
      small.remove(draft);
    }
    await this.water.keep(state.water_ml);
  }

  // While it is made small another box, or another clutch, may come on the page.
  async takePhoto(control, { round, key, clutch } = this) {
    const [file] = control.files;
    if (!file) {
      return;
    }
    const isHere = () => !this.place.hidden && this.round === round && this.key === key;
    if (isHere()) {
      this.tell("photo", "");
    }
    try {
      await this.hands.addPhoto(round, key, await smallPhoto(file), clutch);
    } catch (error) {
      isHere() ? this.tell("photo", error.message) : this.hands.warn(`${key}: ${error.message}`);
    }
    control.value = "";
  }

  // Says beside a field what is wrong with it, or that it is kept; empty for nothing.
  tell(field, text, isKept = false) {
    tellBeside(this.article.querySelector(`[data-field="${field}"]`), text, isKept);
  }

  clicked(event) {
    const button = event.target.closest("button[type=button]");
    if (!button) {
      return;
    }
    const { ml, fill, what, id } = button.dataset;
    if (ml) {
      this.water.step(button);
    } else if (fill) {
      this.control(fill).value = button.textContent.trim();
      this.commit();
    } else if (what) {
      // The second touch of a double tap finds another button where the first was.
      this.answers.take(id, () => this.hands.answer(what, this.entries.find((entry) => entry.id === id)));
    } else if (button.classList.contains("say-eggs")) {
      this.eggs.say(true);
    }
  }

  // False where something was begun that would be lost by going on; it is said beside its field.
  isWhole() {
    return this.eggs.isWhole() && this.water.isWhole();
  }

  submitted(event) {
    event.preventDefault();
    // The second touch of a double tap comes while the first one is being kept. Another button, or the same one of
    // another box, is not that.
    const { className = "", value = "" } = event.submitter ?? {};
    this.presses.take(`${this.key} ${className} ${value}`, () => this.pressed(event));
  }

  async pressed(event) {
    if (event.submitter?.classList.contains("by-enter")) {
      await this.commit();
    } else if (event.submitter?.value === "all-well") {
      const { round, key, clutch } = this;
      const { label, lidOnly } = this.article.dataset;
      const here = location.pathname;
      await this.commit();
      if (!this.isWhole()) {
        return;
      }
      const fields = { all_well: true, ...clutch, ...(lidOnly ? { through_lid: true } : {}) };
      await this.hands.next(key, `${label}: all well.`, await this.hands.add(round, key, fields), here);
    } else {
      await this.hands.next(this.key);
    }
  }
}
