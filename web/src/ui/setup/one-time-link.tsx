// A link that signs in once: as a picture for a camera and as text.
import { useSignal } from "@preact/signals";
import type { Invitation } from "../../api/client";
import { now, t } from "../../state";
import { copy } from "../kit/copy";
import { tongue, zone } from "../../text/names";
import { when } from "../../text/time";

interface Props {
  title: string;
  intro: string;
  make: () => Promise<Invitation>;
  /** What to do with the code; `time` is until when. */
  scan: (time: string) => string;
  once: string;
}

export function OneTimeLink({ title, intro, make, scan, once }: Props) {
  const made = useSignal<Invitation | undefined>(undefined);
  const failed = useSignal<string | undefined>(undefined);
  const copied = useSignal(false);
  const invite = (): void => {
    failed.value = undefined;
    copied.value = false;
    make().then(
      (invitation) => {
        made.value = invitation;
      },
      (error: unknown) => {
        failed.value = (error as Error).message;
      },
    );
  };
  const link = made.value;
  return (
    <section class="stack">
      <h2>{title}</h2>
      <p>{intro}</p>
      {failed.value && (
        <p class="notice-line bad" role="alert">
          {failed.value}
        </p>
      )}
      {link && (
        <div class="invitation">
          <img
            class="qr-code"
            alt={t("setup-invite-qr")}
            src={`data:image/svg+xml;utf8,${encodeURIComponent(link.qr_svg)}`}
          />
          <div class="stack-small">
            <p>{scan(when(link.expires_at, now.value, tongue.value, zone.value))}</p>
            <p>
              <output class="link-text">{link.link}</output>
            </p>
            <button
              class="button small-button"
              onClick={() =>
                void copy(link.link).then((done) => {
                  copied.value = done;
                })
              }
            >
              {t(copied.value ? "setup-copied" : "setup-copy")}
            </button>
            <p class="quiet small">{once}</p>
          </div>
        </div>
      )}
      <button class="button" onClick={invite}>
        {t(link ? "setup-invite-again" : "setup-invite-make")}
      </button>
    </section>
  );
}
