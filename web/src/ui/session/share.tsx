// In "More": whether several people use this tablet, and when it locks.
import { useSignal } from "@preact/signals";
import { Failure } from "../../api/client";
import { me, shared, t } from "../../state";
import { OneOf } from "../kit/choices";
import { orSay } from "../kit/do";
import { say } from "../kit/sheet";
import { MINUTES, minutes, setMinutes, share, stopSharing } from "./unlock";

export default function Share() {
  const busy = useSignal(false);
  const who = me.value;
  if (!who) return null;
  const begin = async (): Promise<void> => {
    busy.value = true;
    try {
      await share(who);
    } catch (error) {
      say(error instanceof Failure && error.status !== 0 ? error.message : t("not-reached-now"));
    }
    busy.value = false;
  };
  if (!shared.value) {
    return (
      <div class="stack share">
        <h2>{t("share-tablet")}</h2>
        <p>{t("share-how")}</p>
        {/* The PIN is kept as a hash, which browsers make on secure addresses only. */}
        {globalThis.isSecureContext ? (
          <button class="button" disabled={busy.value} onClick={() => void begin()}>
            {t("share-begin")}
          </button>
        ) : (
          <p class="notice-line">{t("share-insecure")}</p>
        )}
      </div>
    );
  }
  return (
    <div class="stack">
      <h2>{t("share-tablet")}</h2>
      <p>{t("share-on")}</p>
      <OneOf
        legend={t("locks-after")}
        of={MINUTES.map(String)}
        words={(one) => t("minutes-count", { count: Number(one) })}
        value={String(minutes.value)}
        onChange={(to) => orSay(setMinutes(Number(to)))}
      />
      <button class="button" onClick={() => orSay(stopSharing())}>
        {t("share-end")}
      </button>
    </div>
  );
}
