// The water that was added to a box: typed, or by steps that a thumb can hit.

export class WaterOfBox {
  constructor(box) {
    this.box = box;
  }

  say(control) {
    const { box } = this;
    const field = box.control("water_ml");
    const [ml, where] = [read(field), box.chosen("water_where")];
    const wrong = this.wrong(field, ml);
    box.tell("water_ml", wrong);
    if (ml === 0) {
      return box.unsay("water_ml");
    }
    if (!wrong) {
      return box.say(control, { water_ml: ml, ...(where ? { water_where: where } : {}) }, "water_ml");
    }
    return undefined;
  }

  // A number whose field nobody has left yet; `stands` is what is kept of it.
  keep(stands) {
    const field = this.box.control("water_ml");
    return field && !this.wrong(field) && read(field) !== Number(stands) ? this.say(field) : undefined;
  }

  // What the service would not take is told before it is kept.
  wrong(field, ml = read(field)) {
    const most = Number(field.dataset.most);
    if (!Number.isFinite(ml)) {
      return `Not kept: ${field.value.trim().slice(0, 20)} is no number of ml. Write it in digits, such as 40.`;
    }
    return ml < 0 || ml > most ? `Not kept: ${ml} ml. Give more than 0 and at most ${most} ml, or leave it empty.` : "";
  }

  get isWrong() {
    const field = this.box.control("water_ml");
    return field !== null && this.wrong(field) !== "";
  }

  // False where water was typed that is not kept; says so once more where somebody looks.
  isWhole() {
    const field = this.box.control("water_ml");
    const wrong = field && this.box.hands.me.may ? this.wrong(field) : "";
    if (wrong) {
      this.box.tell("water_ml", wrong);
      field.scrollIntoView({ block: "center" });
    }
    return !wrong;
  }

  step(button) {
    const field = this.box.control("water_ml");
    const ml = read(field) || 0;
    field.value = button.dataset.ml === "clear" ? "" : String(ml + Number(button.dataset.ml));
    this.say(field);
  }
}

// A comma is as good as a point, and the unit may stand behind it. Nothing typed is 0.
function read(field) {
  return Number(field.value.trim().replace(/\s*ml$/i, "").replace(",", "."));
}
