// Where a photo's picture is, in words; and what was marked on it.
// Must not know: how a picture is fetched or drawn.
import type { Photo } from "../../api/types";
import { me, t } from "../../state";
import { at, person, title } from "../../text/sentences";

export const photoSaid = (photo: Photo): string => {
  const said = t("photo-by", { person: person(photo.by), at: at(photo.taken_at) });
  return photo.card ? `${said} ${title(photo.card)}.` : said;
};

/** Nothing once the server has it; `kept`: its bytes are on this phone. */
export function whereIs(photo: Photo, kept: boolean): string {
  if (photo.here) return "";
  if (photo.erased) return t("photo-erased");
  if (kept) return t("photo-on-this-phone");
  return photo.by === me.value?.person ? t("photo-on-own-phone") : t("photo-on-phone-of", { person: person(photo.by) });
}
