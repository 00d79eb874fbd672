// A photo: from the server when it has arrived, else from this phone, else a word where it is.
import "./picture.css";
import { useEffect } from "preact/hooks";
import { useSignal } from "@preact/signals";
import type { Photo } from "../../api/types";
import { db } from "../../db";
import { t } from "../../state";
import { photoSaid, whereIs } from "./photo";
import { person } from "../../text/sentences";
import { say } from "./sheet";

/**
 * Where the picture is to be had. A large one that cannot be fetched now may be on the phone still, small.
 */
export function usePicture(
  photo: Photo,
  large = false,
): { src: string | undefined; kept: boolean; failed: () => void } {
  const own = useSignal<string | undefined>(undefined);
  const fails = useSignal(0);
  useEffect(() => {
    let url: string | undefined;
    let gone = false;
    // Without its own copy the phone shows the shop's.
    db.photo(photo.sha256).then(
      (kept) => {
        if (kept && !gone && !photo.erased) own.value = url = URL.createObjectURL(kept.data);
      },
      () => undefined,
    );
    return () => {
      gone = true;
      if (url) URL.revokeObjectURL(url);
    };
  }, [photo.sha256]);
  const served = photo.here
    ? [...(large ? [""] : []), "?size=small"].map((size) => `/api/v1/photos/${photo.sha256}${size}`)
    : [];
  return { src: own.value ?? served[fails.value], kept: own.value !== undefined, failed: () => void fails.value++ };
}

export function Picture({ photo }: { photo: Photo }) {
  const { src, kept, failed } = usePicture(photo);
  const where = whereIs(photo, kept);
  const marked = (photo.marks ?? []).map((own) => person(own.by));
  return (
    <figure class="picture">
      <a href={`/photo/${photo.id}`}>
        {src ? (
          <img src={src} alt={photoSaid(photo)} loading="lazy" onError={failed} />
        ) : (
          <p class="picture-not-here">{where || t("photo-not-reached")}</p>
        )}
      </a>
      <figcaption class="quiet small">
        {photoSaid(photo)}
        {marked.length > 0 && ` ${t("marked", { people: marked.join(", ") })}`}
        {src && where && <strong> {where}</strong>}
      </figcaption>
    </figure>
  );
}

/** Why a picture was not kept; what was typed beside it is. */
export function sayNotKept(error: unknown): void {
  say(t(error instanceof Error && error.name === "NoRoom" ? "photo-no-room" : "photo-not-kept"));
}

/** Opens the camera or the picture store; several at once are taken one after the other. */
export function CameraButton({
  onPicture,
  label,
  album = false,
  mark = false,
}: {
  onPicture: (file: File) => void;
  label?: string;
  album?: boolean;
  mark?: boolean;
}) {
  return (
    <label class="button camera">
      {mark && (
        <svg viewBox="0 0 32 26" width="32" height="26" aria-hidden="true">
          <path d="M2 6H9L12 2H20L23 6H30V24H2ZM16 9a6 6 0 1 0 .01 0Z" />
        </svg>
      )}
      {label ?? t("photo")}
      <input
        class="visually-hidden"
        type="file"
        accept="image/*"
        {...(album ? { multiple: true } : { capture: "environment" as const })}
        onChange={(event) => {
          const input = event.currentTarget;
          for (const file of input.files ?? []) onPicture(file);
          input.value = "";
        }}
      />
    </label>
  );
}
