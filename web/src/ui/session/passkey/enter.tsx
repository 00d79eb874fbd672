// On the sign-in screen: by a passkey, or why there is none here.
import { t } from "../../../state";
import { trying } from "../session";
import { loadWords } from "../../../text/words";
import { byAddress, canHere, signIn } from "./key";

await loadWords("passkey");

export function ByPasskey({ busy, run }: { busy: boolean; run: (signIn: () => Promise<boolean>) => Promise<void> }) {
  if (byAddress()) return <p class="quiet">{t("passkeys-by-address", { host: location.hostname })}</p>;
  if (!canHere()) return null;
  return (
    <div class="stack">
      <h2>{t("by-passkey")}</h2>
      <p>{t("by-passkey-how")}</p>
      <button class="button full" type="button" disabled={busy} onClick={() => void run(() => trying(signIn))}>
        {t("by-passkey-do")}
      </button>
    </div>
  );
}
