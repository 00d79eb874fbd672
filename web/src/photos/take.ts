// From the camera to the database: made smaller, named by its content once, kept in pieces.
// Must not know: how it is sent.
import { db, CHUNK_BYTES, isFull } from "../db";
import { look } from "../room";
import { act, me, offset } from "../state";

const SIDE_MAX = 2_048;
const QUALITY = 0.8;

export interface Picture {
  sha256: string;
  mime: string;
  bytes: number;
  taken_at: number;
}

/** The picture was not kept because the phone is full, or nearly so. */
export class NoRoom extends Error {
  override name = "NoRoom";
}

/** Keeps the picture on this phone, whole or not at all. Throws `NoRoom`, or another error when it is no picture. */
export async function keep(file: Blob): Promise<Picture> {
  if (await look()) {
    // Pictures that the server has make room first.
    await db.makeRoom("photos");
    if (await look()) throw new NoRoom();
  }
  const blob = await smaller(file);
  const data = await blob.arrayBuffer();
  const sha256 = hex(await crypto.subtle.digest("SHA-256", data));
  const taken_at = Date.now() + offset.peek();
  const row = {
    sha256,
    mime: blob.type,
    bytes: data.byteLength,
    chunks: Math.max(1, Math.ceil(data.byteLength / CHUNK_BYTES)),
    person: me.peek()?.person ?? "",
    taken_at,
    sent: false,
  };
  await db.putPhoto(row, data).catch((error: unknown) => {
    throw isFull(error) ? new NoRoom() : error;
  });
  void look();
  return { sha256, mime: blob.type, bytes: data.byteLength, taken_at };
}

/** Keeps it and says in the shop's log that it was taken. */
export async function photograph(file: Blob, of: { order: string; card?: string; handoff?: string }): Promise<string> {
  const { sha256, mime, bytes, taken_at } = await keep(file);
  return act("photo", { ...of, sha256, mime, bytes, taken_at });
}

async function smaller(file: Blob): Promise<Blob> {
  // The browser turns the picture upright by itself; the drawn copy carries no location.
  const picture = await createImageBitmap(file, { imageOrientation: "from-image" });
  try {
    const scale = Math.min(1, SIDE_MAX / Math.max(picture.width, picture.height));
    const canvas = document.createElement("canvas");
    canvas.width = Math.round(picture.width * scale);
    canvas.height = Math.round(picture.height * scale);
    const pen = canvas.getContext("2d");
    if (!pen) throw new Error("This browser cannot draw pictures.");
    pen.drawImage(picture, 0, 0, canvas.width, canvas.height);
    const blob = await new Promise<Blob | null>((done) => canvas.toBlob(done, "image/jpeg", QUALITY));
    if (!blob) throw new Error("The picture could not be made smaller.");
    return blob;
  } finally {
    picture.close();
  }
}

const hex = (bytes: ArrayBuffer): string =>
  [...new Uint8Array(bytes)].map((byte) => byte.toString(16).padStart(2, "0")).join("");
