// Makes a photo small before it is kept and sent: a phone's own has many times the bytes that anybody looks at.

import { mark } from "./round-entered.js";

const LONGEST_SIDE = 1_600;
const QUALITY = 0.8;
const LARGEST_BYTES = 60_000_000;

// Gives the bytes of a JPEG. Raises an error whose message says to a person what is wrong.
export async function smallPhoto(file) {
  if (file.size > LARGEST_BYTES) {
    throw new Error(`The file has ${Math.round(file.size / 1e6)} MB, too many for a photo. Take it anew.`);
  }
  let picture;
  try {
    picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  } catch {
    throw new Error("This is no photo that can be read here. Take one with the camera: JPEG, PNG or WebP.");
  }
  const scale = Math.min(1, LONGEST_SIDE / Math.max(picture.width, picture.height));
  const canvas = document.createElement("canvas");
  canvas.width = Math.max(1, Math.round(picture.width * scale));
  canvas.height = Math.max(1, Math.round(picture.height * scale));
  canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
  picture.close();
  const blob = await new Promise((resolve) => canvas.toBlob(resolve, "image/jpeg", QUALITY));
  if (blob === null) {
    throw new Error("The photo could not be made smaller here. Take it anew.");
  }
  return blob.arrayBuffer();
}

// The camera may be open while the box is shown anew. What it gives then belongs to the box that the control was of.
export function heldOpen(box) {
  const control = box.control("photo");
  if (control && !control.dataset.held) {
    const { round, key, clutch } = box;
    control.dataset.held = "yes";
    control.addEventListener("change", () => control.isConnected || box.takePhoto(control, { round, key, clutch }));
  }
}

// Says how many photos of a box are kept here and not sent yet, so that nobody takes them again.
export function showWaiting(box, photos) {
  const place = box.article.querySelector("[data-field=photo]");
  const here = photos.filter((each) => each.box === box.key && each.round === box.round && each.status === "waiting");
  place?.querySelector(".waits")?.remove();
  if (place && here.length) {
    const line = document.createElement("p");
    line.className = "waits";
    line.append(mark("gap"), here.length === 1 ? " 1 photo is kept here and waits to be sent." : ` ${here.length} photos are kept here and wait to be sent.`);
    place.append(line);
  }
}
