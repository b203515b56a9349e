// The water that was added to a box: typed, or by steps that a thumb can hit.

export class WaterOfBox {
  constructor(box) {
    this.box = box;
  }

  say(control) {
    const { box } = this;
    const field = box.control("water_ml");
    const typed = field.value.trim();
    const [ml, most] = [Number(typed.replace(",", ".")), Number(field.dataset.most)];
    const where = box.chosen("water_where");
    const wrong = this.wrong(typed, ml, most);
    box.tell("water_ml", wrong);
    if (typed === "" || ml === 0) {
      box.unsay("water_ml");
    } else if (!wrong) {
      box.say(control, { water_ml: ml, ...(where ? { water_where: where } : {}) }, "water_ml");
    }
  }

  // What the service would not take is told before it is kept.
  wrong(typed, ml, most) {
    if (!Number.isFinite(ml)) {
      return `${typed.slice(0, 20)} is no number of ml. Write it in digits, such as 40.`;
    }
    return ml < 0 || ml > most ? `Not kept: ${ml} ml. Give more than 0 and at most ${most} ml, or leave it empty.` : "";
  }

  step(button) {
    const field = this.box.control("water_ml");
    const ml = Number(field.value.trim().replace(",", ".")) || 0;
    field.value = button.dataset.ml === "clear" ? "" : String(ml + Number(button.dataset.ml));
    this.say(field);
  }
}
