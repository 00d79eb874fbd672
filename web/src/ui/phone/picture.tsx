// A photo: from the server when it has arrived, else from this phone, else a word where it is.
import { useEffect } from "preact/hooks";
import { useSignal } from "@preact/signals";
import type { Photo } from "../../api/types";
import { db } from "../../db";
import { t } from "../../state";
import { at, person } from "./say";
import { say } from "./sheet";

export function Picture({ photo }: { photo: Photo }) {
  const own = useSignal<string | undefined>(undefined);
  useEffect(() => {
    if (photo.here) return undefined;
    let url: string | undefined;
    void db.photo(photo.sha256).then((kept) => {
      if (kept) own.value = url = URL.createObjectURL(kept.data);
    });
    return () => {
      if (url) URL.revokeObjectURL(url);
    };
  }, [photo.sha256, photo.here]);
  const said = t("photo-by", { person: person(photo.by), at: at(photo.taken_at) });
  const src = photo.here ? `/api/v1/photos/${photo.sha256}?size=small` : own.value;
  return (
    <figure class="picture">
      {src ? (
        <a href={photo.here ? `/api/v1/photos/${photo.sha256}` : src} target="_blank" rel="noopener">
          <img src={src} alt={said} loading="lazy" />
        </a>
      ) : (
        <p class="picture-not-here">{t("photo-on-other-phone")}</p>
      )}
      <figcaption class="quiet small">
        {said}
        {!photo.here && ` ${t("photo-not-sent")}`}
      </figcaption>
    </figure>
  );
}

/** Why a picture was not kept; what was typed beside it is. */
export function sayNotKept(error: unknown): void {
  say(t(error instanceof Error && error.name === "NoRoom" ? "photo-no-room" : "photo-not-kept"));
}

/** Opens the camera or the picture store; several at once are taken one after the other. */
export function CameraButton({ onPicture, label }: { onPicture: (file: File) => void; label?: string }) {
  return (
    <label class="button camera">
      {label ?? t("photo")}
      <input
        class="visually-hidden"
        type="file"
        accept="image/*"
        capture="environment"
        onChange={(event) => {
          const input = event.currentTarget;
          for (const file of input.files ?? []) onPicture(file);
          input.value = "";
        }}
      />
    </label>
  );
}
