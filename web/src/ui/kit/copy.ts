// To the clipboard; on addresses without https browsers have none, and the old way still works.
export async function copy(text: string): Promise<boolean> {
  try {
    await navigator.clipboard.writeText(text);
    return true;
  } catch {
    const area = document.createElement("textarea");
    area.value = text;
    // A dialog that is open keeps the rest of the page from being selected.
    (document.querySelector("dialog[open]") ?? document.body).append(area);
    area.select();
    const done = document.execCommand("copy");
    area.remove();
    return done;
  }
}
