// A photo field: shows what was taken, made small and upright, before it is sent.

const LONGEST_SIDE_PX = 2000;
const taken = new WeakMap();

/** The photo that was taken in a field, as a small JPEG; the file itself where this browser cannot read it; or null. */
export async function takenPhoto(input) {
  return (input && (await taken.get(input))) || null;
}

async function small(file, canvas) {
  try {
    const image = await createImageBitmap(file, { imageOrientation: "from-image" });
    const scale = Math.min(1, LONGEST_SIDE_PX / Math.max(image.width, image.height));
    canvas.width = Math.round(image.width * scale);
    canvas.height = Math.round(image.height * scale);
    canvas.getContext("2d").drawImage(image, 0, 0, canvas.width, canvas.height);
    canvas.hidden = false;
    return await new Promise((done) => canvas.toBlob((blob) => done(blob || file), "image/jpeg", 0.88));
  } catch {
    return file;
  }
}

document.addEventListener("change", ({ target }) => {
  if (!target.matches(".photo-field [name=photo]")) return;
  const field = target.closest(".photo-field");
  const [file] = target.files;
  field.querySelector("canvas").hidden = true;
  taken.set(target, file ? small(file, field.querySelector("canvas")) : null);
  field.querySelector("label span").textContent = file ? "Photo taken: take another" : "Take a photo";
});
